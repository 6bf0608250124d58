import { describe, expect, test } from 'vitest';
import { expectAllWithin } from '../../../test/support/tolerance.ts';
import { distance, type Vec3 } from '../math/vec3.ts';
import { drawPhantom } from '../phantom/draw-phantom.ts';
import { makeSeededShape } from '../phantom/draw-seeded-shape.ts';
import { cutToRoot } from '../phantom/phantom-variants.ts';
import { lookAtRoot, nadirPoints, type RootLook } from './locate-root.ts';
import { makeRootFrame } from './root-frame.ts';
import { CUSPS } from './root-types.ts';
import { settleCrown } from './settle-crown.ts';

const { shape, scan } = makeSeededShape(7);
const { volume, truth } = drawPhantom(shape, cutToRoot(shape, { ...scan, spacingMm: [0.5, 0.5, 0.6], sliceThicknessMm: 0.6 }, 84));
const plane = truth.basalPlane;
const frame = makeRootFrame(plane.pointLps, plane.normalLps, plane.nadirsLps.R);
const first = lookAtRoot(volume, frame, { lowMm: -16, highMm: 34, crownLowMm: -4, crownHighMm: 4, tiltReachMm: 3 }, 0.7);
const nearest = (points: readonly Vec3[]): number[] => CUSPS.map((c) => Math.min(...points.map((p) => distance(p, plane.nadirsLps[c]))));
/** The crown with one cusp slid along the wall and up or down, and no hinges remembered. */
const spoil = (turnRad: number, raiseMm: number): RootLook => {
  const { crown } = first.crown;
  const moved = {
    ...crown,
    nadirRad: crown.nadirRad.map((v, i) => (i === 1 ? v + turnRad : v)),
    nadirMm: crown.nadirMm.map((v, i) => (i === 1 ? v + raiseMm : v)),
  };
  return { ...first, crown: { ...first.crown, crown: moved }, hinges: [] };
};
const settle = (look: RootLook): Vec3[] => nadirPoints(settleCrown(volume, look, frame).look);

describe('settleCrown', () => {
  const settled = settleCrown(volume, first, frame);
  const straight = nearest(nadirPoints(settled.look));
  test('a good start stays good', () => {
    expectAllWithin(straight, [0, 0, 0], { relative: 0, absolute: 1.6, from: '95th percentile asked of the nadirs' });
  });
  test('a crown with one nadir slid along the wall by 35 degrees and down by 3 mm is found again', () => {
    expectAllWithin(nearest(settle(spoil(-0.6, -3))), straight, { relative: 0, absolute: 0.7, from: 'two starts of the same fit: weak priors on the start, a wall mapped on a slightly other plane' });
  });
  test('states how well hinges explain the picture along the crown', () => {
    const { hingeScore } = settled;
    expect(hingeScore).toBeGreaterThan(0.4);
    expect(hingeScore).toBeLessThanOrEqual(1.2);
  });
});
