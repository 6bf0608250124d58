import { describe, expect, test } from 'vitest';
import { makePolarBlock, makeWallTable } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { findOpenings } from './find-ostia.ts';

const SPEC = { lowMm: 2, heightStepMm: 0.5, heights: 55, azimuths: 96, radiusStepMm: 0.3, radii: 70 } as const;
const TABLE = { heights: 55, azimuths: 96, lowMm: 2, stepMm: 0.5 } as const;
const [BLOOD, TISSUE, FAT] = [400, 60, -90];
const WALL_MM = 15;
const table = makeWallTable(TABLE, () => WALL_MM);

interface Artery {
  readonly rad: number;
  readonly mm: number;
  readonly radiusMm: number;
  /** Millimetres upward for each one outward. */
  readonly rise?: number;
}
const soft = (insideMm: number): number => Math.max(0, Math.min(1, 0.5 + insideMm / 0.8));
/** A tube of blood, 1.6 mm of wall, fat around it; round arteries leave it straight outward. */
const drawRoot = (arteries: readonly Artery[], outsideHu: (rad: number, mm: number) => number = () => FAT) =>
  makePolarBlock(SPEC, (rad, mm, r) => {
    if (r < WALL_MM - 1) return BLOOD;
    const shell = soft(WALL_MM - r) * BLOOD + (1 - soft(WALL_MM - r)) * (TISSUE + (outsideHu(rad, mm) - TISSUE) * soft(r - WALL_MM - 1.6));
    const artery = Math.max(0, ...arteries.map((a) => soft(a.radiusMm - Math.hypot(Math.atan2(Math.sin(rad - a.rad), Math.cos(rad - a.rad)) * r, mm - a.mm - (a.rise ?? 0) * (r - WALL_MM)))));
    return shell + artery * (BLOOD - shell);
  });
const left: Artery = { rad: 2.1, mm: 13.2, radiusMm: 2 };
const right: Artery = { rad: 6.2, mm: 14.6, radiusMm: 1.5 };

describe('findOpenings', () => {
  test('finds two arteries, the wider first, with place and lower edge', () => {
    const found = findOpenings(drawRoot([right, left]), table, BLOOD, TISSUE, 6, 26);
    expect(found.length).toBe(2);
    [left, right].forEach((artery, i) => {
      const off = found[i]!.azimuthRad - artery.rad;
      expectWithin(Math.atan2(Math.sin(off), Math.cos(off)) * WALL_MM, 0, { relative: 0, absolute: 0.3, from: 'columns of 1 mm at this radius, centre of gravity' });
      expectWithin(found[i]!.heightMm, artery.mm, { relative: 0, absolute: 0.3, from: 'rows of 0.5 mm, centre of gravity' });
      expectWithin(found[i]!.lowerEdgeMm, artery.mm - artery.radiusMm, { relative: 0, absolute: 0.9, from: 'rows of 0.5 mm and a share of the patch' });
      expectWithin(found[i]!.areaMm2, Math.PI * artery.radiusMm ** 2, { relative: 0.45, absolute: 0, from: 'cells of 0.5 mm2, the soft rim counts or not' });
    });
  });
  test('moves and turns with the artery', () => {
    for (const [rad, mm] of [[0.03, 10], [3.3, 17.5], [5.1, 20]] as const) {
      const [only] = findOpenings(drawRoot([{ rad, mm, radiusMm: 1.8 }]), table, BLOOD, TISSUE, 6, 26);
      expectWithin(Math.hypot(Math.atan2(Math.sin(only!.azimuthRad - rad), Math.cos(only!.azimuthRad - rad)) * WALL_MM, only!.heightMm - mm), 0, { relative: 0, absolute: 0.3, from: 'as above' });
    }
  });
  test('finds a thin artery that leaves slanted, and puts it where it leaves the wall', () => {
    for (const rise of [-0.7, 0.7]) {
      const [only] = findOpenings(drawRoot([{ rad: 2.1, mm: 14, radiusMm: 1.3, rise }]), table, BLOOD, TISSUE, 6, 26);
      expectWithin(only!.heightMm, 14, { relative: 0, absolute: 0.5, from: 'drawn back over 1 mm of a slant of 0.7, rows of 0.5 mm' });
    }
  });
  test('an artery beside a chamber is told from it', () => {
    const found = findOpenings(drawRoot([{ rad: 2.6, mm: 12, radiusMm: 1.9 }], (rad) => (rad > 3 && rad < 4.5 ? 380 : FAT)), table, BLOOD, TISSUE, 6, 26);
    expect(found.map((o) => Math.round(10 * o.azimuthRad))).toEqual([26]);
  });
  test('finds none in a whole wall, nor where a chamber lies against it', () => {
    expect(findOpenings(drawRoot([]), table, BLOOD, TISSUE, 6, 26)).toEqual([]);
    expect(findOpenings(drawRoot([], (rad) => (rad > 3 && rad < 4.5 ? 380 : FAT)), table, BLOOD, TISSUE, 6, 26)).toEqual([]);
  });
  test('finds none outside the heights asked for', () => {
    expect(findOpenings(drawRoot([left]), table, BLOOD, TISSUE, 18, 26)).toEqual([]);
  });
  test('a hole as wide as a chamber is not an artery', () => {
    expect(findOpenings(drawRoot([{ rad: 4, mm: 14, radiusMm: 6 }]), table, BLOOD, TISSUE, 6, 26)).toEqual([]);
  });
});
