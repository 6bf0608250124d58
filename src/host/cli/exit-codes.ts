/** Exit codes of every verb (contract, "Exit codes, output, errors"). */
export const EXIT = { answered: 0, usage: 2, refused: 3, defect: 4, unreachable: 5 } as const;
