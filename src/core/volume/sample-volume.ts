import type { CtVolume } from './volume-types.ts';
import { invertAffine } from '../units/affine.ts';

/**
 * Values of a volume between its voxel centres.
 *
 * Shape     points are flat: x0, y0, z0, x1, y1, z1, ...; one output value per point
 * Units     HU out
 * Frame     LPS mm in (or voxel-centre indices where the name says Voxel), through the inverse of lpsFromVoxel:
 *           oblique, left-handed and sheared grids need no special case
 * Equation  linear: tensor product of (1 - t, t); cubic: tensor product of the Catmull-Rom weights (a = -1/2)
 * Fails     never; a point outside every voxel (beyond half a voxel from the outermost centres) gives NaN, and so does
 *           every point of a grid whose affine cannot be inverted. The outer half voxel repeats the border value.
 * Source    docs/methods/resampling.md
 * Accuracy  linear: exact for 1, x, y, z and their products; cubic: exact for polynomials up to degree 2 per axis
 *           away from the border. The padding value is not treated apart: a point beside padding mixes with it.
 */
export interface VolumeSampler {
  sampleVoxel(i: number, j: number, k: number): number;
  sampleLps(xMm: number, yMm: number, zMm: number): number;
  sampleCubicVoxel(i: number, j: number, k: number): number;
  sampleCubicLps(xMm: number, yMm: number, zMm: number): number;
}

/** Rows of voxelFromLps, or twelve NaN when the grid cannot be inverted (then every point is outside). */
export function voxelRowsFromLps(volume: CtVolume): Float64Array {
  const inverse = invertAffine(volume.lpsFromVoxel);
  return inverse ? Float64Array.from(inverse.rows) : new Float64Array(12).fill(NaN);
}

/** Functions that sample one point; for many points `samplePointsLps` is faster. */
export function makeVolumeSampler(volume: CtVolume): VolumeSampler {
  const m = voxelRowsFromLps(volume);
  const weights = new Float64Array(12);
  const offsets = new Int32Array(12);
  const { samplesHu: s, dims } = volume;
  const [nx, ny, nz] = dims;
  const sampleVoxel = (i: number, j: number, k: number): number => sampleLinear(s, nx, ny, nz, i, j, k);
  const sampleCubicVoxel = (i: number, j: number, k: number): number =>
    sampleCubic(s, nx, ny, nz, i, j, k, weights, offsets);
  return {
    sampleVoxel,
    sampleCubicVoxel,
    sampleLps: (x, y, z) =>
      sampleLinear(
        s,
        nx,
        ny,
        nz,
        m[0]! * x + m[1]! * y + m[2]! * z + m[3]!,
        m[4]! * x + m[5]! * y + m[6]! * z + m[7]!,
        m[8]! * x + m[9]! * y + m[10]! * z + m[11]!,
      ),
    sampleCubicLps: (x, y, z) =>
      sampleCubicVoxel(
        m[0]! * x + m[1]! * y + m[2]! * z + m[3]!,
        m[4]! * x + m[5]! * y + m[6]! * z + m[7]!,
        m[8]! * x + m[9]! * y + m[10]! * z + m[11]!,
      ),
  };
}

/** Trilinear values at n points (3n coordinates); fills and returns `out` (n values). */
export function samplePointsLps(volume: CtVolume, pointsLps: Float64Array, out: Float32Array): Float32Array {
  const m = voxelRowsFromLps(volume);
  const [m0, m1, m2, m3, m4, m5, m6, m7, m8, m9, m10, m11] = [
    m[0]!,
    m[1]!,
    m[2]!,
    m[3]!,
    m[4]!,
    m[5]!,
    m[6]!,
    m[7]!,
    m[8]!,
    m[9]!,
    m[10]!,
    m[11]!,
  ];
  const s = volume.samplesHu;
  const [nx, ny, nz] = volume.dims;
  const n = Math.min(out.length, Math.floor(pointsLps.length / 3));
  for (let p = 0, q = 0; p < n; p++, q += 3) {
    const x = pointsLps[q]!;
    const y = pointsLps[q + 1]!;
    const z = pointsLps[q + 2]!;
    out[p] = sampleLinear(
      s,
      nx,
      ny,
      nz,
      m0 * x + m1 * y + m2 * z + m3,
      m4 * x + m5 * y + m6 * z + m7,
      m8 * x + m9 * y + m10 * z + m11,
    );
  }
  return out;
}

