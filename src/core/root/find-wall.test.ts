import { describe, expect, test } from 'vitest';
import { makePolarBlock } from '../../../test/support/survey-fixtures.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { bloodShare, findRayExits, findWall, medianOf } from './find-wall.ts';

const SPEC = { lowMm: -8, heightStepMm: 0.5, heights: 49, azimuths: 96, radiusStepMm: 0.3, radii: 88 } as const;
const [BLOOD, TISSUE] = [400, 60];
/** Ellipse of semi-axes 14 and 11, its long axis turning with height, widening upward. */
const ellipse = (rad: number, mm: number): number => {
  const t = rad - 0.02 * mm;
  return (1 + 0.008 * mm) / Math.hypot(Math.cos(t) / 14, Math.sin(t) / 11);
};
const step = (rad: number, mm: number, r: number): number => (r < ellipse(rad, mm) ? BLOOD : TISSUE);
/** The circle of the ellipse's area: up to 1.8 mm off, well within the free way. */
const expected = Float64Array.from({ length: SPEC.heights * SPEC.azimuths }, (_, c) => 12.4 * (1 + 0.008 * (SPEC.lowMm + Math.floor(c / SPEC.azimuths) * SPEC.heightStepMm)));
const GRID: Tolerance = { relative: 0, absolute: 0.45, from: 'a step and a half of 0.3 mm: whole steps, and the gap beside the edge is rounded to one' };

const worstOff = (radiusMm: Float64Array, isLeftOut: (rad: number, mm: number) => boolean = () => false): number => {
  let worst = 0;
  for (let c = 0; c < radiusMm.length; c++) {
    const rad = (2 * Math.PI * (c % SPEC.azimuths)) / SPEC.azimuths;
    const mm = SPEC.lowMm + Math.floor(c / SPEC.azimuths) * SPEC.heightStepMm;
    if (!isLeftOut(rad, mm)) worst = Math.max(worst, Math.abs(radiusMm[c]! - ellipse(rad, mm)));
  }
  return worst;
};

describe('bloodShare', () => {
  test('counts blood and calcium as 1, tissue and a missing sample as 0, and is linear between', () => {
    expect([400, 1200, 60, -800, NaN, 230].map((v) => bloodShare(v, BLOOD, TISSUE))).toEqual([1, 1, 0, 0, 0, 0.5]);
  });
});

describe('medianOf', () => {
  test('leaves out what is not finite; nothing left gives NaN', () => {
    expect(medianOf([NaN, 3, 1, Infinity, 2])).toBe(2);
    expect(medianOf([NaN])).toBeNaN();
  });
});

describe('findRayExits', () => {
  test('is at the step, crosses darkness thinner than asked, and is NaN where the scan ends first', () => {
    const block = makePolarBlock({ ...SPEC, heights: 1, lowMm: 0 }, (rad, mm, r) => {
      if (rad > 3 && r > 9) return NaN;
      return Math.abs(r - 7) < 0.5 ? TISSUE : step(rad, mm, r);
    });
    const exits = findRayExits(block, BLOOD, TISSUE, 2);
    for (let a = 0; a < SPEC.azimuths; a++) {
      const rad = (2 * Math.PI * a) / SPEC.azimuths;
      if (rad > 3) expect(exits[a]).toBeNaN();
      else expectWithin(exits[a]!, ellipse(rad, 0), { relative: 0, absolute: 0.151, from: 'half a step of 0.3 mm' });
    }
  });
});

describe('findWall', () => {
  for (const isBasal of [false, true]) {
    const state = isBasal ? 'on the plane' : 'while the plane is sought';
    test(`follows an ellipse that turns and widens, ${state}`, () => {
      const wall = findWall(makePolarBlock(SPEC, step), BLOOD, TISSUE, expected, isBasal);
      expectWithin(worstOff(wall.radiusMm), 0, GRID);
    });
    test(`is not cut by a leaflet, by calcium at the wall or by a coronary, ${state}`, () => {
      const block = makePolarBlock(SPEC, (rad, mm, r) => {
        const r0 = ellipse(rad, mm);
        const isAbove = mm > 1 && mm < 11;
        // A sheet 1 mm thick that leaves the wall at height 1 and leans inward.
        if (isAbove && Math.abs(r - (r0 - 0.55 * (mm - 1) - 0.8)) < 0.5) return TISSUE + 30;
        if (Math.abs(rad - 1) < 0.15 && Math.abs(mm - 4) < 1.5 && Math.abs(r - (r0 - 0.6)) < 1) return 1100;
        if (Math.hypot((rad - 4) * r0, mm - 12) < 1.6) return BLOOD;
        return step(rad, mm, r);
      });
      const wall = findWall(block, BLOOD, TISSUE, expected, isBasal);
      const isArtery = (rad: number, mm: number): boolean => Math.hypot((rad - 4) * ellipse(rad, mm), mm - 12) < 2.2;
      // Just above the hinge the sheet lies on the wall and thickens it: the wall there may stand inside by its width.
      const isHinge = (mm: number): boolean => mm > 0.4 && mm < 4;
      expectWithin(worstOff(wall.radiusMm, (rad, mm) => isArtery(rad, mm) || isHinge(mm)), 0, { relative: 0, absolute: 0.75, from: 'two steps and a half of 0.3 mm: what is left out ends there' });
      expectWithin(worstOff(wall.radiusMm, isArtery), 0, { relative: 0, absolute: 1.9, from: 'sheet of 1 mm on the wall and three steps' });
    });
  }
  test('gives finite radii for a block without any edge', () => {
    for (const value of [BLOOD, TISSUE, NaN]) {
      const wall = findWall(makePolarBlock(SPEC, () => value), BLOOD, TISSUE, expected);
      expect(wall.radiusMm.every((r) => Number.isFinite(r) && r >= 0 && r <= SPEC.radii * SPEC.radiusStepMm)).toBe(true);
    }
  });
});
