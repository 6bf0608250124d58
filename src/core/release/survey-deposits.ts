import { makeSurveyFrame } from '../root/make-survey-frame.ts';
import { cylinderFromLps } from '../root/root-frame.ts';
import type { RootSurvey } from '../root/root-types.ts';
import { wrapAngle, type WallBump } from './contact-surface.ts';
import { SMOOTHING_MM } from './smooth-wall-map.ts';
import { layCalcium, PART } from './wall-stiffness.ts';

/** A deposit as the frame meets it, before smoothing. */
export interface DepositShape {
  readonly inwardMm: number;
  readonly widthDeg: number;
  readonly centreMm: number;
  readonly azimuthRad: number;
}
const LEAST_INWARD_MM = 0.3;
const SMOOTHING_SD_MM = SMOOTHING_MM / 2.3548;

/**
 * Calcium of the survey as Gaussian bumps of the contact surface.
 *
 * A deposit is as thick as it protrudes, but no thicker than a ball of its volume. Below the basal plane all of that
 * stands inward of the wall. Above it the deposit sits in the pushed-aside leaflet: half of it toward the frame, the
 * other half into the room behind the leaflet, and what finds no room there comes inward too (assumption).
 * Each bump is smoothed like the wall itself (3 mm full width), its volume kept.
 *
 * Units     mm, degrees, rad; `roomMm` = free width behind the leaflet at a height and azimuth
 */
export function readDeposits(
  root: RootSurvey,
  annulusMm: number,
  roomMm: (sMm: number, azimuthRad: number) => number,
): { readonly bumps: readonly WallBump[]; readonly deposits: readonly DepositShape[] } {
  const frame = makeSurveyFrame(root);
  const bumps: WallBump[] = [];
  const deposits: DepositShape[] = [];
  for (const d of root.calcium?.deposits ?? []) {
    const thickMm = Math.min(d.protrusionMm, 2 * Math.cbrt((3 * d.volumeMm3) / (4 * Math.PI)));
    if (!(thickMm >= LEAST_INWARD_MM)) continue;
    const { azimuthRad } = cylinderFromLps(frame, d.centreLps);
    const half = thickMm / 2;
    const inwardMm = d.heightMm <= 0 ? thickMm : half + Math.max(0, half - roomMm(d.heightMm, azimuthRad));
    const acrossMm = Math.sqrt((3 * d.volumeMm3) / (2 * Math.PI * thickMm)); // half-axis of the ellipsoid along the wall
    const bareSdMm = acrossMm / Math.SQRT2;
    const spreadMm = Math.hypot(bareSdMm, SMOOTHING_SD_MM);
    const toDeg = 180 / Math.PI / annulusMm;
    deposits.push({ inwardMm, widthDeg: 2 * acrossMm * toDeg, centreMm: d.heightMm, azimuthRad });
    bumps.push({
      inwardMm: inwardMm * (bareSdMm / spreadMm) ** 2,
      centreMm: d.heightMm,
      spreadMm,
      spreadDeg: spreadMm * toDeg,
      azimuthRad,
    });
  }
  return { bumps, deposits };
}

/** Overlapping deposits do not add up: the radius is lowered by their fourth-power mean, a smooth largest of them. */
const POWER = 4;

/** Takes the bumps off the radius and lays their share of calcium over the wall's stiffness. */
export function lowerByDeposits(out: Float64Array, bumps: readonly WallBump[], sMm: number, azimuthRad: number): void {
  let sum = 0;
  let sumSlope = 0;
  for (const b of bumps) {
    const u = (sMm - b.centreMm) / b.spreadMm;
    const turn = wrapAngle(azimuthRad - b.azimuthRad) / ((b.spreadDeg * Math.PI) / 180);
    const g = Math.exp(-0.5 * (u * u + turn * turn));
    const dg = (-u / b.spreadMm) * g;
    const low = b.inwardMm * g;
    sum += low ** POWER;
    sumSlope += POWER * low ** (POWER - 1) * b.inwardMm * dg;
    layCalcium(out, g, dg);
  }
  if (!(sum > 1e-40)) return;
  const lowered = sum ** (1 / POWER);
  out[PART.radius]! -= lowered;
  out[PART.radius + 1]! -= (lowered / (POWER * sum)) * sumSlope;
}