/** Catmull-Rom values at n points: blurs edges less than `samplePointsLps`, may overshoot beside them by up to 1/8 of the step. */
export function sampleCubicPointsLps(
  volume: CtVolume,
  pointsLps: Float64Array,
  out: Float32Array,
): Float32Array {
  const m = voxelRowsFromLps(volume);
  const weights = new Float64Array(12);
  const offsets = new Int32Array(12);
  const s = volume.samplesHu;
  const [nx, ny, nz] = volume.dims;
  const n = Math.min(out.length, Math.floor(pointsLps.length / 3));
  for (let p = 0, q = 0; p < n; p++, q += 3) {
    const x = pointsLps[q]!;
    const y = pointsLps[q + 1]!;
    const z = pointsLps[q + 2]!;
    out[p] = sampleCubic(
      s,
      nx,
      ny,
      nz,
      m[0]! * x + m[1]! * y + m[2]! * z + m[3]!,
      m[4]! * x + m[5]! * y + m[6]! * z + m[7]!,
      m[8]! * x + m[9]! * y + m[10]! * z + m[11]!,
      weights,
      offsets,
    );
  }
  return out;
}

/** Trilinear value at voxel-centre indices; written so that NaN is outside. */
export function sampleLinear(
  s: Int16Array,
  nx: number,
  ny: number,
  nz: number,
  x: number,
  y: number,
  z: number,
): number {
  if (!(x >= -0.5 && x <= nx - 0.5 && y >= -0.5 && y <= ny - 0.5 && z >= -0.5 && z <= nz - 0.5)) return NaN;
  x = x < 0 ? 0 : x > nx - 1 ? nx - 1 : x;
  y = y < 0 ? 0 : y > ny - 1 ? ny - 1 : y;
  z = z < 0 ? 0 : z > nz - 1 ? nz - 1 : z;
  const i = x | 0;
  const j = y | 0;
  const k = z | 0;
  const u = x - i;
  const v = y - j;
  const w = z - k;
  // On the last centre the far neighbour has weight 0; a stride of 0 keeps it inside the array.
  const di = i + 1 < nx ? 1 : 0;
  const dj = j + 1 < ny ? nx : 0;
  const a = (k * ny + j) * nx + i;
  const b = k + 1 < nz ? a + ny * nx : a;
  const s00 = s[a]! + u * (s[a + di]! - s[a]!);
  const s10 = s[a + dj]! + u * (s[a + dj + di]! - s[a + dj]!);
  const s01 = s[b]! + u * (s[b + di]! - s[b]!);
  const s11 = s[b + dj]! + u * (s[b + dj + di]! - s[b + dj]!);
  const s0 = s00 + v * (s10 - s00);
  return s0 + w * (s01 + v * (s11 - s01) - s0);
}

/** Four Catmull-Rom weights and clamped offsets of one axis, written at `at` in the scratch arrays. */
function setCubicAxis(
  position: number,
  count: number,
  stride: number,
  at: number,
  weights: Float64Array,
  offsets: Int32Array,
): void {
  const p = position < 0 ? 0 : position > count - 1 ? count - 1 : position;
  const i = p | 0;
  const t = p - i;
  const last = count - 1;
  weights[at] = t * (-0.5 + t * (1 - 0.5 * t));
  weights[at + 1] = 1 + t * t * (-2.5 + 1.5 * t);
  weights[at + 2] = t * (0.5 + t * (2 - 1.5 * t));
  weights[at + 3] = t * t * (0.5 * t - 0.5);
  offsets[at] = (i > 0 ? i - 1 : 0) * stride;
  offsets[at + 1] = i * stride;
  offsets[at + 2] = (i + 1 < last ? i + 1 : last) * stride;
  offsets[at + 3] = (i + 2 < last ? i + 2 : last) * stride;
}

