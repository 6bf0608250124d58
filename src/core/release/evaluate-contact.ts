import { computeEnergy, computeEnergySlope, computePressure, computeSeriesSlope, joinSprings } from './contact-law.ts';
import { computeRingRadius } from './frame-shape.ts';
import type { ContactSurface, FrameModel, WallPoint } from './release-types.ts';

export interface ContactSum {
  /** Stored energy (2.5), N mm. */
  readonly energyNMm: number;
  /** -dE/dz (2.6), N, + up; up and down are the sums of the patch terms of each sign (both >= 0). */
  readonly driveN: number;
  readonly upN: number;
  readonly downN: number;
  /** Sum of the normal forces (2.7), N. */
  readonly gripN: number;
}

/**
 * Energy, drive and grip of one position, term by term: the clear version that `tabulateRelease` is compared with, and
 * the one for positions between the grid's.
 *
 * Units     z of the inflow edge in mm above the basal plane; unsheathedRatio 0 to 1
 */
export function evaluateContact(
  frame: FrameModel,
  surface: ContactSurface,
  zMm: number,
  unsheathedRatio: number,
  options: { readonly sectors?: number; readonly biasMm?: number; readonly biasAzimuthRad?: number } = {},
): ContactSum {
  const sectors = options.sectors ?? 24;
  const point: WallPoint = { radiusMm: 0, radiusSlope: 0, stiffnessNPerMm3: 0, stiffnessSlope: 0 };
  let energyNMm = 0;
  let upN = 0;
  let downN = 0;
  let gripN = 0;
  for (let i = 0; i < frame.ringMm.length; i++) {
    const radius = computeRingRadius(frame, i, unsheathedRatio);
    const kf = frame.stiffnessNPerMm3[i]!;
    const area = frame.weightMm[i]! * frame.freeRadiusMm[i]! * ((2 * Math.PI) / sectors);
    for (let j = 0; j < sectors; j++) {
      const azimuth = (2 * Math.PI * j) / sectors;
      surface(frame.ringMm[i]! + zMm, azimuth, point);
      const bias = (options.biasMm ?? 0) * Math.cos(azimuth - (options.biasAzimuthRad ?? 0));
      const overlap = radius - point.radiusMm + bias;
      if (!(overlap > 0)) continue;
      const k = joinSprings(kf, point.stiffnessNPerMm3);
      const p = computePressure(k, overlap, frame.plateauNPerMm2);
      const slope = computeEnergySlope(k, overlap, frame.plateauNPerMm2) * computeSeriesSlope(kf, point.stiffnessNPerMm3);
      const drive = area * (p * point.radiusSlope - slope * point.stiffnessSlope);
      energyNMm += area * computeEnergy(k, overlap, frame.plateauNPerMm2);
      gripN += area * p;
      if (drive > 0) upN += drive;
      else downN -= drive;
    }
  }
  return { energyNMm, driveN: upN - downN, upN, downN, gripN };
}
