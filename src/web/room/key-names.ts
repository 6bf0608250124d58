/** One key, one tap, on the desk's page; shown on the buttons themselves. */
export const KEY_OF = { nextPhase: 'N', pacing: 'P', movedUp: 'U', movedDown: 'D', recaptured: 'R', undo: 'Z' } as const;
