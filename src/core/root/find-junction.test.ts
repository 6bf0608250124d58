import { describe, expect, test } from 'vitest';
import { makeWallTable } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalAt } from '../math/random.ts';
import { findJunction, smoothSeries } from './find-junction.ts';

const SIZE = { heights: 121, azimuths: 96, lowMm: -16, stepMm: 0.5 } as const;
/**
 * Sinuses of 16.5 mm, widest at half the junction's height, that end at the junction in a tube of 14 mm with a corner of
 * a millimetre or two, as the wall of a root does; the tube widens by `widen` mm per mm.
 */
const rootMm = (topMm: number, widen: number) => (mm: number): number => {
  const s = mm / topMm;
  const belly = s > 0 && s < 1 ? 3 * Math.sin(Math.PI * s) ** 1.2 : 0;
  return (mm < 0 ? 12.5 : 12.5 + 1.5 * Math.min(1, s)) + belly + widen * Math.max(0, mm - topMm);
};
const PLAIN = { relative: 0, absolute: 0.8, from: 'the corner is where the fall ends; the survey smooths over 0.75 mm and calls it at a third of the steepest fall' };

describe('findJunction', () => {
  for (const [top, widen] of [[17, 0.08], [20.5, 0.05], [24, 0.1], [20.5, 0]] as const) {
    test(`finds the end of sinuses at ${top} mm below a tube that widens by ${widen} mm per mm`, () => {
      const junction = findJunction(makeWallTable(SIZE, (_, mm) => rootMm(top, widen)(mm)))!;
      expectWithin(junction.heightMm, top, PLAIN);
      expectWithin(junction.widestHeightMm, top / 2, { relative: 0, absolute: 1.5, from: 'a flat maximum, moved upward by the widening of the straight wall' });
      expect(junction.heightSdMm).toBeLessThan(0.5);
    });
  }
  test('a tilted junction keeps its mean height and is found tilted', () => {
    const junction = findJunction(makeWallTable(SIZE, (rad, mm) => rootMm(20 + 1.5 * Math.cos(rad - 1), 0.08)(mm)))!;
    expectWithin(junction.heightMm, 20, PLAIN);
    for (let a = 0; a < SIZE.azimuths; a++) {
      expectWithin(junction.heightsMm[a]!, 20 + 1.5 * Math.cos((2 * Math.PI * a) / SIZE.azimuths - 1), { ...PLAIN, absolute: 1 });
    }
  });
  test('three lobes with flat walls between them do not hide it', () => {
    const lobed = (rad: number, mm: number): number => {
      const full = rootMm(20, 0.08)(mm);
      const bare = rootMm(20, 0.08)(mm) - (mm > 0 && mm < 20 ? 3 * Math.sin((Math.PI * mm) / 20) ** 1.2 : 0);
      return bare + (full - bare) * Math.cos(1.5 * rad) ** 2;
    };
    expectWithin(findJunction(makeWallTable(SIZE, lobed))!.heightMm, 20, PLAIN);
  });
  test('noise of 0.1 mm on the wall moves it by less than its interval', () => {
    const still = findJunction(makeWallTable(SIZE, (_, mm) => rootMm(20.5, 0.06)(mm)))!;
    let n = 0;
    const noisy = findJunction(makeWallTable(SIZE, (_, mm) => rootMm(20.5, 0.06)(mm) + 0.1 * normalAt(3, n++, 0)))!;
    expectWithin(noisy.heightMm, still.heightMm, { relative: 0, absolute: 1.2, from: 'the 95 % interval of the survey has a half-width of at least 1.08 mm' });
  });
  test('gives none where nothing narrows: a cylinder, a cone, a table that ends in the sinuses', () => {
    expect(findJunction(makeWallTable(SIZE, () => 13))).toBeNull();
    expect(findJunction(makeWallTable(SIZE, (_, mm) => 13 + 0.1 * mm))).toBeNull();
    expect(findJunction(makeWallTable({ ...SIZE, heights: 57 }, (_, mm) => rootMm(20.5, 0.08)(mm)))).toBeNull();
  });
});

describe('smoothSeries', () => {
  test('keeps a constant and a straight line away from the ends, and lowers noise by the width of its window', () => {
    const n = 60;
    expect([...smoothSeries(new Float64Array(n).fill(7), 2)].every((v) => Math.abs(v - 7) < 1e-12)).toBe(true);
    const line = smoothSeries(Float64Array.from({ length: n }, (_, i) => 3 * i), 2);
    for (let i = 8; i < n - 8; i++) expectWithin(line[i]!, 3 * i, { relative: 1e-12, absolute: 0, from: 'rounding' });
    const noise = smoothSeries(Float64Array.from({ length: 4000 }, (_, i) => normalAt(1, i, 0)), 2);
    const sd = Math.sqrt(noise.reduce((s, v) => s + v * v, 0) / noise.length);
    expectWithin(sd, Math.sqrt(1 / (2 * 2 * Math.sqrt(Math.PI))), { relative: 0.08, absolute: 0, from: '4000 draws, one in five independent' });
  });
});
