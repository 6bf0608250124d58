import { describe, expect, test } from 'vitest';
import { cross, dot, sub, type Vec3 } from '../math/vec3.ts';
import { makeSeededShape } from './draw-seeded-shape.ts';
import { arrangeHeart } from './heart-anatomy.ts';
import { checkTruth, findCentroid, measureTruth } from './measure-truth.ts';
import type { PhantomShape, PhantomTruth, PolarContour } from './phantom-types.ts';

const truthOf = (shape: PhantomShape): PhantomTruth => measureTruth(arrangeHeart(shape));
const round = (r: number): PolarContour => ({ meanRadiusMm: r, ellipticity: 1, longAxisDeg: 0, waves: [] });
const still = (shape: PhantomShape): PhantomShape => ({ ...shape, septalBulge: { ...shape.septalBulge, inwardMm: 0 } });

describe('measureTruth', () => {
  test('gives the ellipse of 27 x 21 mm its known area, perimeter and diameters (CT-03)', () => {
    const { shape } = makeSeededShape(3);
    const t = truthOf({ ...still(shape), ring: { meanRadiusMm: Math.sqrt(13.5 * 10.5), ellipticity: 27 / 21, longAxisDeg: 30, waves: [] } });
    // table of 720 azimuths read at 360 of them: exact there; perimeter polygon bias put back
    expect(t.basalRing.areaMm2).toBeCloseTo(445.32075865, 4);
    expect(Math.abs(t.basalRing.perimeterMm - 75.69303675)).toBeLessThan(2e-3);
    // 1 degree steps of the contour: (pi / 360)^2 / 2 of 27 mm
    expect(Math.abs(t.basalRing.maxDiameterMm - 27)).toBeLessThan(2e-3);
    expect(Math.abs(t.basalRing.minDiameterMm - 21)).toBeLessThan(2e-3);
  });

  test('measures a round root without sinuses as its straight pipe', () => {
    const { shape } = makeSeededShape(3);
    const pipe: PhantomShape = {
      ...still(shape), ring: round(12), outflow: { contour: round(12), shiftMm: [0, 0] }, sinusDepthMm: { R: 0, L: 0, N: 0 },
      junction: { contour: round(12), heightMm: 20, heightWaves: [], shiftMm: [0, 0] }, ascending: { radiusMm: 12, widenOverMm: 14 },
    };
    const t = truthOf(pipe);
    for (const ring of t.levels) expect(ring.areaMm2).toBeCloseTo(Math.PI * 144, 3);
    expect(t.sinuses.widthMm.R).toBeCloseTo(24, 2);
    expect(t.sinotubularJunction).toEqual({ heightMm: 20, diameterMm: expect.closeTo(24, 6), ringDiameterMm: expect.closeTo(24, 4) });
    expect(t.septum.insideRingMm).toBeCloseTo(0, 9);
  });

  test('puts the lower edge of a level radial ostium one radius below its centre', () => {
    const { shape } = makeSeededShape(3);
    const t = truthOf({ ...shape, coronaries: { left: null, right: { azimuthDeg: 0, heightMm: 13, radiusMm: 1.6, sidewaysDeg: 0, riseDeg: 0 } } });
    expect(t.coronaries.left).toBeNull();
    expect(t.coronaries.right!.lowerEdgeHeightMm).toBeCloseTo(11.4, 3);
  });

  test('splits calcium at the basal plane exactly in half when its centre lies on it', () => {
    const { shape } = makeSeededShape(3);
    const t = truthOf({ ...shape, calcium: [{ place: 'annulus', azimuthDeg: 120, heightMm: 0, radiusMm: 11, semiAxesMm: [1, 2, 2], leanDeg: 0, attenuationHu: 900 }] });
    expect(t.calcium.outflowMm3).toBeCloseTo(t.calcium.volumeMm3 / 2, 9);
    expect(t.calcium.byCuspMm3.L).toBeCloseTo(t.calcium.volumeMm3 / 2, 9);
    expect(t.calcium.deposits[0]!.cusp).toBe('L');
  });

  test('orders the cusps R, L, N counter-clockwise seen from the aorta; R forward, L to the left, N to the right', () => {
    for (let seed = 1; seed <= 6; seed++) {
      const { shape } = makeSeededShape(seed);
      const t = truthOf(shape);
      const { R, L, N } = t.basalPlane.nadirsLps;
      const turn = cross(sub(L as Vec3, R as Vec3), sub(N as Vec3, R as Vec3));
      expect(dot(turn, t.basalPlane.normalLps as Vec3)).toBeGreaterThan(0);
      expect(R[1]).toBeLessThan(Math.min(L[1], N[1]));
      expect(L[0]).toBeGreaterThan(N[0]);
      expect(t.basalPlane.normalLps[2]).toBeGreaterThan(0);
    }
  });

  test('holds its invariants and ranges for every tenth of 100 seeds', () => {
    for (let seed = 1; seed <= 100; seed++) {
      const { shape } = makeSeededShape(seed);
      if (seed % 10 > 0) { // the full truth for every tenth, the drawn numbers for all
        expect(shape.junction.heightMm).toBeLessThanOrEqual(25);
        continue;
      }
      const t = truthOf(shape);
      expect(checkTruth(t), `seed ${seed}`).toEqual([]);
      const diameter = 2 * Math.sqrt(t.basalRing.areaMm2 / Math.PI);
      expect(diameter).toBeGreaterThan(19.5);
      expect(diameter).toBeLessThan(29.5);
      for (const c of ['R', 'L', 'N'] as const) {
        expect(t.sinuses.widthMm[c]).toBeGreaterThan(25);
        expect(t.sinuses.widthMm[c]).toBeLessThan(41);
      }
    }
  });

  test('does not change with the pose', () => {
    const { shape } = makeSeededShape(5);
    const a = truthOf(shape);
    const b = truthOf({ ...shape, pose: { ...shape.pose, turn: { axisLps: [0.3, -0.5, 0.8], angleDeg: 77 }, positionLps: [200, -300, 400] } });
    expect(b.basalRing.areaMm2).toBeCloseTo(a.basalRing.areaMm2, 9);
    expect(b.sinuses.widthMm.N).toBeCloseTo(a.sinuses.widthMm.N, 9);
    expect(b.calcium.volumeMm3).toBeCloseTo(a.calcium.volumeMm3, 9);
  });

  test('finds the centroid of an off-centre square', () => {
    expect(findCentroid([[1, 1], [3, 1], [3, 3], [1, 3]])).toEqual([2, 2]);
  });
});
