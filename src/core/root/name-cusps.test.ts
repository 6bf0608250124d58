import { describe, expect, test } from 'vitest';
import { scale, unit, type Vec3 } from '../math/vec3.ts';
import type { Opening } from './find-ostia.ts';
import { nameCusps } from './name-cusps.ts';
import { makeRootFrame, type RootFrame } from './root-frame.ts';
import { CUSPS, type Cusp } from './root-types.ts';

const THIRD = (2 * Math.PI) / 3;
/** An upright patient's root: the normal leans to the right and forward, azimuth 0 faces forward (-y). */
const NORMAL = unit([-0.5, -0.35, 0.75]);
const upright = makeRootFrame([0, 0, 0], NORMAL, [0, -1, 0]);
const openingAt = (azimuthRad: number, areaMm2 = 8, strength = 0.9): Opening => ({ azimuthRad, heightMm: 13, radiusMm: 15, areaMm2, lowerEdgeMm: 11, strength });
const namesOf = (frame: RootFrame, nadirs: readonly number[], openings: readonly Opening[]): readonly Cusp[] => {
  const { indexOf } = nameCusps(frame, nadirs, openings);
  return [0, 1, 2].map((i) => CUSPS.find((c) => indexOf[c] === i)!);
};
/** The frame of the mirror image: x turns its sign, and counter-clockwise with it. */
const mirrored = makeRootFrame([0, 0, 0], [-NORMAL[0], NORMAL[1], NORMAL[2]], [0, -1, 0]);

describe('nameCusps', () => {
  const nadirs = [0.1, 0.1 + THIRD, 0.1 + 2 * THIRD];
  const ostia = [openingAt(0.2), openingAt(0.1 + THIRD - 0.2)];
  test('the cusps with an artery are R in front and L to the left; the third is N', () => {
    expect(namesOf(upright, nadirs, ostia)).toEqual(['R', 'L', 'N']);
    const named = nameCusps(upright, nadirs, ostia);
    expect([named.openingOf.R, named.openingOf.L, named.isMirrored]).toEqual([ostia[0], ostia[1], false]);
    expect(named.margin).toBeGreaterThan(0.5);
  });
  test('names go with the places, whichever nadir is given first and however the frame is turned', () => {
    expect(namesOf(upright, [nadirs[1]!, nadirs[2]!, nadirs[0]!], ostia)).toEqual(['L', 'N', 'R']);
    const back: Vec3 = scale(upright.uLps, -1);
    const turned: RootFrame = { ...upright, uLps: [back[0], back[1], back[2]], vLps: [-upright.vLps[0], -upright.vLps[1], -upright.vLps[2]] };
    expect(namesOf(turned, nadirs.map((n) => n - Math.PI), ostia.map((o) => ({ ...o, azimuthRad: o.azimuthRad - Math.PI })))).toEqual(['R', 'L', 'N']);
  });
  test('a strong artery in each of two sinuses outweighs a patient lying 50 degrees turned', () => {
    for (const deg of [-50, -25, 25, 50]) {
      const [c, s] = [Math.cos((deg * Math.PI) / 180), Math.sin((deg * Math.PI) / 180)];
      const spin = (p: Vec3): Vec3 => [c * p[0] - s * p[1], s * p[0] + c * p[1], p[2]];
      expect(namesOf(makeRootFrame([0, 0, 0], spin(NORMAL), spin([0, -1, 0])), nadirs, ostia)).toEqual(['R', 'L', 'N']);
    }
  });
  test('in a mirrored heart names keep their anatomy and run the other way round', () => {
    // Azimuths of the mirror image run the other way: R 0.1 -> -0.1, L -> -0.1 - 120 degrees.
    const swapped = nadirs.map((n) => -n);
    const arteries = ostia.map((o) => ({ ...o, azimuthRad: -o.azimuthRad }));
    const named = nameCusps(mirrored, [swapped[0]!, swapped[2]!, swapped[1]!], arteries);
    expect(named.isMirrored).toBe(true);
    expect(named.indexOf).toEqual({ R: 0, N: 1, L: 2 });
  });
  test('the right artery alone does not tell L from N: a heart and its mirror image are both doubtful', () => {
    const back = 0.1 + Math.PI;
    const named = nameCusps(upright, nadirs, [ostia[0]!], back);
    expect([named.indexOf, named.margin < 0.5]).toEqual([{ R: 0, L: 1, N: 2 }, true]);
    const image = nameCusps(mirrored, [-nadirs[0]!, -nadirs[2]!, -nadirs[1]!], [{ ...ostia[0]!, azimuthRad: -0.2 }], -back);
    expect([image.indexOf.R, image.margin < 0.5]).toEqual([0, true]);
    // The left artery settles it either way.
    expect(nameCusps(upright, nadirs, [ostia[1]!], back).margin).toBeGreaterThan(0.5);
    const settled = nameCusps(mirrored, [-nadirs[0]!, -nadirs[2]!, -nadirs[1]!], ostia.map((o) => ({ ...o, azimuthRad: -o.azimuthRad })), -back);
    expect([settled.indexOf, settled.margin > 0.5]).toEqual([{ R: 0, N: 1, L: 2 }, true]);
  });
  test('with the atrium seen, two arteries name the cusps however the patient lies', () => {
    const back = 0.1 + Math.PI;
    for (const normal of [[0, 0, -1], [0, 1, 0], [1, 0, 0], [0.6, -0.3, -0.74]] as const) {
      for (const forward of [[1, 0.2, 0.1], [-0.3, 0.1, 1]] as const) {
        const named = nameCusps(makeRootFrame([0, 0, 0], unit(normal), forward), nadirs, ostia, back);
        expect([named.indexOf, named.isMirrored, named.margin > 0.5]).toEqual([{ R: 0, L: 1, N: 2 }, false, true]);
      }
    }
  });
  test('without any artery the direction decides, and the names are doubtful where it leaves two choices', () => {
    expect(namesOf(upright, nadirs, [])).toEqual(['R', 'L', 'N']);
    let before = nameCusps(upright, nadirs, []);
    let changes = 0;
    for (let turn = 0.02; turn < 2 * Math.PI; turn += 0.02) {
      const now = nameCusps(upright, nadirs.map((n) => n + turn), []);
      if (now.indexOf.R !== before.indexOf.R || now.isMirrored !== before.isMirrored) {
        changes++;
        expect(Math.min(now.margin, before.margin)).toBeLessThan(0.1);
      }
      before = now;
    }
    expect(changes).toBeGreaterThanOrEqual(3);
  });
  test('a weak opening in the third sinus does not take the names from two clear arteries', () => {
    expect(namesOf(upright, nadirs, [...ostia, openingAt(0.1 + 2 * THIRD, 1.5, 0.5)])).toEqual(['R', 'L', 'N']);
  });
  test('every name is given exactly once', () => {
    for (const set of [[], ostia, [openingAt(4)], [openingAt(0.1), openingAt(2.2), openingAt(4.3)]]) {
      for (let turn = 0; turn < 6.2; turn += 0.5) {
        expect([...namesOf(upright, nadirs.map((n) => n + turn), set)].sort()).toEqual(['L', 'N', 'R']);
      }
    }
  });
});
