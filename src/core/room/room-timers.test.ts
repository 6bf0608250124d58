import { describe, expect, test } from 'vitest';
import type { Rule } from '../device/device-types.ts';
import { foldRoom } from './fold-room.ts';
import type { RoomLimits } from './frozen-types.ts';
import { computeRoomTimers, type RoomTimers } from './room-timers.ts';
import type { RoomEntry, RoomRecord } from './room-types.ts';

const START = Date.UTC(2026, 2, 2, 9);
const at = (second: number): string => new Date(START + second * 1000).toISOString();
/** Entries at seconds, corrected or not. */
function timers(taps: readonly (readonly [number, RoomEntry | null, corrects?: number])[], nowS: number, plan: Parameters<typeof computeRoomTimers>[1] = PLAN): RoomTimers {
  const records = taps.map(([second, entry, corrects], i): RoomRecord => ({ entryId: `tap-${i}`, clientId: 'page-a', place: 'desk', count: i + 1, monotonicMs: second * 1000, clientAt: at(second), happenedAt: at(second), offset: null, corrects: corrects === undefined ? null : `tap-${corrects}`, entry }));
  return computeRoomTimers(foldRoom(records), plan, START + nowS * 1000);
}
const rule = (value: number, unit: string, more: Partial<Rule> = {}): Rule => ({ code: 'x', value, unit, strict: false, definition: '', edition: '', source: '', status: 'M', ...more });
const LIMITS: RoomLimits = {
  depthOldS: null, depthGoneS: null, expansionWaitS: rule(600, 's'), contrastMostMl: rule(100, 'mL'), airKermaMostMGy: rule(2000, 'mGy', { status: 'V' }), doseAreaMostGyCm2: null,
  actLeastS: rule(250, 's'), recaptureAttempts: null, inspectAfter: null, replaceAfter: null,
};
const PLAN = { limits: LIMITS, device: { kind: 'self-expanding' as const } };
const on: RoomEntry = { is: 'pacing', isOn: true, ratePerMin: 120 };
const off: RoomEntry = { is: 'pacing', isOn: false, ratePerMin: null };
const released: RoomEntry = { is: 'phase', phase: 'released' };

describe('pacing', () => {
  test('two runs are summed, and a rate that was changed meanwhile begins none', () => {
    expect(timers([[10, on], [25, off], [100, on], [110, { ...on, ratePerMin: 180 }], [130, off]], 200).pacing).toEqual({ isOn: false, ratePerMin: null, forS: 70, onTotalS: 45, runs: 2 });
  });
  test('a run that goes on counts up to now', () => {
    expect(timers([[10, on]], 40.5).pacing).toMatchObject({ isOn: true, ratePerMin: 120, forS: 30.5, onTotalS: 30.5, runs: 1 });
  });
  test('what was taken back does not count; what was corrected counts from the time of the first tap', () => {
    expect(timers([[10, on], [20, null, 0]], 40).pacing).toBeNull();
    expect(timers([[10, off], [14, on, 0], [30, off]], 40).pacing).toMatchObject({ onTotalS: 20, runs: 1 });
  });
  test('a log that says nothing of pacing gives no zero', () => {
    expect(timers([], 40).pacing).toBeNull();
    expect(timers([[5, off]], 40).pacing).toMatchObject({ isOn: false, onTotalS: 0, runs: 0, forS: 35 });
  });
});

describe('release', () => {
  test('the wait runs down to zero and is then over, not before', () => {
    expect(timers([[100, released]], 699).release).toMatchObject({ sinceS: 599, waitS: 600, leftS: 1, isOver: false, isUnverified: true });
    expect(timers([[100, released]], 700).release).toMatchObject({ sinceS: 600, leftS: 0, isOver: true });
  });
  test('a balloon-expandable frame, or rules without a wait, have none', () => {
    for (const plan of [{ limits: LIMITS, device: { kind: 'balloon-expandable' as const } }, { ...PLAN, limits: { ...LIMITS, expansionWaitS: null } }, null]) {
      expect(timers([[100, released]], 800, plan).release).toMatchObject({ sinceS: 700, waitS: null, leftS: null, isOver: null });
    }
  });
  test('before release, and after a recapture, nothing runs', () => {
    expect(timers([[100, { is: 'phase', phase: 'releasing' }]], 200).release).toBeNull();
    expect(timers([[100, released], [150, { is: 'recaptured', isWhole: true }]], 200).release).toBeNull();
  });
  test('a tap of a page that was a little ahead counts as made now', () => {
    expect(timers([[100, released]], 99).release?.sinceS).toBe(0);
  });
});

describe('totals', () => {
  test('contrast: not logged is not zero; up to the limit is within; past it is past', () => {
    const ml = (...parts: number[]) => timers(parts.map((p, i) => [i, { is: 'contrast', ml: p }] as const), 99).contrast;
    expect(ml()).toEqual({ value: null, unit: 'mL', limit: 100, left: null, state: 'not logged', isUnverified: true });
    expect(ml(0)).toMatchObject({ value: 0, left: 100, state: 'within' });
    expect(ml(60, 40)).toMatchObject({ left: 0, state: 'within' });
    expect(ml(60, 40.5)).toMatchObject({ left: -0.5, state: 'past' });
    // 0.1 + 0.2 = 0.30000000000000004: the sum of the machine, not of the person.
    expect(timers([[1, { is: 'contrast', ml: 0.1 }], [2, { is: 'contrast', ml: 0.2 }]], 9, { ...PLAN, limits: { ...LIMITS, contrastMostMl: rule(0.3, 'mL') } }).contrast.state).toBe('within');
  });
  test('a strict limit is not satisfied by its own value', () => {
    const plan = { ...PLAN, limits: { ...LIMITS, contrastMostMl: rule(100, 'mL', { strict: true }) } };
    expect(timers([[1, { is: 'contrast', ml: 100 }]], 2, plan).contrast.state).toBe('past');
  });
  test('radiation as the machine shows it; without a rule it is shown alone', () => {
    const { airKerma, doseArea, fluoroscopy } = timers([[1, { is: 'radiation', airKermaMGy: 2400, doseAreaGyCm2: 90, fluoroscopyMin: null }]], 2);
    expect(airKerma).toEqual({ value: 2400, unit: 'mGy', limit: 2000, left: -400, state: 'past', isUnverified: false });
    expect(doseArea).toMatchObject({ value: 90, limit: null, state: 'no limit' });
    expect(fluoroscopy).toMatchObject({ value: null, state: 'not logged' });
  });
});

describe('heparin and clotting time', () => {
  test('doses are summed; a clotting time from before the last dose says so', () => {
    const { heparin, act } = timers([[0, { is: 'heparin', units: 5000 }], [300, { is: 'act', seconds: 240 }], [400, { is: 'heparin', units: 2000 }]], 460);
    expect(heparin).toEqual({ totalUnits: 7000, lastUnits: 2000, sinceS: 60 });
    expect(act).toEqual({ seconds: 240, sinceS: 160, leastS: 250, isBelow: true, isBeforeHeparin: true, isUnverified: true });
    expect(timers([[0, { is: 'heparin', units: 5000 }], [300, { is: 'act', seconds: 250 }]], 460).act).toMatchObject({ isBelow: false, isBeforeHeparin: false });
    expect(timers([[300, { is: 'act', seconds: 100 }]], 460, null).act).toMatchObject({ leastS: null, isBelow: null });
  });
});
