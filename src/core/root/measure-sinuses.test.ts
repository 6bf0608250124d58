import { describe, expect, test } from 'vitest';
import { makeWallTable } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import type { Junction } from './find-junction.ts';
import { measureSeptum } from './measure-septum.ts';
import { measureJunctionDiameter, measureSinuses, type Sector } from './measure-sinuses.ts';
import type { ByCusp } from './root-types.ts';

const SIZE = { heights: 121, azimuths: 96, lowMm: -16, stepMm: 0.5 } as const;
const RAD = Math.PI / 180;
const sectors: ByCusp<Sector> = { R: { from: 300 * RAD, to: 60 * RAD }, L: { from: 60 * RAD, to: 180 * RAD }, N: { from: 180 * RAD, to: 300 * RAD } };
const nadirs: ByCusp<number> = { R: 0, L: 120 * RAD, N: 240 * RAD };
const junctionAt = (mm: (rad: number) => number): Junction => ({
  heightMm: 20, heightSdMm: 0.2, widestHeightMm: 10, isNarrowing: true,
  heightsMm: Float64Array.from({ length: SIZE.azimuths }, (_, a) => mm((2 * Math.PI * a) / SIZE.azimuths)),
});
const level = junctionAt(() => 20);

describe('measureSinuses', () => {
  test('three equal pointed sinuses: from the top of each to the commissure across, with a narrow interval', () => {
    const m = measureSinuses(makeWallTable(SIZE, (rad) => 13 + 4 * (1 + Math.cos(3 * rad)) / 2), level, sectors, nadirs);
    for (const c of ['R', 'L', 'N'] as const) {
      expectWithin(m.widthMm[c], 17 + 13, { relative: 0, absolute: 0.6, from: 'wall error of 0.2 mm at both ends, and its mean over draws' });
      expect(m.widthSdMm[c]).toBeLessThan(0.9);
      expect(m.heightMm[c]).toBe(20);
    }
  });
  test('as one of two peaks of a sinus overtakes the other, the interval widens at the tie and holds the width before it', () => {
    const peak = (rad: number, atDeg: number, mm: number): number => mm * Math.exp(-0.5 * ((rad - atDeg * RAD) / 0.2) ** 2);
    // Across from the second peak the wall stands 3 mm farther than across from the first.
    const draw = (secondMm: number) => measureSinuses(makeWallTable(SIZE, (rad) => 14 + peak(rad, 95, 2.5) + peak(rad, 145, secondMm) + peak(rad, 325, 3)), level, sectors, nadirs);
    const series = Array.from({ length: 13 }, (_, i) => draw(1.4 + 0.2 * i));
    const [first, last] = [series[0]!, series[12]!];
    expect(last.widthMm.L - first.widthMm.L).toBeGreaterThan(2);
    expect(Math.max(first.widthSdMm.L, last.widthSdMm.L)).toBeLessThan(0.7);
    const tie = series.reduce((a, b) => (b.widthSdMm.L > a.widthSdMm.L ? b : a));
    expect(tie.widthSdMm.L).toBeGreaterThan(1);
    // The second peak goes on growing past the tie, so only the first stands for its own side.
    expect(Math.abs(first.widthMm.L - tie.widthMm.L)).toBeLessThan(1.96 * tie.widthSdMm.L);
  });
  test('gives the same answer twice, and grows with the wall', () => {
    const wall = makeWallTable(SIZE, (rad) => 14 + 2 * Math.cos(3 * rad));
    const wider = makeWallTable(SIZE, (rad) => 15 + 2 * Math.cos(3 * rad));
    const m = measureSinuses(wall, level, sectors, nadirs);
    expect(measureSinuses(wall, level, sectors, nadirs)).toEqual(m);
    expectWithin(measureSinuses(wider, level, sectors, nadirs).widthMm.R, m.widthMm.R + 2, { relative: 0, absolute: 0.2, from: 'the same draws, another farthest point in some' });
  });
});

describe('measureJunctionDiameter', () => {
  test('follows a tilted ridge where a flat cut would run into the sinus', () => {
    const ridge = (rad: number): number => 20 + 2 * Math.cos(rad);
    const wall = makeWallTable(SIZE, (rad, mm) => 14 + 0.8 * Math.max(0, ridge(rad) - mm));
    expectWithin(measureJunctionDiameter(wall, junctionAt(ridge)), 28, { relative: 0, absolute: 0.15, from: 'rows of 0.5 mm across a corner of 0.8: at most 0.1 mm of radius' });
    expect(measureJunctionDiameter(wall, level)).toBeGreaterThan(28.3);
  });
});

describe('measureSeptum', () => {
  const sector: Sector = { from: -60 * RAD, to: 60 * RAD };
  test('finds a bulge, its height and side, and doubts it more at the bottom', () => {
    const bulge = (at: number) => makeWallTable(SIZE, (rad, mm) => 12 - 2 * Math.exp(-0.5 * ((mm - at) / 2) ** 2 - 0.5 * (Math.atan2(Math.sin(rad - 0.3), Math.cos(rad - 0.3)) / 0.4) ** 2));
    const m = measureSeptum(bulge(-7), sector);
    expectWithin(m.bulgeMm, 2, { relative: 0, absolute: 0.1, from: 'ten waves of a bulge of 0.4 rad; the ring itself is 0.004 mm inside' });
    expect(m.bulgeHeightMm).toBe(-7);
    expectWithin(m.azimuthRad, 0.3, { relative: 0, absolute: 0.06, from: 'columns of 3 degrees' });
    expect(measureSeptum(bulge(-12), sector).bulgeSdMm).toBeGreaterThan(m.bulgeSdMm);
  });
  test('gives none for a tract that widens downward, and looks at the septum only', () => {
    expect(measureSeptum(makeWallTable(SIZE, (_, mm) => 12 - 0.05 * mm), sector).bulgeMm).toBe(0);
    const behind = makeWallTable(SIZE, (rad, mm) => 12 - 2 * Math.exp(-0.5 * ((mm + 7) / 2) ** 2) * Math.max(0, Math.cos(rad - Math.PI)) ** 8);
    expect(measureSeptum(behind, sector).bulgeMm).toBeLessThan(0.1);
  });
});
