import type { Junction, WallTable } from './find-junction.ts';
import { BASAL, cutRing } from './map-wall.ts';
import { ringCentroid, smoothRing } from './measure-ring.ts';
import type { ByCusp, Cusp } from './root-types.ts';
import { CUSPS } from './root-types.ts';

export interface Sector {
  readonly from: number;
  readonly to: number;
}
const TURN = 2 * Math.PI;
export const wrapTurn = (a: number): number => a - TURN * Math.floor(a / TURN);
export const isInSector = (rad: number, s: Sector): boolean => wrapTurn(rad - s.from) <= wrapTurn(s.to - s.from);

const MIDDLE_RAD = 0.7;

export interface SinusMeasures {
  readonly widthMm: ByCusp<number>;
  readonly heightMm: ByCusp<number>;
  readonly widestHeightMm: number;
}

/**
 * Widths in the plane, parallel to the basal one, where the sinuses are widest: from the cusp's wall point farthest from
 * the ring's centroid, through the centroid, to the far wall. Heights: basal plane to junction at the nadir's azimuth.
 */
export function measureSinuses(table: WallTable, junction: Junction, sectors: ByCusp<Sector>, nadirRad: ByCusp<number>): SinusMeasures {
  const fine = smoothRing(cutRing(table, BASAL, junction.widestHeightMm));
  const [cx, cy] = ringCentroid(fine);
  const n = fine.length;
  const fromCentroid = (i: number): { r: number; rad: number } => {
    const t = (TURN * i) / n;
    const x = fine[i]! * Math.cos(t) - cx;
    const y = fine[i]! * Math.sin(t) - cy;
    return { r: Math.hypot(x, y), rad: Math.atan2(y, x) };
  };
  const points = Array.from({ length: n }, (_, i) => ({ ...fromCentroid(i), azimuth: (TURN * i) / n }));
  const across = (rad: number): number => {
    let best = points[0]!;
    let off = Infinity;
    for (const p of points) {
      const d = Math.abs(Math.atan2(Math.sin(p.rad - rad), Math.cos(p.rad - rad)));
      if (d < off) {
        off = d;
        best = p;
      }
    }
    return best.r;
  };
  const width = (c: Cusp): number => {
    let far = { r: -1, rad: 0 };
    // Near a commissure the neighbouring sinus may reach farther: only the middle of the cusp is looked at.
    for (const p of points) {
      const off = Math.abs(Math.atan2(Math.sin(p.azimuth - nadirRad[c]), Math.cos(p.azimuth - nadirRad[c])));
      if (off < MIDDLE_RAD && isInSector(p.azimuth, sectors[c]) && p.r > far.r) far = p;
    }
    return far.r + across(far.rad + Math.PI);
  };
  const height = (c: Cusp): number => {
    const a = Math.round((wrapTurn(nadirRad[c]) / TURN) * table.azimuths) % table.azimuths;
    return junction.heightsMm[a]!;
  };
  const byCusp = (f: (c: Cusp) => number): ByCusp<number> => ({ R: f(CUSPS[0]!), L: f(CUSPS[1]!), N: f(CUSPS[2]!) });
  return { widthMm: byCusp(width), heightMm: byCusp(height), widestHeightMm: junction.widestHeightMm };
}

export interface SeptumMeasures {
  readonly bulgeMm: number;
  readonly bulgeHeightMm: number;
  readonly angleDeg: number;
  readonly azimuthRad: number;
}

/**
 * How far the septal wall stands inside the ring: largest fall of the radius from the plane to 12 mm below it, at one
 * azimuth, in the sector of the septum (from the N-R to the R-L commissure). Angle: the wall over the first 10 mm
 * against the basal plane; 90 is straight down, less leans inward.
 */
export function measureSeptum(table: WallTable, sector: Sector): SeptumMeasures {
  let best: SeptumMeasures = { bulgeMm: 0, bulgeHeightMm: -1, angleDeg: 90, azimuthRad: sector.from };
  let isFirst = true;
  const smooth = (h: number): Float64Array => smoothRing(cutRing(table, BASAL, h));
  const top = smooth(0);
  const at10 = smooth(-10);
  const n = top.length;
  for (let h = -12; h <= -1; h += 0.5) {
    const ring = smooth(h);
    for (let i = 0; i < n; i += 3) {
      const rad = (TURN * i) / n;
      if (!isInSector(rad, sector)) continue;
      const fall = top[i]! - ring[i]!;
      if (isFirst || fall > best.bulgeMm) {
        best = { bulgeMm: fall, bulgeHeightMm: h, angleDeg: 90 - (Math.atan2(top[i]! - at10[i]!, 10) * 180) / Math.PI, azimuthRad: rad };
        isFirst = false;
      }
    }
  }
  return best.bulgeMm > 0 ? best : { ...best, bulgeMm: 0 };
}
