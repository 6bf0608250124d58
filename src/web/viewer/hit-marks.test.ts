import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { COARSE_STEP_MM, FINE_STEP_MM, findGrip, GRIP_REACH_PX, readKeyStep } from './hit-marks.ts';

describe(`findGrip (seed ${seed})`, () => {
  test('takes the nearest within reach, and nothing beyond it', () => {
    const grips = [{ name: 'R', atPx: [10, 10] }, { name: 'L', atPx: [30, 10] }] as const;
    expect(findGrip(grips, [19, 10])?.name).toBe('R');
    expect(findGrip(grips, [21, 10])?.name).toBe('L');
    expect(findGrip(grips, [30, 10 + GRIP_REACH_PX])?.name).toBe('L');
    expect(findGrip(grips, [30, 10.01 + GRIP_REACH_PX])).toBeNull();
  });
  test('of two at the same place takes the one drawn on top', () => {
    expect(findGrip([{ name: 'R', atPx: [5, 5] }, { name: 'L', atPx: [5, 5] }], [6, 5])?.name).toBe('L');
  });
  test('whatever it takes, none is nearer', () => {
    const px = fc.tuple(fc.double({ min: 0, max: 100, noNaN: true }), fc.double({ min: 0, max: 100, noNaN: true }));
    fc.assert(fc.property(fc.array(px, { maxLength: 12 }), px, (points, at) => {
      const grips = points.map((atPx, i) => ({ name: String(i), atPx }));
      const distances = points.map((p) => Math.hypot(p[0] - at[0], p[1] - at[1]));
      const found = findGrip(grips, at);
      const least = Math.min(Infinity, ...distances);
      if (found) expect(distances[Number(found.name)]).toBe(least);
      else expect(least).toBeGreaterThan(GRIP_REACH_PX);
    }), replay);
  });
});

describe('readKeyStep', () => {
  test('arrows move in the picture, page keys out of it, Shift by more', () => {
    expect(readKeyStep('ArrowUp', false)).toEqual({ moved: [0, -FINE_STEP_MM], offMm: 0 });
    expect(readKeyStep('ArrowRight', true)).toEqual({ moved: [COARSE_STEP_MM, 0], offMm: 0 });
    expect(readKeyStep('PageDown', false)).toEqual({ moved: [0, 0], offMm: -FINE_STEP_MM });
  });
  test('other keys are left alone', () => {
    expect([readKeyStep('Tab', false), readKeyStep('a', false), readKeyStep('toString', false)]).toEqual([null, null, null]);
  });
});
