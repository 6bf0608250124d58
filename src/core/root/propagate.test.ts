import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { angleDeg, makeWallTable, PLAIN_FRAME } from '../../../test/support/survey-fixtures.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalAt } from '../math/random.ts';
import { cross, sub, unit, type Vec3 } from '../math/vec3.ts';
import { BASAL, cutRing, measureCut, nearPlaneThrough, readTable } from './map-wall.ts';
import { estimateEdgeSd, propagateNadirs, spreadOfRing } from './propagate.ts';

const R = 12;
const nadirs: readonly Vec3[] = [0, 120, 240].map((d) => [R * Math.cos((d * Math.PI) / 180), R * Math.sin((d * Math.PI) / 180), 0] as const);
const raise = (mm: readonly number[]): Vec3[] => nadirs.map((p, i) => [p[0], p[1], p[2] + mm[i]!]);
const normalThrough = (p: readonly Vec3[]): Vec3 => unit(cross(sub(p[1]!, p[0]!), sub(p[2]!, p[0]!)));

describe(`nearPlaneThrough (seed ${seed})`, () => {
  test('is the plane through its three points', () => {
    const mm = fc.double({ min: -3, max: 3, noNaN: true });
    fc.assert(
      fc.property(mm, mm, mm, (a, b, c) => {
        const points = raise([a, b, c]);
        const plane = nearPlaneThrough(PLAIN_FRAME, points)!;
        for (const p of points) expectWithin(plane.c + plane.dx * p[0] + plane.dy * p[1], p[2], { relative: 0, absolute: 1e-12, from: 'rounding' });
      }),
      replay,
    );
  });
  test('gives none for points in line', () => {
    expect(nearPlaneThrough(PLAIN_FRAME, [[0, 0, 0], [5, 5, 1], [10, 10, 0]])).toBeNull();
    expect(nearPlaneThrough(PLAIN_FRAME, [[1, 0, 0], [1, 0, 0], [3, 3, 0]])).toBeNull();
  });
});

describe('propagateNadirs', () => {
  test('a nadir raised by its SD tilts the plane by atan(SD / 1.5 R)', () => {
    const { planes } = propagateNadirs(PLAIN_FRAME, nadirs, [0.5, 0.3, 0], 0.05);
    [0.5, 0.3].forEach((sd, i) => {
      const plane = planes[i]!;
      expectWithin(Math.atan(Math.hypot(plane.dx, plane.dy)), Math.atan(sd / (1.5 * R)), { relative: 1e-12, absolute: 0, from: 'rounding' });
      expectWithin(plane.c, sd / 3, { relative: 1e-12, absolute: 0, from: 'the centroid rises by a third' });
    });
    expect([planes[2]!.c, planes[2]!.dx, planes[2]!.dy].every((v) => v + 0 === 0)).toBe(true);
  });
  test('the stated tilt is exceeded by 5 % of planes through nadirs with that scatter', () => {
    const { tilt95Deg } = propagateNadirs(PLAIN_FRAME, nadirs, [0.5, 0.5, 0.5], 0.05);
    const n = 4000;
    let over = 0;
    for (let i = 0; i < n; i++) {
      const tilt = angleDeg(normalThrough(raise([0, 1, 2].map((k) => 0.5 * normalAt(5, i, k)))), [0, 0, 1]);
      if (tilt > tilt95Deg) over++;
    }
    expectWithin(over / n, 0.05, { relative: 0, absolute: 0.012, from: '3.5 binomial SDs of 4000 draws' });
  });
  test('takes nadirs in line as they are and tilts nothing', () => {
    expect(propagateNadirs(PLAIN_FRAME, [[0, 0, 0], [5, 0, 0], [10, 0, 0]], [1, 1, 1], 0.05).tilt95Deg).toBe(0);
  });
});

describe('spreadOfRing', () => {
  const SIZE = { heights: 41, azimuths: 96, lowMm: -10, stepMm: 0.5 } as const;
  const cylinder = makeWallTable(SIZE, () => R);
  const cone = makeWallTable(SIZE, (_, mm) => R + 0.2 * mm);
  test('of a cylinder is the edge: dA = P dr, and dP = 2 pi dr at least', () => {
    const still = { nadirSdMm: [0, 0, 0], planes: [BASAL, BASAL, BASAL], edgeSdMm: 0.05, tilt95Deg: 0 };
    const spread = spreadOfRing(cylinder, measureCut(cylinder, BASAL, 0), 0, still);
    expectWithin(spread.areaMm2, 2 * Math.PI * R * 0.05, { relative: 0.005, absolute: 0, from: 'second order: 0.05 / 24' });
    expect(spread.perimeterMm).toBeGreaterThan(2 * Math.PI * 0.05 * 0.999);
    expect(spread.perimeterMm).toBeLessThan(0.01 * 2 * Math.PI * R);
  });
  test('of a cone grows with the height of the plane', () => {
    const doubt = propagateNadirs(PLAIN_FRAME, nadirs, [0.6, 0.6, 0.6], 0);
    const spread = spreadOfRing(cone, measureCut(cone, BASAL, 0), 0, doubt);
    // Each nadir raises the middle by 0.2 mm, the radius by 0.04 mm; three of them add in squares.
    expectWithin(spread.areaMm2, Math.sqrt(3) * 2 * Math.PI * R * 0.2 * 0.2, { relative: 0.1, absolute: 0, from: 'the tilt itself adds its square' });
  });
  test('a tilted cut of a cylinder is the ellipse of the tilt', () => {
    const slope = Math.tan((20 * Math.PI) / 180);
    const m = measureCut(cylinder, { c: 0, dx: slope, dy: 0 }, 0);
    // Radii are stretched along the tilted plane but keep their azimuth in the frame: right to the square of the slope.
    expectWithin(m.maxDiameterMm, (2 * R) / Math.cos((20 * Math.PI) / 180), { relative: 0.002, absolute: 0, from: '10 waves and directions of 2 degrees' });
    expectWithin(m.minDiameterMm, 2 * R, { relative: 0.002, absolute: 0, from: 'as above' });
  });
  test('reads between rows and holds the ends', () => {
    expect(readTable(cone, 3, 0.25)).toBeCloseTo(R + 0.05, 12);
    expect(readTable(cone, 3, 99)).toBeCloseTo(R + 2, 4);
    expect([...cutRing(cone, BASAL, 5)].every((r) => Math.abs(r - R - 1) < 1e-12)).toBe(true);
  });
});

describe('estimateEdgeSd', () => {
  test('grows with blur, voxel and noise, and is never nothing', () => {
    const base = estimateEdgeSd(0.6, 0.5, 30, 340);
    expect(estimateEdgeSd(0.9, 0.5, 30, 340)).toBeGreaterThan(base);
    expect(estimateEdgeSd(0.6, 0.9, 30, 340)).toBeGreaterThan(base);
    expect(estimateEdgeSd(0.6, 0.5, 60, 340)).toBeGreaterThan(base);
    expect(estimateEdgeSd(0.6, 0.5, 30, 170)).toBeGreaterThan(base);
    expect(estimateEdgeSd(0, 0, 0, 340)).toBeGreaterThan(0.01);
  });
});
