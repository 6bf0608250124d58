import type { Device, Rule } from '../device/device-types.ts';
import { readInstantMs } from '../units/iso-time.ts';
import type { RoomLimits } from './frozen-types.ts';
import type { RoomState } from './room-state.ts';
import { standRecords } from './stand-records.ts';

/** A total against the signed rule. Missing is not zero: null when nobody logged it. */
export interface TotalOf {
  readonly value: number | null;
  readonly unit: 'mL' | 'mGy' | 'Gy.cm2' | 'min';
  readonly limit: number | null;
  /** Up to the limit; negative past it. */
  readonly left: number | null;
  readonly state: 'within' | 'past' | 'no limit' | 'not logged';
  /** The limit is of memory or common practice (status M). */
  readonly isUnverified: boolean;
}
/** Times in s, of the server's clock. */
export interface RoomTimers {
  /** null: no tap says anything about pacing. */
  readonly pacing: { readonly isOn: boolean; readonly ratePerMin: number | null; readonly forS: number; readonly onTotalS: number; readonly runs: number } | null;
  /**
   * Since full release; the wait for expansion beside it. `leftS` null: a balloon-expandable frame does not wait, or the
   * rules hold no wait.
   */
  readonly release: { readonly sinceS: number; readonly waitS: number | null; readonly leftS: number | null; readonly isOver: boolean | null; readonly isUnverified: boolean } | null;
  readonly heparin: { readonly totalUnits: number; readonly lastUnits: number; readonly sinceS: number } | null;
  /** `isBelow` null: no rule. `isBeforeHeparin`: heparin was given after it, so that it does not tell what is now. */
  readonly act: { readonly seconds: number; readonly sinceS: number; readonly leastS: number | null; readonly isBelow: boolean | null; readonly isBeforeHeparin: boolean; readonly isUnverified: boolean } | null;
  readonly contrast: TotalOf;
  readonly airKerma: TotalOf;
  readonly doseArea: TotalOf;
  readonly fluoroscopy: TotalOf;
}

/**
 * Times and totals of the room at `nowMs` (ms since 1970, the server's clock). Running times never go below zero: a tap
 * whose page was a little ahead counts as made now.
 * Fails    never
 * Source   docs/methods/room-log.md
 */
export function computeRoomTimers(room: RoomState, plan: { readonly limits: RoomLimits; readonly device: Pick<Device, 'kind'> } | null, nowMs: number): RoomTimers {
  const since = (at: string): number => Math.max(0, nowMs - readInstantMs(at)) / 1000;
  const limits = plan?.limits ?? null;
  const { entries } = standRecords(room.records);
  const hasContrast = entries.some(({ entry }) => entry.is === 'contrast');
  return {
    pacing: timePacing(room, entries.flatMap(({ entry, at }) => (entry.is === 'pacing' ? [{ isOn: entry.isOn, atMs: readInstantMs(at) }] : [])), nowMs),
    release: timeRelease(room, plan?.device.kind === 'self-expanding' ? plan.limits.expansionWaitS : null, since),
    heparin: timeHeparin(room, since),
    act: timeAct(room, limits?.actLeastS ?? null, since),
    contrast: compareTotal(hasContrast ? room.contrastMl : null, 'mL', limits?.contrastMostMl ?? null),
    airKerma: compareTotal(room.radiation?.airKermaMGy ?? null, 'mGy', limits?.airKermaMostMGy ?? null),
    doseArea: compareTotal(room.radiation?.doseAreaGyCm2 ?? null, 'Gy.cm2', limits?.doseAreaMostGyCm2 ?? null),
    fluoroscopy: compareTotal(room.radiation?.fluoroscopyMin ?? null, 'min', null),
  };
}

function timePacing(room: RoomState, taps: readonly { readonly isOn: boolean; readonly atMs: number }[], nowMs: number): RoomTimers['pacing'] {
  if (room.pacing === null) return null;
  let [onMs, runs] = [0, 0];
  let beganMs: number | null = null;
  // "On" twice, with another rate or by two people, is one run.
  let turnedMs = taps[0]?.atMs ?? nowMs;
  for (const { isOn, atMs } of taps) {
    if (isOn && beganMs === null) {
      [beganMs, turnedMs] = [atMs, atMs];
      runs += 1;
    } else if (!isOn && beganMs !== null) {
      onMs += Math.max(0, atMs - beganMs);
      [beganMs, turnedMs] = [null, atMs];
    }
  }
  if (beganMs !== null) onMs += Math.max(0, nowMs - beganMs);
  return { isOn: room.pacing.isOn, ratePerMin: room.pacing.ratePerMin, forS: Math.max(0, nowMs - turnedMs) / 1000, onTotalS: onMs / 1000, runs };
}

function timeRelease(room: RoomState, wait: Rule | null, since: (at: string) => number): RoomTimers['release'] {
  if (room.releasedAt === null) return null;
  const sinceS = since(room.releasedAt);
  const leftS = wait ? Math.max(0, wait.value - sinceS) : null;
  return { sinceS, waitS: wait?.value ?? null, leftS, isOver: leftS === null ? null : leftS === 0, isUnverified: wait?.status === 'M' };
}

function timeHeparin(room: RoomState, since: (at: string) => number): RoomTimers['heparin'] {
  const last = room.heparin.at(-1);
  return last ? { totalUnits: room.heparin.reduce((sum, h) => sum + h.units, 0), lastUnits: last.units, sinceS: since(last.at) } : null;
}

function timeAct(room: RoomState, least: Rule | null, since: (at: string) => number): RoomTimers['act'] {
  const last = room.act.at(-1);
  if (!last) return null;
  const isBelow = least === null ? null : last.seconds < least.value || (least.strict && last.seconds === least.value);
  return { seconds: last.seconds, sinceS: since(last.at), leastS: least?.value ?? null, isBelow, isBeforeHeparin: room.heparin.some((h) => h.at > last.at), isUnverified: least?.status === 'M' };
}

/** Sums of decimals differ from what a person adds by the last bit (0.1 + 0.2): that is not past a limit. */
const SUM_TOLERANCE = 1e-9;
function compareTotal(value: number | null, unit: TotalOf['unit'], rule: Rule | null): TotalOf {
  const limit = rule?.value ?? null;
  const isUnverified = rule?.status === 'M';
  const left = limit === null || value === null ? null : limit - value;
  if (value === null) return { value, unit, limit, left, state: 'not logged', isUnverified };
  if (left === null) return { value, unit, limit, left, state: 'no limit', isUnverified };
  const isPast = rule!.strict ? left <= SUM_TOLERANCE : left < -SUM_TOLERANCE;
  return { value, unit, limit, left, state: isPast ? 'past' : 'within', isUnverified };
}
