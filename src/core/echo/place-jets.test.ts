import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { compareLeakSites } from '../verdict/compare-leak-sites.ts';
import type { EchoEntries } from './echo-fields.ts';
import { placeJets } from './place-jets.ts';

const arcOf = (entries: EchoEntries): readonly number[] | null => placeJets(entries, null).jets[0]!.arcDeg?.map((d) => Math.round(d * 1e6) / 1e6) ?? null;

describe('placeJets', () => {
  test('seen from the ventricle (R, L, N clockwise) azimuth rises with the hours', () => {
    expect(arcOf({ 'jet-1-from': 4, 'jet-1-to': 5, 'clock-r': 12, 'clock-next': 'L' })).toEqual([120, 150]); // at the L nadir and on
  });
  test('seen from the aorta (R, N, L clockwise) it falls, and the arc is turned round', () => {
    expect(arcOf({ 'jet-1-from': 4, 'jet-1-to': 5, 'clock-r': 12, 'clock-next': 'N' })).toEqual([210, 240]); // 4 h clockwise of R lies at N
  });
  test('both views of one leak give one place, and the forecast’s gap there is seen', () => {
    const below = placeJets({ 'jet-1-from': 7, 'jet-1-to': 8, 'clock-r': 0, 'clock-next': 'L' }, null).jets[0]!;
    const above = placeJets({ 'jet-1-from': 4, 'jet-1-to': 5, 'clock-r': 0, 'clock-next': 'N' }, null).jets[0]!;
    expect([below.arcDeg, below.cusp]).toEqual([above.arcDeg, above.cusp]);
    expect(below.cusp).toBe('N');
    const sites = compareLeakSites([{ cusp: 'N', fromDeg: 225, toDeg: 235, heightMm: 2, gapMm: 1 }], [{ cusp: below.cusp, arcDeg: below.arcDeg, by: 'a', at: '' }]);
    expect(sites.rows[0]!.state).toBe('seen here');
  });
  test('two or three commissures show the way round by themselves', () => {
    const below = { 'clock-n-r': 10, 'clock-r-l': 2, 'clock-l-n': 6 } as const;
    expect(arcOf({ 'jet-1-from': 10, 'jet-1-to': 2, ...below })).toEqual([300, 60]); // the whole R cusp, past 0
    const above = { 'clock-n-r': 8, 'clock-r-l': 4 } as const;
    expect(arcOf({ 'jet-1-from': 4, 'jet-1-to': 8, ...above })).toEqual([300, 60]);
  });
  test('between landmarks that stand unevenly hours are stretched evenly', () => {
    expect(arcOf({ 'jet-1-from': 1, 'jet-1-to': 1, 'clock-n-r': 10, 'clock-r-l': 1, 'clock-l-n': 6 })).toEqual([60, 60]);
    expect(arcOf({ 'jet-1-from': 11.5, 'jet-1-to': 11.5, 'clock-n-r': 10, 'clock-r-l': 1, 'clock-l-n': 6 })).toEqual([0, 0]); // half way through R
  });
  test('the commissures of the CT replace the even ones', () => {
    const placed = placeJets({ 'jet-1-from': 2, 'jet-1-to': 2, 'clock-r-l': 2, 'clock-n-r': 10 }, { rightLeft: 70, leftNon: 190, nonRight: 295 });
    expect(placed.jets[0]!.arcDeg![0]).toBeCloseTo(70, 9);
  });
  test('without a landmark, or with one and no way round, only the cusp is known', () => {
    expect(placeJets({ 'jet-1-from': 4, 'jet-1-to': 5, 'jet-1-cusp': 'L' }, null)).toMatchObject({ clock: 'no landmark', jets: [{ cusp: 'L', arcDeg: null }] });
    expect(placeJets({ 'jet-1-from': 4, 'jet-1-to': 5, 'clock-r': 12 }, null).clock).toBe('no landmark');
  });
  test('landmarks that stand as no three cusps can are refused', () => {
    expect(placeJets({ 'jet-1-from': 4, 'jet-1-to': 5, 'clock-r-l': 1, 'clock-l-n': 2, 'clock-n-r': 3 }, null).clock).toBe('no order');
    expect(placeJets({ 'jet-1-from': 4, 'jet-1-to': 5, 'clock-n-r': 10, 'clock-r-l': 2, 'clock-next': 'N' }, null).clock).toBe('no order');
  });
  test('extent on the clock: overlaps count once, 0 to 12 is the whole round', () => {
    const percent = (entries: EchoEntries): number => placeJets(entries, null).extentPercent!.value;
    expect(percent({ 'jet-1-from': 1, 'jet-1-to': 3, 'jet-2-from': 2, 'jet-2-to': 4 })).toBeCloseTo(25, 9);
    expect(percent({ 'jet-1-from': 11, 'jet-1-to': 1 })).toBeCloseTo(100 / 6, 9);
    expect(percent({ 'jet-2-from': 0, 'jet-2-to': 12 })).toBe(100);
    expect(placeJets({ 'jet-2-from': 3, 'jet-2-to': 4 }, null).extentPercent!.from).toEqual(['jet-2-from', 'jet-2-to']);
  });
  test('turning the picture turns nothing on the map (property)', () => {
    const hours = fc.integer({ min: 0, max: 23 }).map((h) => h / 2);
    fc.assert(fc.property(hours, hours, hours, fc.constantFrom('L', 'N'), (from, to, by, next) => {
      const turned = (h: number): number => (h + by) % 12;
      const still = placeJets({ 'jet-1-from': from, 'jet-1-to': to, 'clock-r': 0, 'clock-next': next }, null).jets[0]!;
      const moved = placeJets({ 'jet-1-from': turned(from), 'jet-1-to': turned(to), 'clock-r': turned(0), 'clock-next': next }, null).jets[0]!;
      for (const k of [0, 1] as const) expect(Math.cos(((still.arcDeg![k] - moved.arcDeg![k]) * Math.PI) / 180)).toBeCloseTo(1, 9);
    }), { seed: 20260302 });
  });
});
