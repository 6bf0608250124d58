import { WORLDS, type WhatIfCode, type WhatIfWorld, type World } from '../release/release-types.ts';
import type { FrozenDocument } from './frozen-types.ts';
import type { RoomState } from './room-state.ts';
import type { CauseCode } from './room-types.ts';

/** One thing the team can change, with what the frozen plan's own forecast says of it in each friction world. */
export interface PossibleChange {
  readonly code: WhatIfCode;
  /** Causes that it touches, in the order of the board. */
  readonly touches: readonly CauseCode[];
  readonly worlds: Readonly<Record<World, WhatIfWorld>>;
}
export interface ChangeList {
  readonly plannedStartMm: number;
  /** Start that the last moved or running attempt had, where it was read and is not the planned one. */
  readonly otherStartMm: number | null;
  readonly changes: readonly PossibleChange[];
}

/** What can be changed at the table, in a fixed order; another ring width is no choice of the room. */
const TOUCHES: Readonly<Partial<Record<WhatIfCode, readonly CauseCode[]>>> = {
  'start-shallower': ['start-height', 'septal-bulge', 'calcium'],
  'start-deeper': ['start-height', 'septal-bulge', 'calcium'],
  'pace-80': ['no-pacing'],
  'pace-180': ['no-pacing'],
  predilated: ['calcium'],
  'not-predilated': ['calcium'],
  'tension-pulling': ['wire-bias'],
  'tension-pushing': ['wire-bias'],
  'wire-centred': ['wire-bias'],
  'size-smaller': ['undersized'],
  'size-larger': ['undersized', 'taper'],
};
const ORDER = Object.keys(TOUCHES) as readonly WhatIfCode[];
const SAME_START_MM = 0.5;

/**
 * What to change next: the frozen plan's what-ifs, none left out, none put first (job.md, E12). They are told from the
 * planned start; another start that was read is named, not corrected for.
 * Fails     never; empty when the plan holds none
 */
export function listChanges(frozen: Pick<FrozenDocument, 'plan' | 'choice'>, room: Pick<RoomState, 'attempts'>): ChangeList {
  const { release } = frozen.plan;
  const plannedStartMm = release?.startMm ?? frozen.choice.startMm;
  const read = room.attempts.at(-1)?.start?.reading.depthMm ?? null;
  const answers = new Map((release?.whatIfs ?? []).map((w) => [w.code, w.worlds] as const));
  return {
    plannedStartMm, otherStartMm: read !== null && Math.abs(read - plannedStartMm) >= SAME_START_MM ? read : null,
    changes: ORDER.flatMap((code): PossibleChange[] => {
      const worlds = answers.get(code);
      return worlds ? [{ code, touches: TOUCHES[code]!, worlds }] : [];
    }),
  };
}

/** Whether a change does anything that the draws can show in any world. */
export const isVisibleChange = (change: PossibleChange): boolean => WORLDS.some((w) => change.worlds[w].isVisible);
