import type { Vec3 } from '../math/vec3.ts';
import { dot } from '../math/vec3.ts';
import { voxelRowsFromLps } from '../volume/sample-volume.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import type { WallTable } from './find-junction.ts';
import type { RootFrame } from './root-frame.ts';

/** Heights searched: from here to the sinotubular junction. */
export const ZONE_LOW_MM = -10;
/** How far outside the wall a deposit of ring or wall may lie. */
export const ZONE_OUTSIDE_MM = 2.5;
/** Beyond the zone the box goes on, so that a neighbouring chamber shows itself by its size. */
const MARGIN_MM = 4;
/** Smoothing for the search alone; volumes are taken from the samples as they are. */
export const SEARCH_SMOOTH_MM = 0.45;

/** Lumen wall by azimuth and height with its slope. */
export interface WallProbe {
  radiusMm(azimuthRad: number, heightMm: number): number;
  /** Distance from the wall, first order: + inside the lumen. */
  depthMm(x: number, y: number, heightMm: number): number;
  readonly widestMm: number;
}

/** A box of the volume about the root. Index (k * ny + j) * nx + i; places in the root frame (u, v, height), mm. */
export interface CalciumGrid {
  readonly dims: readonly [number, number, number];
  readonly valuesHu: Float32Array;
  readonly smoothHu: Float32Array;
  /** Root frame from box indices, 3 x 4 row by row. */
  readonly rootFromBox: Float64Array;
  readonly stepsMm: readonly [number, number, number];
  readonly voxelMm3: number;
}

export function makeWallProbe(table: WallTable): WallProbe {
  const { radiusMm, heights, azimuths, lowMm, stepMm } = table;
  const slope = new Float64Array(radiusMm.length);
  let widestMm = 0;
  for (let h = 0; h < heights; h++) {
    const below = Math.max(0, h - 1);
    const above = Math.min(heights - 1, h + 1);
    for (let a = 0; a < azimuths; a++) {
      const r = radiusMm[h * azimuths + a]!;
      if (r > widestMm) widestMm = r;
      const perHeight = (radiusMm[above * azimuths + a]! - radiusMm[below * azimuths + a]!) / Math.max(1e-9, (above - below) * stepMm);
      const perArc =
        ((radiusMm[h * azimuths + ((a + 1) % azimuths)]! - radiusMm[h * azimuths + ((a + azimuths - 1) % azimuths)]!) * azimuths) /
        (4 * Math.PI * Math.max(1, r));
      slope[h * azimuths + a] = 1 / Math.sqrt(1 + perHeight * perHeight + perArc * perArc);
    }
  }
  const readTable = (values: Float64Array, azimuthRad: number, heightMm: number): number => {
    const turn = azimuthRad / (2 * Math.PI);
    const a = (turn - Math.floor(turn)) * azimuths;
    const i = Math.min(azimuths - 1, Math.floor(a));
    const next = (i + 1) % azimuths;
    const h = Math.max(0, Math.min(heights - 1, (heightMm - lowMm) / stepMm));
    const k = Math.min(Math.max(0, heights - 2), Math.floor(h));
    const up = Math.min(heights - 1, k + 1);
    const low = values[k * azimuths + i]! + (a - i) * (values[k * azimuths + next]! - values[k * azimuths + i]!);
    const high = values[up * azimuths + i]! + (a - i) * (values[up * azimuths + next]! - values[up * azimuths + i]!);
    return low + (h - k) * (high - low);
  };
  return {
    widestMm,
    radiusMm: (azimuthRad, heightMm) => readTable(radiusMm, azimuthRad, heightMm),
    depthMm(x, y, heightMm) {
      const azimuthRad = Math.atan2(y, x);
      return (readTable(radiusMm, azimuthRad, heightMm) - Math.hypot(x, y)) * readTable(slope, azimuthRad, heightMm);
    },
  };
}

