import type { ContactSurface } from './release-types.ts';
import { ZONES } from './release-types.ts';
import { computeZones, layCalcium, LEAFLET_HEIGHT_MM, PART, PART_SLOTS, slope, step, ZONE_AT, type StiffnessBlends, type WallParts } from './wall-stiffness.ts';

/** A smooth inward bump: depth, centre along s, spread along s (mm) and around (degrees), direction. */
export interface WallBump {
  readonly inwardMm: number;
  readonly centreMm: number;
  readonly spreadMm: number;
  readonly spreadDeg: number;
  readonly azimuthRad: number;
}
/** A root in closed form (mechanics 6). */
export interface AnalyticRoot {
  readonly annulusMm: number;
  readonly outflow5Mm: number;
  readonly outflow10Mm: number;
  readonly bulge: WallBump | null;
  readonly calcium: WallBump | null;
  /** R at the leaflet tips = Ra (1 - narrowing). */
  readonly narrowing: number;
  readonly leafletMm: number;
  readonly sinusMm: number;
  readonly junctionMm: number;
  readonly ascendingMm: number;
  readonly septalRad: number;
  readonly blends: StiffnessBlends;
}

/** Where the wall opens above the leaflets, mm for a leaflet of 9 mm; fitted like the blends of wall-stiffness.ts. */
export const OPENING = { fromMm: 9.277892, toMm: 15.500342, junctionMm: 21, ascendingMm: 40.862129 } as const;
const DEEP_MM = -10;
const MIDDLE_MM = -5;

/**
 * Radius and stiffness parts of a closed-form root. Levels are joined by quintic steps: -10, -5, 0, leaflet tips,
 * sinus, junction, ascending aorta; bumps are Gaussian in s and azimuth.
 */
export function makeAnalyticParts(root: AnalyticRoot): WallParts {
  const stretch = root.leafletMm / LEAFLET_HEIGHT_MM;
  const openFrom = OPENING.fromMm * stretch;
  const openTo = OPENING.toMm * stretch;
  return (s, azimuthRad, out) => {
    const deep = step(s, DEEP_MM, MIDDLE_MM);
    const dDeep = slope(s, DEEP_MM, MIDDLE_MM);
    const mid = step(s, MIDDLE_MM, 0);
    const dMid = slope(s, MIDDLE_MM, 0);
    const tip = step(s, 0, root.leafletMm);
    const dTip = slope(s, 0, root.leafletMm);
    const open = step(s, openFrom, openTo);
    const dOpen = slope(s, openFrom, openTo);
    // Sinus, junction and ascending aorta above the leaflets.
    const top =
      root.sinusMm +
      (root.junctionMm - root.sinusMm) * step(s, openTo, OPENING.junctionMm * stretch) +
      (root.ascendingMm - root.junctionMm) * step(s, OPENING.junctionMm * stretch, OPENING.ascendingMm * stretch);
    const dTop =
      (root.junctionMm - root.sinusMm) * slope(s, openTo, OPENING.junctionMm * stretch) +
      (root.ascendingMm - root.junctionMm) * slope(s, OPENING.junctionMm * stretch, OPENING.ascendingMm * stretch);
    const narrowed = 1 - root.narrowing * tip;
    const dNarrowed = -root.narrowing * dTip;
    const below = 1 - open;
    setPart(out, PART.shiftOutflow10, 1 - deep, -dDeep);
    setPart(out, PART.shiftOutflow5, deep * (1 - mid), dDeep * (1 - mid) - deep * dMid);
    setPart(out, PART.shiftAnnulus, mid * narrowed * below, (dMid * narrowed + mid * dNarrowed) * below - mid * narrowed * dOpen);
    setPart(out, PART.shiftLeaflets, -root.annulusMm * tip * below, -root.annulusMm * (dTip * below - tip * dOpen));
    const at = out;
    at[PART.radius] =
      root.outflow10Mm * at[PART.shiftOutflow10]! + root.outflow5Mm * at[PART.shiftOutflow5]! +
      root.annulusMm * at[PART.shiftAnnulus]! + top * open;
    at[PART.radius + 1] =
      root.outflow10Mm * at[PART.shiftOutflow10 + 1]! + root.outflow5Mm * at[PART.shiftOutflow5 + 1]! +
      root.annulusMm * at[PART.shiftAnnulus + 1]! + top * dOpen + dTop * open;
    computeZones(s, azimuthRad, root.septalRad, root.leafletMm, root.blends, out);
    if (root.bulge) lowerRadius(out, root.bulge, s, azimuthRad, false);
    if (root.calcium) lowerRadius(out, root.calcium, s, azimuthRad, true);
  };
}

function setPart(out: Float64Array, at: number, value: number, slopeValue: number): void {
  out[at] = value;
  out[at + 1] = slopeValue;
}

/** Takes a Gaussian bump off the radius; calcium also replaces the wall's stiffness by the same share. */
export function lowerRadius(out: Float64Array, bump: WallBump, s: number, azimuthRad: number, isCalcium: boolean): void {
  const u = (s - bump.centreMm) / bump.spreadMm;
  const turn = wrapAngle(azimuthRad - bump.azimuthRad) / ((bump.spreadDeg * Math.PI) / 180);
  const g = Math.exp(-0.5 * (u * u + turn * turn));
  const dg = (-u / bump.spreadMm) * g;
  out[PART.radius]! -= bump.inwardMm * g;
  out[PART.radius + 1]! -= bump.inwardMm * dg;
  if (isCalcium) layCalcium(out, g, dg);
}

/** Into (-pi, pi]. */
export function wrapAngle(rad: number): number {
  const turn = 2 * Math.PI;
  const r = rad - turn * Math.floor((rad + Math.PI) / turn);
  return r;
}


/** The nominal wall from its parts: every factor 1, every shift 0. */
export function makeContactSurface(parts: WallParts): ContactSurface {
  const work = new Float64Array(PART_SLOTS);
  return (s, azimuthRad, out) => {
    parts(s, azimuthRad, work);
    out.radiusMm = work[PART.radius]!;
    out.radiusSlope = work[PART.radius + 1]!;
    let k = 0;
    let dk = 0;
    for (const zone of ZONES) {
      k += work[ZONE_AT[zone]]!;
      dk += work[ZONE_AT[zone] + 1]!;
    }
    out.stiffnessNPerMm3 = k;
    out.stiffnessSlope = dk;
  };
}
