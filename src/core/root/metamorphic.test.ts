import { describe, expect, test } from 'vitest';
import { compareSurveys, flipAxis, reorderAxes, SURVEY_STAMP, type SurveyChange } from '../../../test/support/survey-fixtures.ts';
import { drawPhantom } from '../phantom/draw-phantom.ts';
import { makeSeededShape } from '../phantom/draw-seeded-shape.ts';
import { cutToRoot } from '../phantom/phantom-variants.ts';
import type { PhantomPose, PhantomScan, PhantomShape } from '../phantom/phantom-types.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import type { RootSurvey, Xyz } from './root-types.ts';
import { surveyRoot } from './survey-root.ts';

/**
 * One root, scanned again in ways that must not change it. Two answers agree when they differ by less than both
 * intervals together allow: |a - b| <= hypot(half-width a, half-width b).
 */
const SEED = 7;
const EDGE_MM = 84;
const made = makeSeededShape(SEED);
const shape = made.shape;
const scan = cutToRoot(shape, { ...made.scan, spacingMm: [0.5, 0.5, 0.6], sliceThicknessMm: 0.6 }, EDGE_MM);

/** Left out. Angulation: it turns with the patient. */
const LEFT_OUT = /^angulationDeg/;

const surveyOf = (volume: CtVolume): RootSurvey => {
  const answer = surveyRoot(volume, { stamp: SURVEY_STAMP, doubts: [] });
  if (!answer.ok) throw new Error(`${answer.failure.code} ${JSON.stringify(answer.failure.evidence)}`);
  return answer.value.root;
};
const drawn = drawPhantom(shape, scan).volume;
const base = surveyOf(drawn);

function expectSameRoot(root: RootSurvey, pose: PhantomPose = shape.pose, isLeftOut = LEFT_OUT): void {
  const changes: readonly SurveyChange[] = compareSurveys(base, shape.pose, root, pose).filter((c) => !isLeftOut.test(c.path));
  expect(changes.length).toBeGreaterThan(150);
  expect(changes.filter((c) => !(c.ratio <= 1)).map((c) => c.text)).toEqual([]);
}
const rescan = (change: Partial<PhantomScan>): RootSurvey => surveyOf(drawPhantom(shape, { ...scan, ...change }).volume);
const repose = (change: Partial<PhantomPose>): { root: RootSurvey; pose: PhantomPose } => {
  const pose = { ...shape.pose, ...change };
  const turned: PhantomShape = { ...shape, pose };
  return { root: surveyOf(drawPhantom(turned, scan).volume), pose };
};
const resample = (mm: number): RootSurvey => {
  const voxels = Math.round(EDGE_MM / mm);
  return rescan({ dims: [voxels, voxels, voxels], spacingMm: [mm, mm, mm], sliceThicknessMm: mm });
};

describe(`surveyRoot gives the same root within its intervals (phantom seed ${SEED})`, () => {
  test('with half the noise', () => expectSameRoot(rescan({ noise: { ...scan.noise, sdHu: scan.noise.sdHu / 2 } })));
  test('with twice the noise', () => expectSameRoot(rescan({ noise: { ...scan.noise, sdHu: scan.noise.sdHu * 2 } })));
  test('on voxels of 0.35 mm', () => expectSameRoot(resample(0.35)));
  // A deposit of 40 mm3 is 80 such voxels: which of them count is not in the interval of one cusp (1.16 of it seen).
  test('on voxels of 0.8 mm, calcium by cusp apart', () => expectSameRoot(resample(0.8), shape.pose, /^(angulationDeg|calcium\.byCuspMm3)/));
  test('on a grid shifted by parts of a voxel, with a gantry tilted by 12 degrees', () => {
    const [x, y, z] = scan.centreLps;
    const centreLps: Xyz = [x + 0.37 * scan.spacingMm[0], y - 0.41 * scan.spacingMm[1], z + 0.29 * scan.spacingMm[2]];
    expectSameRoot(rescan({ centreLps, gantryTiltDeg: 12 }));
  });
  test('with the patient turned by 60 degrees about a slanted axis', () => {
    const { root, pose } = repose({ turn: { axisLps: [1, 0.5, 0], angleDeg: 60 } });
    expectSameRoot(root, pose);
  });
  test('with the patient turned half around: names go with the anatomy, not with the table', () => {
    const { root, pose } = repose({ turn: { axisLps: [0, 0, 1], angleDeg: shape.pose.turn.angleDeg + 180 } });
    expectSameRoot(root, pose);
  });
  test('upside down, head and feet mixed up in the header: the anatomy tells which way is up', () => {
    const pose: PhantomPose = { ...shape.pose, turn: { axisLps: [0, 1, 0], angleDeg: 180 } };
    const [x, y, z] = scan.centreLps;
    // The cube reaches 6 mm farther on the side of the aorta, as it does upright.
    const centreLps: Xyz = [x, y, z - 12];
    expectSameRoot(surveyOf(drawPhantom({ ...shape, pose }, { ...scan, centreLps }).volume), pose);
  });
  test('in the mirror: R, L and N stay with their cusps', () => {
    const { root, pose } = repose({ isMirrored: true });
    expectSameRoot(root, pose);
  });
  test('stored from head to feet, from right to left and with its axes in another order', () => {
    expectSameRoot(surveyOf(reorderAxes(flipAxis(flipAxis(drawn, 2), 0), [2, 0, 1])));
  });
});
