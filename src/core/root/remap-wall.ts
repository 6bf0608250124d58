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
  const [w0, w1, w2, w3] = [t * (-0.5 + t * (1 - 0.5 * t)), 1 + t * t * (1.5 * t - 2.5), t * (0.5 + t * (2 - 1.5 * t)), t * t * (0.5 * t - 0.5)];
  const [c0, c1, c2, c3] = [(a + azimuths - 1) % azimuths, a % azimuths, (a + 1) % azimuths, (a + 2) % azimuths];
  const row = (o: number): number => w0 * radiusMm[o + c0]! + w1 * radiusMm[o + c1]! + w2 * radiusMm[o + c2]! + w3 * radiusMm[o + c3]!;
  const f = up - h;
  const low = row(h * azimuths);
  return f === 0 ? low : low * (1 - f) + row((h + 1) * azimuths) * f;
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
    let [least, most] = [Infinity, -Infinity];
    for (let a = 0; a < azimuths; a++) {
      const [cos, sin] = [Math.cos((TURN * a) / azimuths), Math.sin((TURN * a) / azimuths)];
      const start = [0, 1, 2].map((k) => origin[k]! + heightMm * n[k]!) as [number, number, number];
      const way = [0, 1, 2].map((k) => cos * u[k]! + sin * v[k]!) as [number, number, number];
      let r = h > 0 ? radiusMm[(h - 1) * azimuths + a]! : a > 0 ? radiusMm[a - 1]! : readWall(wall, 0, heightMm);
      let off = Infinity;
      let place = { rad: 0, mm: 0 };
      for (let k = 0; k < MOST_STEPS; k++) {
        const [x, y, z] = [start[0] + r * way[0], start[1] + r * way[1], start[2] + r * way[2]];
        const rho = Math.hypot(x, y);
        place = { rad: Math.atan2(y, x), mm: z };
        const miss = rho - readWall(wall, place.rad, z);
        if (Math.abs(miss) < MET_MM) break;
        const slope = rho > 1e-6 ? (x * way[0] + y * way[1]) / rho : 1;
        const step = miss / Math.max(0.3, slope);
        r -= Math.abs(miss) < off ? step : 0.5 * step;
        off = Math.abs(miss);
      }
      radiusMm[h * azimuths + a] = r;
      const row = Math.max(0, Math.min(heights - 1, Math.round((place.mm - lowMm) / stepMm)));
      const column = Math.round((place.rad / TURN - Math.floor(place.rad / TURN)) * azimuths) % azimuths;
      sourceCell[h * azimuths + a] = row * azimuths + column;
      least = Math.min(least, place.mm);
      most = Math.max(most, place.mm);
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
