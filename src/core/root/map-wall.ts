import { dot, sub, type Vec3 } from '../math/vec3.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import type { WallTable } from './find-junction.ts';
import { prepareLook, type RootBlood, FINE_SPEC } from './locate-root.ts';
import { measureRing, smoothRing, type RingMeasures } from './measure-ring.ts';
import type { PolarBlock } from './polar-block.ts';
import { refineWall, type FineWall } from './refine-wall.ts';
import { lpsFromCylinder, type RootFrame } from './root-frame.ts';
import type { Xyz } from './root-types.ts';

/** The wall in the basal frame, with the samples it was found in. */
export interface MappedWall {
  readonly frame: RootFrame;
  readonly block: PolarBlock;
  readonly fine: FineWall;
  readonly table: WallTable;
  readonly blood: RootBlood;
}

export const MAP_LOW_MM = -16;
export const MAP_HIGH_MM = 44;

export function mapWall(volume: CtVolume, frame: RootFrame, blurMm: number): MappedWall {
  const { block, coarse, blood } = prepareLook(volume, frame, { lowMm: MAP_LOW_MM, highMm: MAP_HIGH_MM }, FINE_SPEC, true);
  const fine = refineWall(block, coarse, blood.levelHu, blurMm, blood.noiseHu);
  const heights = countSoundRows(fine.radiusMm, block);
  const table: WallTable = {
    radiusMm: fine.radiusMm.slice(0, heights * block.azimuths),
    heights,
    azimuths: block.azimuths,
    lowMm: block.lowMm,
    stepMm: block.heightStepMm,
  };
  return { frame, block, fine, table, blood };
}

const LEAST_RADIUS_MM = 4;

/** Rows from the bottom up to where the straight axis leaves the (curved) vessel. */
function countSoundRows(radiusMm: Float64Array, block: PolarBlock): number {
  const first = Math.round((4 - block.lowMm) / block.heightStepMm);
  const reach = (block.radii - 2) * block.radiusStepMm;
  for (let h = first; h < block.heights; h++) {
    for (let a = 0; a < block.azimuths; a++) {
      const r = radiusMm[h * block.azimuths + a]!;
      if (!(r >= LEAST_RADIUS_MM && r <= reach)) return Math.max(first, h - 2);
    }
  }
  return block.heights;
}

/** Radius at a height (linear between rows) for one azimuth column. */
export function readTable(t: WallTable, a: number, heightMm: number): number {
  const h = Math.max(0, Math.min(t.heights - 1.000001, (heightMm - t.lowMm) / t.stepMm));
  const i = Math.floor(h);
  const f = h - i;
  return t.radiusMm[i * t.azimuths + a]! * (1 - f) + t.radiusMm[(i + 1) * t.azimuths + a]! * f;
}

/** The landing zone unrolled: every 5 degrees and millimetre from `lowMm` to 8 mm below the top of the wall. */
export function unrollWall(t: WallTable, lowMm: number): { readonly azimuthDeg: number[]; readonly heightMm: number[]; readonly radiusAt: (azimuthDeg: number, heightMm: number) => number } {
  const topMm = t.lowMm + (t.heights - 1) * t.stepMm;
  return {
    azimuthDeg: Array.from({ length: 72 }, (_, i) => i * 5),
    heightMm: Array.from({ length: Math.max(1, Math.floor(topMm - lowMm) - 8) }, (_, i) => lowMm + i),
    radiusAt: (azimuthDeg, heightMm) => {
      const c = (azimuthDeg / 360) * t.azimuths;
      const a = Math.floor(c) % t.azimuths;
      const f = c - Math.floor(c);
      return readTable(t, a, heightMm) * (1 - f) + readTable(t, (a + 1) % t.azimuths, heightMm) * f;
    },
  };
}

/** Plane near the basal one: height = c + x dx + y dy in the basal frame, mm and mm per mm. */
export interface NearPlane {
  readonly c: number;
  readonly dx: number;
  readonly dy: number;
}
export const BASAL: NearPlane = { c: 0, dx: 0, dy: 0 };

/** Radii of the wall where a plane parallel to `plane`, `heightMm` above it, cuts the map; about the frame's axis. */
export function cutRing(t: WallTable, plane: NearPlane, heightMm: number, edgeMm = 0): Float64Array {
  const out = new Float64Array(t.azimuths);
  for (let a = 0; a < t.azimuths; a++) {
    const rad = (2 * Math.PI * a) / t.azimuths;
    const slope = plane.dx * Math.cos(rad) + plane.dy * Math.sin(rad);
    let r = readTable(t, a, heightMm + plane.c);
    for (let k = 0; k < 3 && slope !== 0; k++) r = readTable(t, a, heightMm + plane.c + slope * r);
    out[a] = (r + edgeMm) * Math.sqrt(1 + slope * slope);
  }
  return out;
}

export const measureCut = (t: WallTable, plane: NearPlane, heightMm: number, edgeMm = 0): RingMeasures =>
  measureRing(smoothRing(cutRing(t, plane, heightMm, edgeMm)));

/** Contour in LPS of the smoothed ring at a height: 120 points, counter-clockwise seen from the aorta. */
export function drawContour(frame: RootFrame, fine: ArrayLike<number>, heightMm: number): Xyz[] {
  return Array.from({ length: 120 }, (_, i) =>
    lpsFromCylinder(frame, { azimuthRad: (2 * Math.PI * i) / 120, heightMm, radiusMm: fine[i * 3]! }),
  );
}

/** The plane through three points of the basal frame's neighbourhood, as heights over it; null when they are in line. */
export function nearPlaneThrough(frame: RootFrame, points: readonly Vec3[]): NearPlane | null {
  const [p, q, r] = points.map((point) => {
    const d = sub(point, frame.originLps);
    return [dot(d, frame.uLps), dot(d, frame.vLps), dot(d, frame.normalLps)] as const;
  });
  if (!p || !q || !r) return null;
  const ax = q[0] - p[0];
  const ay = q[1] - p[1];
  const az = q[2] - p[2];
  const bx = r[0] - p[0];
  const by = r[1] - p[1];
  const bz = r[2] - p[2];
  const det = ax * by - ay * bx;
  if (!(Math.abs(det) > 1)) return null;
  const dx = (az * by - ay * bz) / det;
  const dy = (ax * bz - az * bx) / det;
  return { c: p[2] - dx * p[0] - dy * p[1], dx, dy };
}