/** Cuts the box out of the volume; null when the zone does not meet the volume. Parts outside the scan are left off. */
export function cutCalciumGrid(volume: CtVolume, frame: RootFrame, widestMm: number, topMm: number): CalciumGrid | null {
  const m = voxelRowsFromLps(volume);
  if (!(m[0] === m[0])) return null;
  const reach = widestMm + ZONE_OUTSIDE_MM + MARGIN_MM;
  const from: number[] = [];
  const dims: number[] = [];
  for (let r = 0; r < 3; r++) {
    const row: Vec3 = [m[r * 4]!, m[r * 4 + 1]!, m[r * 4 + 2]!];
    const middle = dot(row, frame.originLps) + m[r * 4 + 3]!;
    const rise = dot(row, frame.normalLps);
    const side = reach * Math.sqrt(Math.max(0, dot(row, row) - rise * rise));
    const ends = [(ZONE_LOW_MM - MARGIN_MM) * rise, (topMm + MARGIN_MM) * rise];
    const low = Math.max(0, Math.floor(middle + Math.min(...ends) - side));
    const high = Math.min(volume.dims[r]! - 1, Math.ceil(middle + Math.max(...ends) + side));
    if (!(high - low >= 4)) return null;
    from.push(low);
    dims.push(high - low + 1);
  }
  const [nx, ny, nz] = dims as [number, number, number];
  const [i0, j0, k0] = from as [number, number, number];
  const [vx, vy] = volume.dims;
  const valuesHu = new Float32Array(nx * ny * nz);
  for (let k = 0, o = 0; k < nz; k++) {
    for (let j = 0; j < ny; j++, o += nx) {
      const s = ((k + k0) * vy + j + j0) * vx + i0;
      valuesHu.set(volume.samplesHu.subarray(s, s + nx), o);
    }
  }
  const a = volume.lpsFromVoxel.rows;
  const rootFromBox = new Float64Array(12);
  [frame.uLps, frame.vLps, frame.normalLps].forEach((axis, r) => {
    for (let c = 0; c < 4; c++) {
      let sum = axis[0] * a[c]! + axis[1] * a[4 + c]! + axis[2] * a[8 + c]!;
      if (c === 3) sum -= dot(axis, frame.originLps);
      rootFromBox[r * 4 + c] = sum;
    }
    rootFromBox[r * 4 + 3] = rootFromBox[r * 4 + 3]! + rootFromBox[r * 4]! * i0 + rootFromBox[r * 4 + 1]! * j0 + rootFromBox[r * 4 + 2]! * k0;
  });
  const g = rootFromBox;
  const voxelMm3 = Math.abs(
    g[0]! * (g[5]! * g[10]! - g[6]! * g[9]!) - g[1]! * (g[4]! * g[10]! - g[6]! * g[8]!) + g[2]! * (g[4]! * g[9]! - g[5]! * g[8]!),
  );
  const stepsMm = [0, 1, 2].map((c) => Math.hypot(g[c]!, g[4 + c]!, g[8 + c]!)) as unknown as readonly [number, number, number];
  const smoothHu = valuesHu.slice();
  blurBox(smoothHu, [nx, ny, nz], stepsMm.map((s) => SEARCH_SMOOTH_MM / s));
  return { dims: [nx, ny, nz], valuesHu, smoothHu, rootFromBox, stepsMm, voxelMm3 };
}

/** Gaussian along each grid axis in place; SD in voxels, below 0.2 left out; the border repeats. */
export function blurBox(data: Float32Array, dims: readonly [number, number, number], sdVoxels: readonly number[]): void {
  const strides = [1, dims[0], dims[0] * dims[1]];
  let from: Float32Array = data;
  let to: Float32Array = new Float32Array(data.length);
  for (let axis = 0; axis < 3; axis++) {
    const sd = sdVoxels[axis]!;
    if (!(sd > 0.2)) continue;
    const reach = Math.max(1, Math.ceil(2.6 * sd));
    const kernel = Float64Array.from({ length: Math.max(5, reach + 1) }, (_, i) => (i > reach ? 0 : Math.exp((-0.5 * i * i) / (sd * sd))));
    const sum = kernel.reduce((t, v, i) => t + (i === 0 ? v : 2 * v), 0);
    for (let i = 0; i <= reach; i++) kernel[i] = kernel[i]! / sum;
    blurAxis(from, to, dims[axis]!, strides[axis]!, kernel);
    [from, to] = [to, from];
  }
  if (from !== data) data.set(from);
}

/**
 * One pass. Rows of x go through a padded line; along y and z whole rows of x are added up, and away from both ends
 * all rows of a block lie in memory order: one plain loop.
 */
