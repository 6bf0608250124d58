import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { distance, dot, sub } from '../math/vec3.ts';
import { BEND_REACH_MM, bendRing, chooseRingHandles } from './bend-ring.ts';
import { lpsFromCylinder, makeRootFrame } from './root-frame.ts';
import type { Xyz } from './root-types.ts';

const ROUNDING: Tolerance = { relative: 0, absolute: 1e-9, from: 'a few sums of hundreds of mm, 2e-16 each' };
const FRAME = makeRootFrame([10, -120, 340], [0.3, -0.4, 0.86]);
const drawCircle = (points: number, radiusMm = 12): readonly Xyz[] =>
  Array.from({ length: points }, (_, i) => lpsFromCylinder(FRAME, { azimuthRad: (2 * Math.PI * i) / points, heightMm: 0, radiusMm }));
const spot = fc.tuple(fc.double({ min: -6, max: 6, noNaN: true }), fc.double({ min: -6, max: 6, noNaN: true }), fc.double({ min: -6, max: 6, noNaN: true }));

describe(`bendRing (seed ${seed})`, () => {
  test('puts the pulled point where it was pulled to, within the plane', () => {
    const ring = drawCircle(90);
    const bent = bendRing(ring, 7, lpsFromCylinder(FRAME, { azimuthRad: (2 * Math.PI * 7) / 90, heightMm: 2.5, radiusMm: 14 }), FRAME.normalLps);
    const wanted = lpsFromCylinder(FRAME, { azimuthRad: (2 * Math.PI * 7) / 90, heightMm: 0, radiusMm: 14 });
    expectWithin(distance(bent[7]!, wanted), 0, ROUNDING);
  });
  test('moves neighbours less with distance, both sides alike, and nothing beyond its reach', () => {
    const ring = drawCircle(90);
    const bent = bendRing(ring, 0, lpsFromCylinder(FRAME, { azimuthRad: 0, heightMm: 0, radiusMm: 14 }), FRAME.normalLps);
    const moved = bent.map((p, i) => distance(p, ring[i]!));
    for (let k = 1; k < 45; k++) {
      expectWithin(moved[k]!, moved[90 - k]!, ROUNDING);
      expect(moved[k]!).toBeLessThanOrEqual(moved[k - 1]!);
      if (k * ((2 * Math.PI * 12) / 90) > BEND_REACH_MM) expect(bent[k]).toEqual(ring[k]);
    }
    expect(moved[3]!).toBeGreaterThan(0.5);
  });
  test('keeps the ring on its plane and its points in number, wherever it is pulled', () => {
    fc.assert(fc.property(fc.integer({ min: 8, max: 120 }), fc.nat(200), spot, fc.double({ min: 1, max: 200, noNaN: true }), (points, at, to, reachMm) => {
      const ring = drawCircle(points);
      const from = ring[at % points]!;
      const bent = bendRing(ring, at % points, [from[0] + to[0], from[1] + to[1], from[2] + to[2]], FRAME.normalLps, reachMm);
      expect(bent).toHaveLength(points);
      for (const p of bent) expectWithin(dot(sub(p, FRAME.originLps), FRAME.normalLps), 0, ROUNDING);
    }), replay);
  });
  test('pulling a point and pulling it back gives the ring again when the reach is one point', () => {
    const ring = drawCircle(24);
    const bent = bendRing(ring, 5, [0, 0, 0], FRAME.normalLps, 0.1);
    const back = bendRing(bent, 5, ring[5]!, FRAME.normalLps, 0.1);
    back.forEach((p, i) => expectWithin(distance(p, ring[i]!), 0, ROUNDING));
  });
  test('a point that is not there leaves the ring as it was', () => {
    const ring = drawCircle(24);
    expect(bendRing(ring, 24, [0, 0, 0], FRAME.normalLps)).toBe(ring);
  });
});

describe('chooseRingHandles', () => {
  test('spreads them evenly along the ring from the one nearest the first', () => {
    const ring = drawCircle(96);
    expect(chooseRingHandles(ring, 16, ring[10]!)).toEqual(Array.from({ length: 16 }, (_, i) => (10 + 6 * i) % 96));
  });
  test('takes every point of a ring with fewer', () => {
    expect(chooseRingHandles(drawCircle(8), 16, [0, 0, 0])).toEqual([0, 1, 2, 3, 4, 5, 6, 7]);
  });
});
