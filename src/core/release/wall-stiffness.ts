import { smoothStep, smoothStepSlope } from './contact-law.ts';
import type { ZoneName } from './release-types.ts';

/**
 * Foundation stiffness of the wall along s, in parts: outflow tract, annulus, leaflet, aorta (mechanics 2, "Wall").
 * Nominal numbers of mechanics 4; the blends are not stated there and were chosen so that its regression numbers come
 * out (docs/methods/release.md, "Chosen to reproduce").
 */
export const STIFFNESS = {
  outflow: 0.06,
  annulus: 0.14,
  leaflet: 0.05,
  aorta: 0.04,
  calcium: 0.4,
} as const;

/** Blends along s, mm; those of the leaflet are for one 9 mm long and are stretched with its length. */
export interface StiffnessBlends {
  readonly riseFromMm: number;
  readonly riseToMm: number;
  readonly fallFromMm: number;
  readonly fallToMm: number;
  readonly fadeFromMm: number;
  readonly fadeToMm: number;
  /** Share of stiffness left at the free edge. */
  readonly fadeLeft: number;
  readonly sinusFromMm: number;
  readonly sinusToMm: number;
  /** Septal side softer, fibrous side stiffer by this share. */
  readonly sideRatio: number;
  readonly sideFromMm: number;
  readonly sideToMm: number;
}
export const LEAFLET_HEIGHT_MM = 9;
/** Fitted, see above: near a rise from -5 to 0 mm, a fall from 0 to 3 and a fade from 6 to 10.5. */
export const DEFAULT_BLENDS: StiffnessBlends = {
  riseFromMm: -4.940762, riseToMm: -0.104462, fallFromMm: -0.000093, fallToMm: 2.984385, fadeFromMm: 5.931047,
  fadeToMm: 10.532796, fadeLeft: 0.261481, sinusFromMm: 10.064003, sinusToMm: 19.1023, sideRatio: 0.262049,
  sideFromMm: -5.479746, sideToMm: -0.998795,
};

/** Slots of one place's parts: value then slope along s. */
export const PART = {
  radius: 0,
  shiftAnnulus: 2,
  shiftOutflow5: 4,
  shiftOutflow10: 6,
  shiftLeaflets: 8,
  zoneOutflow: 10,
  zoneAnnulus: 12,
  zoneLeaflet: 14,
  zoneAorta: 16,
  zoneCalcium: 18,
} as const;
/** Slot of each zone's share in the parts. */
export const ZONE_AT: Readonly<Record<ZoneName, number>> = {
  outflow: PART.zoneOutflow,
  annulus: PART.zoneAnnulus,
  leaflet: PART.zoneLeaflet,
  aorta: PART.zoneAorta,
  calcium: PART.zoneCalcium,
};
export const PART_SLOTS = 20;

/** The wall in parts at one place, written into `out` (PART_SLOTS numbers, each slope after its value). */
export type WallParts = (sMm: number, azimuthRad: number, out: Float64Array) => void;

/**
 * The four elastic zones at one place; calcium is laid over them by `layCalcium`.
 *
 * Units     N/mm3, mm; slopes per mm of s
 * Equation  k = [outflow (1 - a) + annulus a (1 - b) + leaflet b] f (1 - g) + aorta g, each times
 *           (1 - side w cos(azimuth - septal)); a, b, g quintic steps, f falls to fadeLeft
 */
export function computeZones(
  sMm: number,
  azimuthRad: number,
  septalRad: number,
  leafletMm: number,
  blends: StiffnessBlends,
  out: Float64Array,
): void {
  // The leaflet's own blends are stretched with its length above the basal plane.
  const stretch = sMm > 0 ? LEAFLET_HEIGHT_MM / leafletMm : 1;
  const u = sMm * stretch;
  const a = step(u, blends.riseFromMm, blends.riseToMm);
  const da = slope(u, blends.riseFromMm, blends.riseToMm) * stretch;
  const b = step(u, blends.fallFromMm, blends.fallToMm);
  const db = slope(u, blends.fallFromMm, blends.fallToMm) * stretch;
  const f = 1 - (1 - blends.fadeLeft) * step(u, blends.fadeFromMm, blends.fadeToMm);
  const df = -(1 - blends.fadeLeft) * slope(u, blends.fadeFromMm, blends.fadeToMm) * stretch;
  const g = step(u, blends.sinusFromMm, blends.sinusToMm);
  const dg = slope(u, blends.sinusFromMm, blends.sinusToMm) * stretch;
  const w = 1 - step(sMm, blends.sideFromMm, blends.sideToMm);
  const side = blends.sideRatio * Math.cos(azimuthRad - septalRad);
  const m = 1 - w * side;
  const dm = slope(sMm, blends.sideFromMm, blends.sideToMm) * side;
  const h = f * (1 - g);
  const dh = df * (1 - g) - f * dg;
  put(out, PART.zoneOutflow, STIFFNESS.outflow * (1 - a) * h, STIFFNESS.outflow * ((1 - a) * dh - da * h), m, dm);
  const c = a * (1 - b);
  const dc = da * (1 - b) - a * db;
  put(out, PART.zoneAnnulus, STIFFNESS.annulus * c * h, STIFFNESS.annulus * (dc * h + c * dh), m, dm);
  put(out, PART.zoneLeaflet, STIFFNESS.leaflet * b * h, STIFFNESS.leaflet * (db * h + b * dh), m, dm);
  put(out, PART.zoneAorta, STIFFNESS.aorta * g, STIFFNESS.aorta * dg, m, dm);
  out[PART.zoneCalcium] = 0;
  out[PART.zoneCalcium + 1] = 0;
}

function put(out: Float64Array, at: number, value: number, slopeValue: number, m: number, dm: number): void {
  out[at] = value * m;
  out[at + 1] = slopeValue * m + value * dm;
}

/** Replaces a share `g` (slope dg) of whatever is there by calcium. */
export function layCalcium(out: Float64Array, g: number, dg: number): void {
  for (let at: number = PART.zoneOutflow; at <= PART.zoneCalcium; at += 2) {
    out[at + 1] = out[at + 1]! * (1 - g) - out[at]! * dg;
    out[at]! *= 1 - g;
  }
  out[PART.zoneCalcium]! += STIFFNESS.calcium * g;
  out[PART.zoneCalcium + 1]! += STIFFNESS.calcium * dg;
}

export function step(s: number, from: number, to: number): number {
  return smoothStep((s - from) / (to - from));
}
export function slope(s: number, from: number, to: number): number {
  return smoothStepSlope((s - from) / (to - from)) / (to - from);
}
