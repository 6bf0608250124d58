import { describe, expect, test } from 'vitest';
import { angleDeg, makeCube } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalAt } from '../math/random.ts';
import { dot, norm, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import { makeCoarseField } from '../volume/coarse-field.ts';
import { findRootCandidates } from './find-root-axis.ts';
import { findTubes, measureSection } from './find-tubes.ts';
import { findWaist } from './find-waist.ts';

const BLOOD = 380;
const AXIS = unit([-0.35, -0.2, 0.9]);
const OFF: Vec3 = [3, -2, 1];
const along = (p: Vec3): number => dot(sub(p, OFF), AXIS);
const across = (p: Vec3): number => norm(sub(sub(p, OFF), scale(AXIS, along(p))));
/** One voxel of soft edge, so that half the edge is half the signal. */
const edge = (insideMm: number, stepMm: number): number => 60 + (BLOOD - 60) * Math.max(0, Math.min(1, 0.5 + insideMm / stepMm));

/** Straight round tube of 15 mm radius. */
const tube = makeCoarseField(makeCube(64, 2, (p) => edge(15 - across(p), 2)));
/** A root of revolution: chamber below, waist of 11 mm at height 0, sinuses of 16 mm at 9 mm, tube of 14 mm above 18 mm. */
const profileMm = (z: number): number => {
  const steps: readonly (readonly [number, number])[] = [[-50, 20], [-20, 19], [0, 11], [9, 16], [18, 14], [70, 14]];
  for (let i = 1; i < steps.length; i++) {
    const [a, b] = [steps[i - 1]!, steps[i]!];
    if (z <= b[0]) {
      const s = (1 - Math.cos((Math.PI * (z - a[0])) / (b[0] - a[0]))) / 2;
      return a[1] + (b[1] - a[1]) * s;
    }
  }
  return 14;
};
const LOWER: Vec3 = scale(AXIS, -18);
const root = makeCube(112, 1, (q) => {
  const p = sub(q, LOWER);
  return along(p) < -45 ? 60 : edge(profileMm(along(p)) - across(p), 1);
});
const waistAt: Vec3 = [OFF[0] + LOWER[0], OFF[1] + LOWER[1], OFF[2] + LOWER[2]];

describe('measureSection', () => {
  test('gives radius and centre of a round tube cut across, from a place off its axis', () => {
    const section = measureSection(tube, [OFF[0] + 4, OFF[1] + 3, OFF[2]], AXIS, BLOOD)!;
    expectWithin(section.radiusMm, 15, { relative: 0, absolute: 0.8, from: 'rays of 1 mm on nodes of 2 mm' });
    expectWithin(across(section.centreLps), 0, { relative: 0, absolute: 1, from: 'half a node' });
    expect([section.cutShare, section.leakShare]).toEqual([0, 0]);
    expect(section.roughness).toBeLessThan(0.06);
  });
  test('finds no lumen in soft tissue, and says how much of it lies outside the scan', () => {
    expect(measureSection(tube, [50, 50, 0], AXIS, BLOOD)).toBeNull();
    // Just below the upper face, through which the tube leaves the scan: the rays that rise meet the face.
    const high = measureSection(tube, [OFF[0] + 64 * AXIS[0], OFF[1] + 64 * AXIS[1], OFF[2] + 64 * AXIS[2]], AXIS, BLOOD)!;
    expect(high.cutShare).toBeGreaterThan(0.2);
  });
});

describe('findTubes', () => {
  test('finds the one tube with its direction, radius and length', () => {
    const tubes = findTubes(tube);
    expect(tubes.length).toBe(1);
    const middle = tubes[0]!.sections.filter((s) => Math.abs(along(s.centreLps)) < 30);
    expect(middle.length).toBeGreaterThan(20);
    for (const s of middle) {
      expectWithin(s.radiusMm, 15, { relative: 0, absolute: 0.8, from: 'rays of 1 mm on nodes of 2 mm' });
      expectWithin(across(s.centreLps), 0, { relative: 0, absolute: 1.5, from: 'three quarters of a node, directions turn slowly' });
      const off = angleDeg(s.direction, AXIS);
      expectWithin(Math.min(off, 180 - off), 0, { relative: 0, absolute: 12, from: '42 directions over half a sphere lie 20 degrees apart' });
    }
    expect(tubes[0]!.lengthMm).toBeGreaterThan(80);
  });
  test('finds none in a ball, a slab, noise or an even scan', () => {
    const fields = [
      (p: Vec3): number => edge(17 - norm(p), 2),
      (p: Vec3): number => edge(12 - Math.abs(p[0]), 2),
      (p: Vec3): number => 300 + 120 * normalAt(5, Math.round(p[0] + 70) * 512 + Math.round(p[1] + 70), Math.round(p[2] + 70)),
      (): number => BLOOD,
    ];
    for (const value of fields) expect(findTubes(makeCoarseField(makeCube(40, 2, value)))).toEqual([]);
  });
});

describe('findRootCandidates and findWaist', () => {
  const field = makeCoarseField(root);
  const found = findRootCandidates(field, findTubes(field));
  test('the best candidate is the waist between chamber and tube, its axis toward the tube', () => {
    const best = found[0]!;
    expectWithin(norm(sub(best.ringCentreLps, waistAt)), 0, { relative: 0, absolute: 4, from: 'path of 1.5 mm steps on nodes of 2 mm' });
    expectWithin(angleDeg(best.axisLps, AXIS), 0, { relative: 0, absolute: 8, from: 'a centreline over 22 mm, one node off' });
    expectWithin(best.ringRadiusMm, 11, { relative: 0, absolute: 1.2, from: 'mean of three sections, nodes of 2 mm' });
    expectWithin(best.bloodHu, BLOOD, { relative: 0, absolute: 10, from: 'sections lie in even blood' });
  });
  test('the narrowest cut is found from a start that is 4 mm and 15 degrees off', () => {
    const start: Vec3 = [waistAt[0] + 2, waistAt[1] - 2, waistAt[2] + 3];
    const waist = findWaist(root, start, unit([AXIS[0] + 0.26, AXIS[1], AXIS[2]]), BLOOD, 60)!;
    expectWithin(waist.radiusMm, 11, { relative: 0, absolute: 0.4, from: 'rays of 0.5 mm' });
    expectWithin(angleDeg(waist.axisLps, AXIS), 0, { relative: 0, absolute: 6, from: 'last step of the search is 2.9 degrees in each direction' });
    expectWithin(along(sub(waist.centreLps, LOWER)), 0, { relative: 0, absolute: 1.6, from: 'last step along the axis is 1 mm' });
  });
  test('a waist is not found in soft tissue', () => {
    expect(findWaist(root, [45, 45, -45], [0, 0, 1], BLOOD, 60)).toBeNull();
  });
});
