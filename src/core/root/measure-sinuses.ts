import { normalAt } from '../math/random.ts';
import type { Junction, WallTable } from './find-junction.ts';
import { BASAL, cutRing, readTable } from './map-wall.ts';
import { measureRing, ringCentroid, smoothRing } from './measure-ring.ts';
import type { ByCusp, Cusp } from './root-types.ts';

export interface Sector {
  readonly from: number;
  readonly to: number;
}
const TURN = 2 * Math.PI;
export const wrapTurn = (a: number): number => a - TURN * Math.floor(a / TURN);
export const isInSector = (rad: number, s: Sector): boolean => wrapTurn(rad - s.from) <= wrapTurn(s.to - s.from);

const MIDDLE_RAD = 0.7;
/** Rings drawn about the measured one; the spread of 48 is known to a tenth. */
const DRAWS = 48;
/** Waves in which the wall of a sinus may be wrong, and by how much at one point (set on phantoms). */
const WAVES = [2, 3, 4, 5, 6, 7, 8, 9, 10] as const;
const WALL_SD_MM = 0.2;
/** Left over where the farthest point is clear. */
const CLEAR_SD_MM = 0.3;
/** Any fixed number: the same rings for every patient. */
const SEED = 7;

export interface SinusMeasures {
  readonly widthMm: ByCusp<number>;
  readonly widthSdMm: ByCusp<number>;
  readonly heightMm: ByCusp<number>;
  readonly widestHeightMm: number;
}

/**
 * Widths in the plane, parallel to the basal one, where the sinuses are widest: from the cusp's wall point farthest from
 * the ring's centroid, through the centroid, to the far wall. Heights: basal plane to junction at the nadir's azimuth.
 * In a shallow sinus many points are about equally far, and the far wall changes by millimetres between them. So the
 * width is the mean over rings that the wall's own error allows, and their spread is its SD.
 * Source    docs/methods/root-survey.md, "Sinus widths"; drawing the inputs of a measure: JCGM 101:2008 [M]
 */
export function measureSinuses(table: WallTable, junction: Junction, sectors: ByCusp<Sector>, nadirRad: ByCusp<number>): SinusMeasures {
  const fine = smoothRing(cutRing(table, BASAL, junction.widestHeightMm));
  const sums = { R: 0, L: 0, N: 0 };
  const squares = { R: 0, L: 0, N: 0 };
  for (let draw = 0; draw < DRAWS; draw++) {
    const widths = measureWidths(bendRing(fine, draw), sectors, nadirRad);
    for (const c of ['R', 'L', 'N'] as const) {
      sums[c] += widths[c] / DRAWS;
      squares[c] += widths[c] ** 2 / DRAWS;
    }
  }
  const height = (c: Cusp): number => {
    const a = Math.round((wrapTurn(nadirRad[c]) / TURN) * table.azimuths) % table.azimuths;
    return junction.heightsMm[a]!;
  };
  const byCusp = (f: (c: Cusp) => number): ByCusp<number> => ({ R: f('R'), L: f('L'), N: f('N') });
  return {
    widthMm: sums,
    widthSdMm: byCusp((c) => Math.hypot(CLEAR_SD_MM, Math.sqrt(Math.max(0, squares[c] - sums[c] ** 2)))),
    heightMm: byCusp(height),
    widestHeightMm: junction.widestHeightMm,
  };
}

/** The ring with one draw of wall error on it. */
function bendRing(fine: Float64Array, draw: number): Float64Array {
  const out = Float64Array.from(fine);
  const n = fine.length;
  const sd = WALL_SD_MM / Math.sqrt(WAVES.length);
  for (const k of WAVES) {
    const c = sd * normalAt(SEED, draw, 2 * k);
    const s = sd * normalAt(SEED, draw, 2 * k + 1);
    for (let i = 0; i < n; i++) out[i]! += c * Math.cos((TURN * ((k * i) % n)) / n) + s * Math.sin((TURN * ((k * i) % n)) / n);
  }
  return out;
}

function measureWidths(fine: Float64Array, sectors: ByCusp<Sector>, nadirRad: ByCusp<number>): ByCusp<number> {
  const [cx, cy] = ringCentroid(fine);
  const n = fine.length;
  const points = Array.from(fine, (r, i) => {
    const azimuth = (TURN * i) / n;
    const x = r * Math.cos(azimuth) - cx;
    const y = r * Math.sin(azimuth) - cy;
    return { r: Math.hypot(x, y), rad: Math.atan2(y, x), azimuth };
  });
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
  return { R: width('R'), L: width('L'), N: width('N') };
}

/** Area-equivalent diameter of the junction as seen along the axis: the wall where it turns, not a flat cut through a tilted ring. */
export function measureJunctionDiameter(table: WallTable, junction: Junction): number {
  const ring = Float64Array.from(junction.heightsMm, (mm, a) => readTable(table, a, mm));
  return 2 * Math.sqrt(measureRing(smoothRing(ring)).areaMm2 / Math.PI);
}