/** Catmull-Rom value at voxel-centre indices; `weights` (12) and `offsets` (12) are scratch of the caller. */
export function sampleCubic(
  s: Int16Array,
  nx: number,
  ny: number,
  nz: number,
  x: number,
  y: number,
  z: number,
  weights: Float64Array,
  offsets: Int32Array,
): number {
  if (!(x >= -0.5 && x <= nx - 0.5 && y >= -0.5 && y <= ny - 0.5 && z >= -0.5 && z <= nz - 0.5)) return NaN;
  if (x >= 1 && x < nx - 2 && y >= 1 && y < ny - 2 && z >= 1 && z < nz - 2)
    return blendCubic(s, nx, nx * ny, x, y, z);
  setCubicAxis(x, nx, 1, 0, weights, offsets);
  setCubicAxis(y, ny, nx, 4, weights, offsets);
  setCubicAxis(z, nz, nx * ny, 8, weights, offsets);
  const x0 = offsets[0]!,
    x1 = offsets[1]!,
    x2 = offsets[2]!,
    x3 = offsets[3]!;
  const w0 = weights[0]!,
    w1 = weights[1]!,
    w2 = weights[2]!,
    w3 = weights[3]!;
  let sum = 0;
  for (let c = 8; c < 12; c++) {
    let plane = 0;
    for (let b = 4; b < 8; b++) {
      const at = offsets[c]! + offsets[b]!;
      plane += weights[b]! * (w0 * s[at + x0]! + w1 * s[at + x1]! + w2 * s[at + x2]! + w3 * s[at + x3]!);
    }
    sum += weights[c]! * plane;
  }
  return sum;
}

/** Catmull-Rom where the four neighbours of each axis exist (1 <= x < nx - 2, and so on): no test, nothing in memory. */
function blendCubic(s: Int16Array, nx: number, plane: number, x: number, y: number, z: number): number {
  const i = x | 0;
  const j = y | 0;
  const k = z | 0;
  // a0 and a3 by the formula, a1 and a2 because the weights reproduce 1 and x.
  const t = x - i;
  const a = 1 - t;
  const a0 = -0.5 * t * a * a;
  const a3 = -0.5 * t * t * a;
  const a1 = a + a3 - 2 * a0;
  const a2 = t + a0 - 2 * a3;
  const u = y - j;
  const b = 1 - u;
  const b0 = -0.5 * u * b * b;
  const b3 = -0.5 * u * u * b;
  const b1 = b + b3 - 2 * b0;
  const b2 = u + b0 - 2 * b3;
  const w = z - k;
  const v = 1 - w;
  const c0 = -0.5 * w * v * v;
  const c3 = -0.5 * w * w * v;
  let sum = 0;
  let p = (k - 1) * plane + (j - 1) * nx + i - 1;
  for (let c = 0; c < 4; c++, p += plane) {
    const weight = c === 0 ? c0 : c === 1 ? v + c3 - 2 * c0 : c === 2 ? w + c0 - 2 * c3 : c3;
    const q = p + nx;
    const r = q + nx;
    const e = r + nx;
    sum +=
      weight *
      (b0 * (a0 * s[p]! + a1 * s[p + 1]! + a2 * s[p + 2]! + a3 * s[p + 3]!) +
        b1 * (a0 * s[q]! + a1 * s[q + 1]! + a2 * s[q + 2]! + a3 * s[q + 3]!) +
        b2 * (a0 * s[r]! + a1 * s[r + 1]! + a2 * s[r + 2]! + a3 * s[r + 3]!) +
        b3 * (a0 * s[e]! + a1 * s[e + 1]! + a2 * s[e + 2]! + a3 * s[e + 3]!));
  }
  return sum;
}
