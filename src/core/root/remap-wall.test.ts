import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { lobedRadiusMm, makeSurveyFixture } from '../../../test/support/survey-document-fixtures.ts';
import { makeWallTable, PLAIN_FRAME } from '../../../test/support/survey-fixtures.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { BASAL, measureCut } from './map-wall.ts';
import { findCutCentre, readWall, remapWall } from './remap-wall.ts';
import { cylinderFromLps, lpsFromCylinder, makeRootFrame } from './root-frame.ts';

const size = { heights: 121, azimuths: 96, lowMm: -16, stepMm: 0.5 };
const tube = makeWallTable(size, () => 12);
const tilted = (deg: number, originLps: readonly [number, number, number] = [0, 0, 0]) =>
  makeRootFrame(originLps, [Math.sin((deg * Math.PI) / 180), 0, Math.cos((deg * Math.PI) / 180)], [20, 0, 0]);
const POLYGON: Tolerance = { relative: 2e-4, absolute: 0, from: 'ring of 360 chords' };

describe(`remapWall (seed ${seed})`, () => {
  test('gives the same wall in the same frame', () => {
    const { wall } = makeSurveyFixture();
    const again = remapWall(wall, PLAIN_FRAME, PLAIN_FRAME);
    expect(again.wall.heights).toBe(121);
    expect([again.lowMm, again.highMm]).toEqual([-16, 44]);
    again.wall.radiusMm.forEach((r, i) => expectWithin(r, wall.radiusMm[i]!, { relative: 0, absolute: 1e-5, from: 'where the ray is said to have met the wall' }));
    again.sourceCell.forEach((c, i) => expect(c).toBe(i));
  });
  test('a tube cut at an angle is an ellipse of known area, wherever the axis stands', () => {
    for (const deg of [0, 4, 9, 15]) {
      const { wall } = remapWall(tube, PLAIN_FRAME, tilted(deg, [1.5, -1, 3]));
      expectWithin(measureCut(wall, BASAL, 0).areaMm2, (Math.PI * 144) / Math.cos((deg * Math.PI) / 180), POLYGON);
    }
  });
  test('every point of the new wall lies on the old one', () => {
    fc.assert(fc.property(fc.double({ min: -12, max: 12, noNaN: true }), fc.double({ min: -3, max: 3, noNaN: true }), fc.double({ min: -3, max: 3, noNaN: true }), (deg, x, z) => {
      const { wall } = makeSurveyFixture();
      const frame = tilted(deg, [x, 0.5, z]);
      const { wall: moved, lowMm, highMm } = remapWall(wall, PLAIN_FRAME, frame);
      for (const [a, h] of [[0, 30], [17, 60], [50, 44], [95, 80]] as const) {
        const heightMm = moved.lowMm + h * moved.stepMm;
        if (heightMm < lowMm || heightMm > highMm) continue;
        const p = cylinderFromLps(PLAIN_FRAME, lpsFromCylinder(frame, { azimuthRad: (2 * Math.PI * a) / 96, heightMm, radiusMm: moved.radiusMm[h * 96 + a]! }));
        expectWithin(p.radiusMm, readWall(wall, p.azimuthRad, p.heightMm), { relative: 0, absolute: 1e-5, from: 'where the ray is said to have met the wall' });
      }
    }), { ...replay, numRuns: 20 });
  });
  test('says how far it reaches: a plane pushed down leaves the old wall at its foot', () => {
    const { lowMm, highMm } = remapWall(tube, PLAIN_FRAME, tilted(0, [0, 0, -3]));
    expect([lowMm, highMm]).toEqual([-13, 44]);
    expect(remapWall(tube, PLAIN_FRAME, tilted(0, [0, 0, 3])).highMm).toBe(41);
  });
});

describe('findCutCentre', () => {
  test('finds the middle of a tube from a plane anywhere along it', () => {
    const away = makeWallTable(size, (rad) => Math.sqrt(144 - 4 * Math.sin(rad) ** 2) + 2 * Math.cos(rad)); // circle of 12 mm about x = 2
    const centre = findCutCentre(away, PLAIN_FRAME, { pointLps: [0, 0, 4], normalLps: [0, 0, 1] });
    [2, 0, 4].forEach((v, i) => expectWithin(centre[i]!, v, { relative: 0, absolute: 2e-3, from: 'polygon of 96 points' }));
  });
  test('lies on the plane', () => {
    const wall = makeWallTable(size, lobedRadiusMm);
    const n = tilted(10).normalLps;
    const c = findCutCentre(wall, PLAIN_FRAME, { pointLps: [0, 0, 2], normalLps: n });
    expectWithin((c[0] - 0) * n[0] + c[1] * n[1] + (c[2] - 2) * n[2], 0, { relative: 0, absolute: 1e-9, from: 'rounding' });
  });
});
