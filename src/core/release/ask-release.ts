import { fail, succeed, type Result } from '../result.ts';
import type { Device, DeviceSize } from '../device/device-types.ts';
import type { RootSurvey } from '../root/root-types.ts';
import type { FactStamp } from '../units/fact.ts';
import { makeFrameFromRow, type FrameFailureCode } from './frame-shape.ts';
import type { ReleaseQuestion } from './forecast-release.ts';
import { LIMITS, type ReleaseEvidence } from './refuse-release.ts';
import type { FrameModel, ReleaseChoice, WallGrid } from './release-types.ts';
import { makeMeasuredSurface, type MeasuredSurface, type SurfaceFailureCode } from './surface-from-survey.ts';
import { computePressure, joinSprings } from './contact-law.ts';
import { combineWall, makeWallBasis, NOMINAL_WALL, sizeWallGrid } from './wall-grid.ts';

export type AskFailureCode = SurfaceFailureCode | FrameFailureCode | 'release-frame-not-self-expanding';

/** What a person or the scan says beside the survey; null where nobody knows. */
export interface CaseFacts {
  readonly sliceMm: number;
  readonly phaseDifferenceMm: number | null;
  readonly hasMetal: boolean;
  readonly anatomy: ReleaseEvidence['anatomy'];
  readonly coaxialityDeg: number | null;
}
export interface ReleaseSettings {
  readonly startMm: number;
  readonly sweepMm: readonly number[];
  readonly releases: number;
  readonly seed: number;
  readonly choice: ReleaseChoice;
}

/**
 * The question for one measured root, one size of the device table and one choice of start.
 * Fails     release-frame-not-self-expanding, frame-shape-implausible, release-wall-incomplete, release-ring-refused
 */
export function askRelease(
  root: RootSurvey,
  kind: Device['kind'],
  size: DeviceSize,
  facts: CaseFacts,
  settings: ReleaseSettings,
  stamp: FactStamp,
): Result<ReleaseQuestion, AskFailureCode> {
  if (kind !== 'self-expanding') {
    return fail('release-frame-not-self-expanding', 'Only self-expanding frames are modelled; this one is opened by a balloon.',
      'Read the landing window of this size; there is no release forecast for it.', { size: size.label });
  }
  const row = { ...size.frame, recaptureRatio: size.recaptureFraction };
  const frame = makeFrameFromRow(row);
  if (!frame.ok) return frame;
  const fineFrame = makeFrameFromRow(row, 0.5);
  if (!fineFrame.ok) return fineFrame;
  const surface = makeMeasuredSurface(root);
  if (!surface.ok) return surface;
  const basis = makeWallBasis(surface.value.parts, surface.value.spread.narrowingMid, sizeWallGrid(frame.value.heightMm));
  return succeed({
    frame: frame.value,
    fineFrame: fineFrame.value,
    basis,
    spread: surface.value.spread,
    cusps: surface.value.cusps,
    evidence: gatherEvidence(root, frame.value, surface.value, combineWall(basis, NOMINAL_WALL), facts, settings.startMm),
    stamp,
    ...settings,
  });
}

/** What the refusal rules look at, from the survey's own numbers. */
export function gatherEvidence(
  root: RootSurvey,
  frame: FrameModel,
  surface: MeasuredSurface,
  wall: WallGrid,
  facts: CaseFacts,
  startMm: number,
): ReleaseEvidence {
  const ring = root.basalRing;
  const annulusMm = 2 * surface.annulusMm;
  const curtain = middleOf(surface.cusps.L, surface.cusps.N);
  return {
    measuredMm: surface.measuredMm,
    largestGapDeg: surface.largestGapDeg,
    sliceMm: facts.sliceMm,
    phaseDifferenceMm: facts.phaseDifferenceMm,
    hasMetal: facts.hasMetal,
    anatomy: facts.anatomy,
    oversizeRatio: (2 * frame.freeRadiusMm[0]! - annulusMm) / annulusMm,
    minOverMaxRatio: (ring.minDiameterMm.value ?? NaN) / (ring.maxDiameterMm.value ?? NaN),
    bulgeMm: root.septum.bulgeMm.value,
    steepRatio: measureSteepRatio(frame, wall, startMm),
    blocks: surface.deposits.map((d) => ({
      widthDeg: d.widthDeg,
      protrusionMm: d.inwardMm,
      isOnCurtain: d.centreMm < 0 && Math.cos(d.azimuthRad - curtain) > Math.cos(CURTAIN_RAD),
    })),
    angulationDeg: root.angulationDeg.value,
    coaxialityDeg: facts.coaxialityDeg,
  };
}

/** The aorto-mitral curtain reaches this far to each side of the middle between L and N nadirs. */
const CURTAIN_RAD = Math.PI / 4;
function middleOf(a: number, b: number): number {
  return Math.atan2(Math.sin(a) + Math.sin(b), Math.cos(a) + Math.cos(b));
}

/** Share of the nominal grip of the released frame that stands on walls steeper than 0.5 (rule 11). */
export function measureSteepRatio(frame: FrameModel, wall: WallGrid, depthMm: number): number {
  let grip = 0;
  let steep = 0;
  const offset = Math.round((-depthMm - wall.lowMm) / wall.stepMm);
  for (let i = 0; i < frame.ringMm.length; i++) {
    const row = offset + Math.round(frame.ringMm[i]! / wall.stepMm);
    if (row < 0 || row >= wall.rows) continue;
    for (let j = 0; j < wall.sectors; j++) {
      const at = row * wall.sectors + j;
      const k = joinSprings(frame.stiffnessNPerMm3[i]!, wall.stiffnessNPerMm3[at]!);
      const force = computePressure(k, frame.freeRadiusMm[i]! - wall.radiusMm[at]!, frame.plateauNPerMm2) * frame.weightMm[i]! * frame.freeRadiusMm[i]!;
      grip += force;
      if (Math.abs(wall.radiusSlope[at]!) > LIMITS.steepSlope) steep += force;
    }
  }
  return grip > 0 ? steep / grip : 0;
}
