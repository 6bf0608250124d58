import { describe, expect, test } from 'vitest';
import { makePolarBlock, makeWallTable } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { bridgeCalcium, straightenHinge } from './mend-wall.ts';

const SIZE = { heights: 41, azimuths: 96, lowMm: -10, stepMm: 0.5 } as const;
const SPEC = { lowMm: -10, heightStepMm: 0.5, heights: 41, azimuths: 96, radiusStepMm: 0.3, radii: 88 } as const;
const BLOOD = 400;
const wallMm = (rad: number, mm: number): number => 12 + 0.08 * mm + 0.6 * Math.cos(2 * rad);
const table = makeWallTable(SIZE, wallMm);
const place = (c: number): readonly [number, number] => [(2 * Math.PI * (c % SIZE.azimuths)) / SIZE.azimuths, SIZE.lowMm + Math.floor(c / SIZE.azimuths) * SIZE.stepMm];

describe('bridgeCalcium', () => {
  const isLump = (rad: number, mm: number): boolean => Math.hypot((rad - 2) * 12, mm - 1) < 2.5;
  /** The wall as an edge finder leaves it: pushed outward behind the lump. */
  const pushed = makeWallTable(SIZE, (rad, mm) => wallMm(rad, mm) + (isLump(rad, mm) ? 1.5 : 0));
  const block = makePolarBlock(SPEC, (rad, mm, r) => (isLump(rad, mm) && Math.abs(r - wallMm(rad, mm)) < 1.4 ? 1100 : r < wallMm(rad, mm) ? BLOOD : 60));
  test('takes the wall back to where it would be, and says where it did', () => {
    const mended = bridgeCalcium(block, pushed, BLOOD);
    let bridged = 0;
    for (let c = 0; c < mended.isBridged.length; c++) {
      const [rad, mm] = place(c);
      bridged += mended.isBridged[c]!;
      if (isLump(rad, mm)) expect(mended.isBridged[c]).toBe(1);
      expectWithin(mended.table.radiusMm[c]!, wallMm(rad, mm), { relative: 0, absolute: 0.1, from: 'a harmonic patch 6 mm wide under a wave of two lobes: curvature 2.4 mm/rad2 x (0.25 rad)2 / 2' });
      if (!mended.isBridged[c]) expect(mended.table.radiusMm[c]).toBe(pushed.radiusMm[c]);
    }
    // The lump covers 20 mm2 of cells of 0.39 mm2, and a rim of 1.5 mm and two columns around it.
    expect(bridged).toBeGreaterThan(50);
    expect(bridged).toBeLessThan(200);
  });
  test('changes nothing without calcium, and for a lump deep in the lumen', () => {
    const clean = makePolarBlock(SPEC, (rad, mm, r) => (r < wallMm(rad, mm) ? BLOOD : 60));
    expect(bridgeCalcium(clean, table, BLOOD).table.radiusMm).toEqual(table.radiusMm);
    const deep = makePolarBlock(SPEC, (rad, mm, r) => (isLump(rad, mm) && Math.abs(r - 8) < 1.5 ? 1100 : r < wallMm(rad, mm) ? BLOOD : 60));
    expect(bridgeCalcium(deep, table, BLOOD).table.radiusMm).toEqual(table.radiusMm);
  });
  test('leaves a ring alone that is hidden nearly all around: bridging would invent it', () => {
    const shell = makePolarBlock(SPEC, (rad, mm, r) => (Math.abs(mm) < 3 && rad > 0.8 && Math.abs(r - wallMm(rad, mm)) < 1.4 ? 1100 : r < wallMm(rad, mm) ? BLOOD : 60));
    const mended = bridgeCalcium(shell, table, BLOOD);
    const row = (0 - SIZE.lowMm) / SIZE.stepMm;
    expect(mended.isBridged.subarray(row * SIZE.azimuths, (row + 1) * SIZE.azimuths).every((v) => v === 0)).toBe(true);
    expect(mended.table.radiusMm).toEqual(table.radiusMm);
  });
});

describe('straightenHinge', () => {
  /** A straight, leaning wall that a leaflet's root thickens by up to 1 mm just below and above the plane. */
  const thick = makeWallTable(SIZE, (rad, mm) => wallMm(rad, mm) - (mm > -1.2 && mm < 3 ? 1 : 0));
  test('continues the clean wall below up to the plane where a leaflet is attached there', () => {
    const straight = straightenHinge(thick, () => 0.2);
    for (let c = 0; c < straight.radiusMm.length; c++) {
      const [rad, mm] = place(c);
      const wanted = mm <= 0.5 ? wallMm(rad, mm) : thick.radiusMm[c]!;
      expectWithin(straight.radiusMm[c]!, wanted, { relative: 0, absolute: 1e-9, from: 'a straight line through points of a straight line' });
    }
  });
  test('leaves the wall as seen where the attachment is 3 mm up and more, and goes over between 1 and 3 mm', () => {
    expect(straightenHinge(thick, () => 3).radiusMm).toEqual(thick.radiusMm);
    const half = straightenHinge(thick, () => 2);
    const c = ((0 - SIZE.lowMm) / SIZE.stepMm) * SIZE.azimuths + 7;
    expectWithin(half.radiusMm[c]!, table.radiusMm[c]! - 0.5, { relative: 0, absolute: 1e-9, from: 'half of both' });
  });
  test('asks for the attachment at each azimuth', () => {
    const straight = straightenHinge(thick, (rad) => (rad < Math.PI ? 0 : 9));
    const row = ((0 - SIZE.lowMm) / SIZE.stepMm) * SIZE.azimuths;
    expectWithin(straight.radiusMm[row + 10]!, table.radiusMm[row + 10]!, { relative: 0, absolute: 1e-9, from: 'rounding' });
    expect(straight.radiusMm[row + 70]).toBe(thick.radiusMm[row + 70]);
  });
  test('bends outward at the attachment where the wall above opens, by less the straighter it goes on and the farther off', () => {
    const row = ((0 - SIZE.lowMm) / SIZE.stepMm) * SIZE.azimuths;
    const bentAt = (attachmentMm: number, upperRad: number): number => {
      const bent = straightenHinge(thick, () => attachmentMm, () => upperRad);
      expectWithin(bent.radiusMm[row + 7]! - table.radiusMm[row + 7]!, bent.bentMm![row + 7]!, { relative: 0, absolute: 1e-9, from: 'the straight wall and what is said to be bent' });
      return bent.bentMm![row + 7]!;
    };
    // Slope of the wall below 0.08: an opening of 0.9 rad. Arc and line: radius x tan(half the angle) squared / 2.
    expectWithin(bentAt(0, 0.9 + Math.atan(0.08)), (1.4 * Math.tan(0.45) ** 2) / 2, { relative: 0, absolute: 1e-9, from: 'the formula' });
    expect(bentAt(0, 0.5)).toBeLessThan(bentAt(0, 0.9));
    expect(bentAt(0.3, 0.9)).toBeLessThan(bentAt(0, 0.9));
    expect(bentAt(0.95, 0.9)).toBe(0);
    expect(bentAt(0, -0.3)).toBe(0);
  });
});