function blurAxis(from: Float32Array, to: Float32Array, n: number, stride: number, kernel: Float64Array): void {
  if (stride === 1) blurRows(from, to, n, kernel);
  else blurAcross(from, to, n, stride, kernel);
}

function blurRows(from: Float32Array, to: Float32Array, n: number, kernel: Float64Array): void {
  const reach = kernel.length - 1;
  const [k0, k1, k2, k3, k4] = [kernel[0]!, kernel[1]!, kernel[2]!, kernel[3]!, kernel[4]!];
  const line = new Float64Array(n + 2 * reach);
  for (let base = 0; base < from.length; base += n) {
    for (let t = 0; t < n; t++) line[t + reach] = from[base + t]!;
    for (let t = 0; t < reach; t++) {
      line[t] = from[base]!;
      line[n + reach + t] = from[base + n - 1]!;
    }
    for (let t = 0, c = reach; t < n; t++, c++) {
      let sum = k0 * line[c]! + k1 * (line[c - 1]! + line[c + 1]!) + k2 * (line[c - 2]! + line[c + 2]!)
        + k3 * (line[c - 3]! + line[c + 3]!) + k4 * (line[c - 4]! + line[c + 4]!);
      for (let j = 5; j <= reach; j++) sum += kernel[j]! * (line[c - j]! + line[c + j]!);
      to[base + t] = sum;
    }
  }
}

function blurAcross(from: Float32Array, to: Float32Array, n: number, stride: number, kernel: Float64Array): void {
  const reach = kernel.length - 1;
  const [k0, k1, k2, k3, k4] = [kernel[0]!, kernel[1]!, kernel[2]!, kernel[3]!, kernel[4]!];
  const [s2, s3, s4] = [2 * stride, 3 * stride, 4 * stride];
  const isShort = reach === 4 && n > 8;
  for (let base = 0; base < from.length; base += n * stride) {
    if (isShort) {
      const end = base + (n - 4) * stride;
      for (let v = base + s4; v < end; v++) {
        to[v] = k0 * from[v]! + k1 * (from[v - stride]! + from[v + stride]!) + k2 * (from[v - s2]! + from[v + s2]!)
          + k3 * (from[v - s3]! + from[v + s3]!) + k4 * (from[v - s4]! + from[v + s4]!);
      }
    }
    for (let t = 0; t < n; t++) {
      if (isShort && t === 4) t = n - 4;
      const row = base + t * stride;
      const end = row + stride;
      for (let v = row; v < end; v++) to[v] = k0 * from[v]!;
      for (let j = 1; j <= reach; j++) {
        const k = kernel[j]!;
        const below = (t < j ? -t : -j) * stride;
        const above = (t + j >= n ? n - 1 - t : j) * stride;
        for (let v = row; v < end; v++) to[v] = to[v]! + k * (from[v + below]! + from[v + above]!);
      }
    }
  }
}

export const heightOf = (g: CalciumGrid, i: number, j: number, k: number): number =>
  g.rootFromBox[8]! * i + g.rootFromBox[9]! * j + g.rootFromBox[10]! * k + g.rootFromBox[11]!;

/** Root-frame place of a box voxel (fractional indices allowed). */
export function placeOf(g: CalciumGrid, i: number, j: number, k: number): [number, number, number] {
  const m = g.rootFromBox;
  return [
    m[0]! * i + m[1]! * j + m[2]! * k + m[3]!,
    m[4]! * i + m[5]! * j + m[6]! * k + m[7]!,
    m[8]! * i + m[9]! * j + m[10]! * k + m[11]!,
  ];
}

/** Part of the box in which one deposit is drawn. */
export interface DrawBox {
  readonly from: readonly [number, number, number];
  readonly dims: readonly [number, number, number];
}

export function forEachInBox(g: CalciumGrid, box: DrawBox, visit: (voxel: number, inBox: number) => void): void {
  const [nx, ny, nz] = box.dims;
  for (let k = 0, b = 0; k < nz; k++) {
    for (let j = 0; j < ny; j++) {
      const v = ((box.from[2] + k) * g.dims[1] + box.from[1] + j) * g.dims[0] + box.from[0];
      for (let i = 0; i < nx; i++, b++) visit(v + i, b);
    }
  }
}
