/** Frames and walls in closed form for the release model's verification. */
import { makeContactSurface, makeAnalyticParts, type AnalyticRoot } from '../../src/core/release/contact-surface.ts';
import type { ReleaseQuestion } from '../../src/core/release/forecast-release.ts';
import { makeFrame, makeGenericFrame } from '../../src/core/release/frame-shape.ts';
import type { ReleaseEvidence } from '../../src/core/release/refuse-release.ts';
import type { ContactSurface, FrameModel, ReleaseInputs, ReleaseTables } from '../../src/core/release/release-types.ts';
import { tabulateRelease, makeReleaseTables } from '../../src/core/release/tabulate-release.ts';
import { DEFAULT_CHOICE, DEFAULT_SPREAD } from '../../src/core/release/sample-inputs.ts';
import { makeWallBasis, sizeWallGrid, tabulateWall } from '../../src/core/release/wall-grid.ts';

/** A plain tube as frame. */
export function makeTube(radiusMm = 13, heightMm = 20, stiffness = 0.1, ringStepMm = 1, plateauNPerMm2 = 0.2): FrameModel {
  const frame = makeFrame({
    heightMm, ringStepMm, waistHeightMm: heightMm / 2, radiusMm: () => radiusMm, stiffnessNPerMm3: () => stiffness,
    forceSource: 'generic', recaptureRatio: null,
  });
  return { ...frame, plateauNPerMm2 };
}

/** A round wall from its radius and slope, with even stiffness. */
export function makeRoundWall(radius: (s: number) => number, slope: (s: number) => number, stiffness = 0.14): ContactSurface {
  return (s, _azimuth, out) => {
    out.radiusMm = radius(s);
    out.radiusSlope = slope(s);
    out.stiffnessNPerMm3 = stiffness;
    out.stiffnessSlope = 0;
  };
}
export const makeCylinderWall = (radiusMm: number, stiffness = 0.14): ContactSurface =>
  makeRoundWall(() => radiusMm, () => 0, stiffness);
/** Widens upward for a positive half-angle. */
export const makeConeWall = (radiusMm: number, halfAngleRad: number): ContactSurface =>
  makeRoundWall((s) => radiusMm + s * Math.tan(halfAngleRad), () => Math.tan(halfAngleRad));
/** R = radius + bend (s - centre)^2: a throat for a positive bend, a basin for a negative one. */
export const makeBentWall = (radiusMm: number, bend: number, centreMm: number): ContactSurface =>
  makeRoundWall((s) => radiusMm + bend * (s - centreMm) ** 2, (s) => 2 * bend * (s - centreMm));

export const readRoot = (root: AnalyticRoot): ContactSurface => makeContactSurface(makeAnalyticParts(root));

export function tabulate(frame: FrameModel, surface: ContactSurface, stepMm = 0.5): ReleaseTables {
  const wall = tabulateWall(surface, sizeWallGrid(frame.heightMm, Math.min(0.5, stepMm)));
  return tabulateRelease(wall, { frame, frameFactor: 1, biasMm: 0, biasAzimuthRad: 0 }, makeReleaseTables(undefined, stepMm));
}

/** A question on a closed-form root with nothing to refuse in its evidence. */
export function askReference(root: AnalyticRoot, change: Partial<ReleaseQuestion> = {}): ReleaseQuestion {
  return {
    frame: { ...makeGenericFrame(), forceSource: 'bench', recaptureRatio: 0.8 },
    fineFrame: makeGenericFrame(0.5),
    basis: makeWallBasis(makeAnalyticParts(root), root.narrowing, sizeWallGrid(45)),
    spread: DEFAULT_SPREAD,
    cusps: { R: 0, L: (2 * Math.PI) / 3, N: (4 * Math.PI) / 3 },
    evidence: SOUND_EVIDENCE,
    choice: { ...DEFAULT_CHOICE, tension: 'neutral' },
    startMm: 4,
    sweepMm: [],
    releases: 120,
    seed: 11,
    stamp: { by: 'test', at: '2026-03-02T08:11:00Z' },
    ...change,
  };
}
export const SOUND_EVIDENCE: ReleaseEvidence = {
  measuredMm: [-12, 40], largestGapDeg: 0, sliceMm: 0.6, phaseDifferenceMm: 0.2, hasMetal: false, anatomy: 'three cusps',
  oversizeRatio: 0.13, minOverMaxRatio: 0.82, bulgeMm: 0, steepRatio: 0, blocks: [], angulationDeg: 47, coaxialityDeg: null,
};

/** No loads, no catheter, no hysteresis: what a test does not name is absent. */
export const BARE: ReleaseInputs = {
  startMm: 0, friction: 0, interlockN: 0, loadingRatio: 1, systolicGripRatio: 1, catheterNPerMm: 0, dragN: 0, storedN: 0,
  systolicN: 0, diastolicN: 0, obstructedN: 0, paceBpm: 0,
};
