import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { chooseAnchor, correctTap, estimateServerTime, makeAnchor, readJump, type ClockAnchor, type PageTime } from './room-clock.ts';

const MINUTE = 60_000;
const at = (monoMs: number, wallMs: number): PageTime => ({ monoMs, wallMs });
/** The page's wall clock is 40 s behind the server's; the answer took 20 ms. */
const ANCHOR: ClockAnchor = makeAnchor(at(1000, 1_000_000), at(1020, 1_000_020), 1_040_010);
const record = (change: Partial<RoomRecord>): RoomRecord => ({
  entryId: 'entry-1', clientId: 'page-1', place: 'desk', count: 1, monotonicMs: 2000, clientAt: new Date(1_001_000).toISOString(), happenedAt: new Date(1_001_000).toISOString(),
  offset: null, corrects: null, entry: { is: 'note', text: 'x' }, ...change,
});

describe(`time of the server on a page (seed ${seed})`, () => {
  test('is the answer in the middle of its way, and half the way is its doubt', () => {
    expect(ANCHOR).toEqual({ monoMs: 1010, wallMs: 1_000_010, serverMs: 1_040_010, withinMs: 10 });
    expect(estimateServerTime(ANCHOR, at(1010 + MINUTE, 1_000_010 + MINUTE))).toEqual({ atMs: 1_040_010 + MINUTE, offset: { addedMs: 40_000, withinMs: 16 } }); // 10 + 60 s x 1e-4
  });

  test('is the page’s own while it was never compared', () => {
    expect(estimateServerTime(null, at(5, 77))).toEqual({ atMs: 77, offset: null });
  });

  test('follows the monotonic clock when somebody sets the wall clock back, and says how unsure that is', () => {
    const now = at(1010 + MINUTE, 1_000_010 + MINUTE - 37_000);
    expect(readJump(ANCHOR, now)).toBe(-37_000);
    const { atMs, offset } = estimateServerTime(ANCHOR, now);
    expect(atMs).toBe(1_040_010 + MINUTE);
    expect(offset!.withinMs).toBeGreaterThanOrEqual(37_000);
  });

  test('counts a sleep, in which the monotonic clock stood still', () => {
    const { atMs, offset } = estimateServerTime(ANCHOR, at(1010 + 1000, 1_000_010 + 1000 + 5 * MINUTE));
    expect(atMs).toBe(1_040_010 + 1000 + 5 * MINUTE);
    expect(offset!.withinMs).toBeGreaterThanOrEqual(5 * MINUTE);
  });

  test('a small step of the wall clock (its own correction) is no jump', () => {
    expect(readJump(ANCHOR, at(1010 + MINUTE, 1_000_010 + MINUTE + 400))).toBe(0);
  });

  test('lies within its doubt of the truth, whatever way the answer took', () => {
    fc.assert(fc.property(fc.double({ min: 0, max: 5000, noNaN: true }), fc.double({ min: 0, max: 5000, noNaN: true }), fc.integer({ min: -1e9, max: 1e9 }), fc.integer({ min: 0, max: 3_600_000 }), (outMs, backMs, aheadMs, laterMs) => {
      const start = 1_700_000_000_000;
      const anchor = makeAnchor(at(0, start), at(outMs + backMs, start + outMs + backMs), start + aheadMs + outMs);
      const { atMs, offset } = estimateServerTime(anchor, at(outMs + backMs + laterMs, start + outMs + backMs + laterMs));
      const truth = start + aheadMs + outMs + backMs + laterMs;
      expect(Math.abs(atMs - truth)).toBeLessThanOrEqual(offset!.withinMs + 1); // 1: both are whole ms
    }), replay);
  });

  test('of two comparisons the narrower is kept, but none from before a jump', () => {
    const wide = makeAnchor(at(5000, 1_004_000), at(6000, 1_005_000), 1_044_500);
    expect(chooseAnchor(ANCHOR, wide)).toBe(ANCHOR);
    expect(chooseAnchor(wide, ANCHOR)).toBe(ANCHOR);
    const afterSleep = makeAnchor(at(5000, 1_304_000), at(6000, 1_305_000), 1_344_500);
    expect(chooseAnchor(ANCHOR, afterSleep)).toBe(afterSleep);
  });
});

describe('a tap that waited for the server', () => {
  test('gets the time of the comparison that came after it; its raw times stay', () => {
    const tap = record({ monotonicMs: 510, clientAt: new Date(999_510).toISOString(), happenedAt: new Date(999_510).toISOString() });
    const corrected = correctTap(tap, ANCHOR);
    expect(corrected).toEqual({ ...tap, happenedAt: new Date(1_039_510).toISOString(), offset: { addedMs: 40_000, withinMs: 11 } });
  });

  test('keeps its own time when that is the better one, when a jump lies between, or without a comparison', () => {
    const known = record({ offset: { addedMs: 40_000, withinMs: 3 }, happenedAt: new Date(1_041_000).toISOString() });
    expect(correctTap(known, ANCHOR)).toBe(known);
    const slept = record({ clientAt: new Date(700_000).toISOString() });
    expect(correctTap(slept, ANCHOR)).toBe(slept);
    expect(correctTap(slept, null)).toBe(slept);
  });
});
