/** Exit codes of every verb (contract, "Exit codes, output, errors"). */
export const EXIT = { answered: 0, usage: 2, refused: 3, defect: 4, unreachable: 5 } as const;

const USAGE = new Set(['port-taken', 'origin-missing', 'origin-wrong', 'oidc-file-wrong', 'out-folder-holds-answer', 'out-folder-holds-other-files', 'out-folder-is-file', 'data-not-of-demo']);
const UNREACHABLE = new Set(['store-unreachable', 'oidc-unreachable']);
/** Exit code of a desk that could not be opened. */
export const exitOfDesk = (code: string): number => (USAGE.has(code) ? EXIT.usage : UNREACHABLE.has(code) ? EXIT.unreachable : code === 'defect' ? EXIT.defect : EXIT.refused);
