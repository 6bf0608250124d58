import { add, cross, dot, scale, sub, type Vec3 } from '../math/vec3.ts';
import type { WallTable } from './find-junction.ts';
import { cylinderFromLps, lpsFromCylinder, type RootFrame } from './root-frame.ts';

const TURN = 2 * Math.PI;
/** A ray and the wall have met when they are this close; the wall itself is known to some hundredths. */
const MET_MM = 1e-6;
const MOST_STEPS = 12;

/** Radius of a wall at any azimuth and height: cubic around (periodic), linear up; beyond its ends the last row. */
export function readWall(wall: WallTable, azimuthRad: number, heightMm: number): number {
  const { radiusMm, heights, azimuths, lowMm, stepMm } = wall;
  const up = Math.max(0, Math.min(heights - 1.000001, (heightMm - lowMm) / stepMm));
  const h = Math.floor(up);
  const around = (azimuthRad / TURN - Math.floor(azimuthRad / TURN)) * azimuths;
  const a = Math.floor(around);
  const t = around - a;
  const w0 = t * (-0.5 + t * (1 - 0.5 * t));
  const w1 = 1 + t * t * (1.5 * t - 2.5);
  const w2 = t * (0.5 + t * (2 - 1.5 * t));
  const w3 = t * t * (0.5 * t - 0.5);
  const c0 = (a + azimuths - 1) % azimuths;
  const c1 = a % azimuths;
  const c2 = (a + 1) % azimuths;
  const c3 = (a + 2) % azimuths;
  const o = h * azimuths;
  const f = up - h;
  const low = w0 * radiusMm[o + c0]! + w1 * radiusMm[o + c1]! + w2 * radiusMm[o + c2]! + w3 * radiusMm[o + c3]!;
  if (f === 0) return low;
  const p = o + azimuths;
  return low * (1 - f) + (w0 * radiusMm[p + c0]! + w1 * radiusMm[p + c1]! + w2 * radiusMm[p + c2]! + w3 * radiusMm[p + c3]!) * f;
}

export interface RemappedWall {
  readonly wall: WallTable;
  /** By cell of `wall`: the cell of the old wall it was read from. */
  readonly sourceCell: Int32Array;
  /** Lowest and highest height at which every azimuth of the new wall lies within the old one. */
  readonly lowMm: number;
  readonly highMm: number;
}

/**
 * One wall seen from another axis: where each ray of the new frame meets it.
 * Shape     same azimuths, step and lowest height as `wall`; rows up to the last that lies within it all around
 * Frame     `wall` in `from`, the answer in `to`
 * Equation  along a ray the old cylinder coordinates are known; Newton on rho(r) - R(azimuth(r), height(r)) with the
 *           slope of rho alone, halved where it does not come closer
 * Fails     never; below its lowest row the old wall counts as straight, and `lowMm` says so
 * Source    docs/methods/moved-marks.md
 */
export function remapWall(wall: WallTable, from: RootFrame, to: RootFrame): RemappedWall {
  const { heights, azimuths, lowMm, stepMm } = wall;
  const radiusMm = new Float64Array(heights * azimuths);
  const sourceCell = new Int32Array(heights * azimuths);
  const topMm = lowMm + (heights - 1) * stepMm;
  const part = (v: Vec3): [number, number, number] => [dot(v, from.uLps), dot(v, from.vLps), dot(v, from.normalLps)];
  const origin = part(sub(to.originLps, from.originLps));
  const [u, v, n] = [part(to.uLps), part(to.vLps), part(to.normalLps)];
  let rows = heights;
  let coveredFrom = 0;
  for (let h = 0; h < heights; h++) {
    const heightMm = lowMm + h * stepMm;
    const [x0, y0, z0] = [origin[0] + heightMm * n[0], origin[1] + heightMm * n[1], origin[2] + heightMm * n[2]];
    let [least, most] = [Infinity, -Infinity];
    for (let a = 0; a < azimuths; a++) {
      const cos = Math.cos((TURN * a) / azimuths);
      const sin = Math.sin((TURN * a) / azimuths);
      const dx = cos * u[0] + sin * v[0];
      const dy = cos * u[1] + sin * v[1];
      const dz = cos * u[2] + sin * v[2];
      let r = h > 0 ? radiusMm[(h - 1) * azimuths + a]! : a > 0 ? radiusMm[a - 1]! : readWall(wall, 0, heightMm);
      let off = Infinity;
      let rad = 0;
      let mm = 0;
      for (let k = 0; k < MOST_STEPS; k++) {
        const x = x0 + r * dx;
        const y = y0 + r * dy;
        const rho = Math.sqrt(x * x + y * y);
        rad = Math.atan2(y, x);
        mm = z0 + r * dz;
        const miss = rho - readWall(wall, rad, mm);
        const size = Math.abs(miss);
        if (size < MET_MM) break;
        const step = miss / Math.max(0.3, rho > 1e-6 ? (x * dx + y * dy) / rho : 1);
        r -= size < off ? step : 0.5 * step;
        off = size;
      }
      radiusMm[h * azimuths + a] = r;
      const row = Math.max(0, Math.min(heights - 1, Math.round((mm - lowMm) / stepMm)));
      sourceCell[h * azimuths + a] = row * azimuths + (Math.round((rad / TURN - Math.floor(rad / TURN)) * azimuths) % azimuths);
      if (mm < least) least = mm;
      if (mm > most) most = mm;
    }
    if (least < lowMm - 1e-6) coveredFrom = h + 1;
    if (most > topMm + 1e-6) {
      rows = h;
      break;
    }
  }
  return {
    wall: { radiusMm: radiusMm.slice(0, rows * azimuths), heights: rows, azimuths, lowMm, stepMm },
    sourceCell: sourceCell.slice(0, rows * azimuths),
    lowMm: lowMm + coveredFrom * stepMm, highMm: lowMm + (rows - 1) * stepMm,
  };
}

/** Centre of area of the cut of a plane through a wall; LPS mm, on the plane. As ringCentre, from the wall alone. */
export function findCutCentre(wall: WallTable, frame: RootFrame, plane: { readonly pointLps: Vec3; readonly normalLps: Vec3 }): [number, number, number] {
  const { azimuths } = wall;
  const { pointLps: origin, normalLps } = plane;
  const lean = Math.max(0.3, dot(frame.normalLps, normalLps));
  const startMm = cylinderFromLps(frame, origin).heightMm;
  let sum: Vec3 = [0, 0, 0];
  let area = 0;
  let previous: Vec3 | null = null;
  for (let a = 0; a <= azimuths; a++) {
    const azimuthRad = (TURN * a) / azimuths;
    let heightMm = startMm;
    let p: Vec3 = origin;
    for (let k = 0; k < 8; k++) {
      p = lpsFromCylinder(frame, { azimuthRad, heightMm, radiusMm: readWall(wall, azimuthRad, heightMm) });
      heightMm -= dot(sub(p, origin), normalLps) / lean;
    }
    if (previous) {
      const w = dot(cross(sub(previous, origin), sub(p, origin)), normalLps) / 2;
      area += w;
      sum = add(sum, scale(add(add(previous, p), origin), w / 3));
    }
    previous = p;
  }
  const centre = Math.abs(area) > 1 ? scale(sum, 1 / area) : scale(origin, 1);
  // Rounded cuts end a hair off the plane.
  return sub(centre, scale(normalLps, dot(sub(centre, origin), normalLps)));
}
