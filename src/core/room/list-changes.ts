import type { StartForecast, WhatIfCode, WhatIfWorld, World } from '../release/release-types.ts';
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

/** The frozen forecast from one start depth. */
export interface StartLine {
  readonly forecast: StartForecast;
  /** The start that was planned; the one nearest to what was read last. */
  readonly isPlanned: boolean;
  readonly isRead: boolean;
}
/** How far from the start that was read, or planned, other starts are told, mm. */
const STARTS_ABOUT_MM = 3;

/**
 * What the frozen forecast says of every start depth about the one read last (none read: about the planned one), shallow to
 * deep, none put first.
 * Fails     never; empty when the plan holds no forecast
 */
export function listStarts(frozen: Pick<FrozenDocument, 'plan' | 'choice'>, room: Pick<RoomState, 'attempts'>): readonly StartLine[] {
  const sweep = frozen.plan.release?.sweep ?? [];
  const read = room.attempts.at(-1)?.start?.reading.depthMm ?? null;
  const centre = read ?? frozen.choice.startMm;
  const nearest = read === null ? null : sweep.reduce<StartForecast | null>((best, s) => (best === null || Math.abs(s.startMm - read) < Math.abs(best.startMm - read) ? s : best), null);
  return sweep
    .filter((s) => Math.abs(s.startMm - centre) <= STARTS_ABOUT_MM || s.startMm === frozen.choice.startMm)
    .map((forecast) => ({ forecast, isPlanned: forecast.startMm === frozen.choice.startMm, isRead: forecast === nearest && Math.abs(forecast.startMm - read!) <= SAME_START_MM }));
}
