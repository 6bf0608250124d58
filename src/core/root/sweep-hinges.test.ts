import { describe, expect, test } from 'vitest';
import { along, completeBasis, distance, dot, unit, type Vec3 } from '../math/vec3.ts';
import { drawPhantom } from '../phantom/draw-phantom.ts';
import { makeSeededShape } from '../phantom/draw-seeded-shape.ts';
import { cutToRoot, makeTwoSinuses } from '../phantom/phantom-variants.ts';
import type { RootCandidate } from './find-root-axis.ts';
import { nadirPoints } from './locate-root.ts';
import { isClearCrown, lookAtSweep, refuseTwoCuspSweep, sweepCandidates } from './sweep-hinges.ts';

const SEED = 4;
/** A candidate at the junction rather than at the ring, its axis 5 degrees off and 2 mm aside, as a missed waist gives. */
function makeCandidate(pointLps: Vec3, normalLps: Vec3, bloodHu: number): RootCandidate {
  const { u } = completeBasis(normalLps);
  const axisLps = unit(along(normalLps, u, Math.tan((5 * Math.PI) / 180)));
  return { ringCentreLps: along(along(pointLps, normalLps, 15), u, 2), axisLps, bloodHu, ringRadiusMm: 14, score: 1, tube: { sections: [] } as unknown as RootCandidate['tube'] };
}

describe(`sweepCandidates (seed ${SEED})`, () => {
  const { shape, scan: fine } = makeSeededShape(SEED);
  // Coarser voxels and a small cube, to be quick.
  const scan = { ...fine, spacingMm: [0.6, 0.6, 0.6] as const, sliceThicknessMm: 0.6 };
  const { volume, truth } = drawPhantom(shape, cutToRoot(shape, scan, 92));
  const plane = truth.basalPlane;
  const candidate = makeCandidate(plane.pointLps as Vec3, plane.normalLps as Vec3, 350);
  const sweeps = sweepCandidates(volume, [candidate], 0.7);

  test('finds the crown 15 mm down the axis, and stands the right way up', () => {
    const best = sweeps[0]!;
    expect(isClearCrown(best)).toBe(true);
    expect(dot(best.view.frame.normalLps, plane.normalLps as Vec3)).toBeGreaterThan(0.9);
    const found = nadirPoints(lookAtSweep(best));
    for (const nadir of Object.values(plane.nadirsLps)) {
      // Half the 1.5 mm between heights asked, and what a tilted axis and a flat floor leave: a start, not the plane.
      expect(Math.min(...found.map((p) => distance(p, nadir as Vec3)))).toBeLessThan(3);
    }
    expect(refuseTwoCuspSweep(sweeps)).toBeNull();
  });
  test('upside down the same wall explains less', () => {
    expect(sweeps).toHaveLength(2);
    expect(dot(sweeps[1]!.view.frame.normalLps, sweeps[0]!.view.frame.normalLps)).toBeLessThan(-0.99);
    expect(sweeps[1]!.score).toBeLessThan(0.8 * sweeps[0]!.score);
  });
  test('gives nothing where the axis runs through something half as bright as the vessel', () => {
    expect(sweepCandidates(volume, [{ ...candidate, bloodHu: 2000 }], 0.7)).toEqual([]);
  });
  test('names two sinuses by their hinges, and takes no crown of three for clear there', () => {
    const two = makeTwoSinuses(shape);
    const drawn = drawPhantom(two, cutToRoot(two, scan, 92));
    const p = drawn.truth.basalPlane;
    const swept = sweepCandidates(drawn.volume, [makeCandidate(p.pointLps as Vec3, p.normalLps as Vec3, 350)], 0.7);
    const refusal = refuseTwoCuspSweep(swept);
    expect(refusal?.ok).toBe(false);
    if (refusal && !refusal.ok) expect(refusal.failure.code).toBe('valve-not-three-leaflet');
    expect(swept.filter(isClearCrown)).toEqual([]);
    // What shows two cusps settles the answer: the other way round is not asked any more.
    expect(swept).toHaveLength(1);
  });
});

describe('isClearCrown', () => {
  const clear = { score: 1, turnedScore: 0.4, twoCuspScore: 0.6, threeCuspScore: 0.9 };
  test('asks for hinges, for one turn, and for more than two cusps explain', () => {
    expect(isClearCrown(clear)).toBe(true);
    expect(isClearCrown({ ...clear, score: 0.59, turnedScore: 0.1, twoCuspScore: 0.2 })).toBe(false);
    expect(isClearCrown({ ...clear, turnedScore: 0.76 })).toBe(false);
    expect(isClearCrown({ ...clear, twoCuspScore: 0.81 })).toBe(false);
    expect(isClearCrown({ ...clear, score: NaN })).toBe(false);
  });
});
