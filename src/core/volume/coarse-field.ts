import { applyToPoint, invertAffine } from '../units/affine.ts';
import { makePoint } from '../units/frames.ts';
import type { CtVolume } from './volume-types.ts';

/**
 * A coarse, patient-aligned look at a CT for finding structures, never for measuring.
 * Shape   valuesHu[(k * ny + j) * nx + i]; node (i, j, k) sits at originLps + stepMm * (i, j, k)
 * Units   HU, mm; outside the scan the value is OUTSIDE_HU
 */
export interface CoarseField {
  readonly valuesHu: Int16Array;
  readonly dims: readonly [number, number, number];
  readonly originLps: readonly [number, number, number];
  readonly stepMm: number;
}

/** Marks nodes without data; no CT value is this low. */
export const OUTSIDE_HU = -32768;
const MAX_NODES = 1_600_000;
/** Sub-positions averaged per node: the eight corners of the inner half cell, so noise falls by about sqrt(8). */
const SUB = [-0.25, 0.25];

/**
 * Block means on a patient-aligned grid of at least `stepMm`.
 * Accuracy  nearest voxel at eight places per node: place error up to half a voxel diagonal.
 */
export function makeCoarseField(volume: CtVolume, stepMm = 2): CoarseField {
  const [nx, ny, nz] = volume.dims;
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (let corner = 0; corner < 8; corner++) {
    const p = applyToPoint(
      volume.lpsFromVoxel,
      makePoint<'voxel'>(corner & 1 ? nx - 0.5 : -0.5, corner & 2 ? ny - 0.5 : -0.5, corner & 4 ? nz - 0.5 : -0.5),
    );
    for (let a = 0; a < 3; a++) {
      low[a] = Math.min(low[a]!, p[a]!);
      high[a] = Math.max(high[a]!, p[a]!);
    }
  }
  let step = stepMm;
  const nodes = (s: number): number =>
    Math.max(1, Math.floor((high[0]! - low[0]!) / s)) *
    Math.max(1, Math.floor((high[1]! - low[1]!) / s)) *
    Math.max(1, Math.floor((high[2]! - low[2]!) / s));
  while (nodes(step) > MAX_NODES) step *= 1.1;
  const dims = [0, 1, 2].map((a) => Math.max(1, Math.floor((high[a]! - low[a]!) / step))) as [number, number, number];
  const origin = [0, 1, 2].map((a) => (low[a]! + high[a]!) / 2 - ((dims[a]! - 1) * step) / 2) as [number, number, number];
  const values = new Int16Array(dims[0] * dims[1] * dims[2]).fill(OUTSIDE_HU);
  const inverse = invertAffine(volume.lpsFromVoxel);
  if (!inverse) return { valuesHu: values, dims, originLps: origin, stepMm: step };
  const m = inverse.rows;
  const samples = volume.samplesHu;
  const offsets: number[][] = [];
  for (const a of SUB) for (const b of SUB) for (const c of SUB) offsets.push([a * step, b * step, c * step]);
  const shift = offsets.map(([x, y, z]) => [
    m[0]! * x! + m[1]! * y! + m[2]! * z!,
    m[4]! * x! + m[5]! * y! + m[6]! * z!,
    m[8]! * x! + m[9]! * y! + m[10]! * z!,
  ]);
  let at = 0;
  for (let k = 0; k < dims[2]; k++) {
    for (let j = 0; j < dims[1]; j++) {
      for (let i = 0; i < dims[0]; i++, at++) {
        const x = origin[0] + i * step;
        const y = origin[1] + j * step;
        const z = origin[2] + k * step;
        const vi = m[0]! * x + m[1]! * y + m[2]! * z + m[3]! + 0.5;
        const vj = m[4]! * x + m[5]! * y + m[6]! * z + m[7]! + 0.5;
        const vk = m[8]! * x + m[9]! * y + m[10]! * z + m[11]! + 0.5;
        let sum = 0;
        let n = 0;
        for (const s of shift) {
          const a = Math.floor(vi + s[0]!);
          const b = Math.floor(vj + s[1]!);
          const c = Math.floor(vk + s[2]!);
          if (a < 0 || b < 0 || c < 0 || a >= nx || b >= ny || c >= nz) continue;
          sum += samples[(c * ny + b) * nx + a]!;
          n++;
        }
        if (n >= 4) values[at] = Math.round(sum / n);
      }
    }
  }
  return { valuesHu: values, dims, originLps: origin, stepMm: step };
}

/** Nearest node value at an LPS place; OUTSIDE_HU outside. */
export function readCoarse(f: CoarseField, x: number, y: number, z: number): number {
  const i = Math.round((x - f.originLps[0]) / f.stepMm);
  const j = Math.round((y - f.originLps[1]) / f.stepMm);
  const k = Math.round((z - f.originLps[2]) / f.stepMm);
  if (i < 0 || j < 0 || k < 0 || i >= f.dims[0] || j >= f.dims[1] || k >= f.dims[2]) return OUTSIDE_HU;
  return f.valuesHu[(k * f.dims[1] + j) * f.dims[0] + i]!;
}

/** Trilinear value at an LPS place; OUTSIDE_HU when any corner is outside. */
export function sampleCoarse(f: CoarseField, x: number, y: number, z: number): number {
  const [nx, ny, nz] = f.dims;
  const fx = (x - f.originLps[0]) / f.stepMm;
  const fy = (y - f.originLps[1]) / f.stepMm;
  const fz = (z - f.originLps[2]) / f.stepMm;
  const i = Math.floor(fx);
  const j = Math.floor(fy);
  const k = Math.floor(fz);
  if (i < 0 || j < 0 || k < 0 || i >= nx - 1 || j >= ny - 1 || k >= nz - 1) return OUTSIDE_HU;
  const v = f.valuesHu;
  const o = (k * ny + j) * nx + i;
  const p = o + nx * ny;
  const a = v[o]!;
  const b = v[o + 1]!;
  const c = v[o + nx]!;
  const d = v[o + nx + 1]!;
  const e = v[p]!;
  const g = v[p + 1]!;
  const h = v[p + nx]!;
  const l = v[p + nx + 1]!;
  if (a === OUTSIDE_HU || b === OUTSIDE_HU || c === OUTSIDE_HU || d === OUTSIDE_HU) return OUTSIDE_HU;
  if (e === OUTSIDE_HU || g === OUTSIDE_HU || h === OUTSIDE_HU || l === OUTSIDE_HU) return OUTSIDE_HU;
  const u = fx - i;
  const w = fy - j;
  const t = fz - k;
  const low = (a * (1 - u) + b * u) * (1 - w) + (c * (1 - u) + d * u) * w;
  const high = (e * (1 - u) + g * u) * (1 - w) + (h * (1 - u) + l * u) * w;
  return low * (1 - t) + high * t;
}
