import { fail, succeed, type Result } from '../result.ts';
import type { LpsPoint, LpsVector } from '../units/frames.ts';
import { sampleCubic, sampleLinear, voxelRowsFromLps } from './sample-volume.ts';
import type { CtVolume } from './volume-types.ts';

export type ResliceFailureCode =
  'reslice-plane-invalid' | 'reslice-size-invalid' | 'reslice-slab-invalid' | 'reslice-volume-singular';

/** A picture plane in the patient. Pixel (a, b) is centred on originLps + a * stepMm[0] * uLps + b * stepMm[1] * vLps. */
export interface ReslicePlane {
  readonly originLps: LpsPoint;
  /** Unit; along a picture row. */
  readonly uLps: LpsVector;
  /** Unit, at right angles to uLps; down the picture. */
  readonly vLps: LpsVector;
  readonly stepMm: readonly [number, number];
  readonly size: readonly [width: number, height: number];
}
export interface ResliceSlab {
  /** Full thickness, centred on the plane. */
  readonly thicknessMm: number;
  /** Largest distance between two layers of the slab. */
  readonly stepMm: number;
  readonly combine: 'mean' | 'max';
}
export interface ResliceOptions {
  readonly interpolation: 'linear' | 'cubic';
  readonly slab?: ResliceSlab;
}

const MAX_PIXELS = 1 << 26;
const MAX_LAYERS = 4096;

/**
 * Picture of an oblique plane or thick slab through a volume.
 *
 * Shape     out[b * width + a]; NaN where the plane is outside the volume (slab: where every layer is)
 * Units     mm in, HU out
 * Frame     LPS in; any grid, through the inverse of lpsFromVoxel
 * Equation  see sample-volume.ts; slab: ceil(thickness / step) layers in the middle of equal sheets, mean or max of the
 *           layers that are inside
 * Fails     reslice-plane-invalid, reslice-size-invalid, reslice-slab-invalid, reslice-volume-singular
 * Source    docs/methods/resampling.md
 * Accuracy  float64 positions and weights, float32 out (slab mean: sum in float32)
 */
export function reslicePlane(
  volume: CtVolume,
  plane: ReslicePlane,
  options: ResliceOptions,
): Result<Float32Array<ArrayBuffer>, ResliceFailureCode> {
  const [width, height] = plane.size;
  if (!(
    Number.isInteger(width) &&
    Number.isInteger(height) &&
    width > 0 &&
    height > 0 &&
    width * height <= MAX_PIXELS
  )) {
    return fail(
      'reslice-size-invalid',
      `A picture of ${width} x ${height} pixels cannot be made.`,
      `Ask for whole numbers of pixels, at most ${MAX_PIXELS} in all.`,
      { width, height },
    );
  }
  const u = plane.uLps,
    v = plane.vLps;
  const uu = u[0] ** 2 + u[1] ** 2 + u[2] ** 2;
  const vv = v[0] ** 2 + v[1] ** 2 + v[2] ** 2;
  const uv = u[0] * v[0] + u[1] * v[1] + u[2] * v[2];
  const [su, sv] = plane.stepMm;
  // 1e-6: unit vectors that went through float32 pass, a forgotten normalisation does not.
  if (!(
    Math.abs(uu - 1) < 1e-6 &&
    Math.abs(vv - 1) < 1e-6 &&
    Math.abs(uv) < 1e-6 &&
    su > 0 &&
    sv > 0 &&
    plane.originLps.every(Number.isFinite) &&
    Number.isFinite(su + sv)
  )) {
    return fail(
      'reslice-plane-invalid',
      'The picture plane needs two unit vectors at right angles, a finite origin and steps above 0 mm.',
      'Make the two directions unit and perpendicular.',
      { uu, vv, uv, su, sv },
    );
  }
  const layers = placeLayers(options.slab);
  if (!layers) {
    return fail(
      'reslice-slab-invalid',
      'The slab needs a thickness of 0 mm or more and a step above 0 mm, at most 4096 layers.',
      'Give a thinner slab or a larger step.',
      { thicknessMm: options.slab!.thicknessMm, stepMm: options.slab!.stepMm },
    );
  }
  const m = voxelRowsFromLps(volume);
  if (Number.isNaN(m[0]!)) {
    return fail(
      'reslice-volume-singular',
      'The three axes of the volume do not span space.',
      'Load the series again.',
      {},
    );
  }
  const normal = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]] as const;
  const turn = (d: readonly number[], step: number): Voxel3 => [
    (m[0]! * d[0]! + m[1]! * d[1]! + m[2]! * d[2]!) * step,
    (m[4]! * d[0]! + m[5]! * d[1]! + m[6]! * d[2]!) * step,
    (m[8]! * d[0]! + m[9]! * d[1]! + m[10]! * d[2]!) * step,
  ];
  const o = turn(plane.originLps, 1);
  const n = turn(normal, 1);
  const du = turn(u, su);
  const dv = turn(v, sv);
  const out = new Float32Array(width * height);
  const layer = layers.length > 1 ? new Float32Array(width * height) : out;
  const counts =
    layers.length > 1 && options.slab?.combine === 'mean' ? new Uint16Array(width * height) : null;
  for (let at = 0; at < layers.length; at++) {
    const h = layers[at]!;
    const start: Voxel3 = [o[0] + m[3]! + h * n[0], o[1] + m[7]! + h * n[1], o[2] + m[11]! + h * n[2]];
    if (options.interpolation === 'cubic') drawCubic(volume, start, du, dv, width, height, layer);
    else drawLinear(volume, start, du, dv, width, height, layer);
    if (layer !== out) addLayer(layer, out, counts, at === 0);
  }
  if (counts) for (let p = 0; p < out.length; p++) out[p] = counts[p]! > 0 ? out[p]! / counts[p]! : NaN;
  return succeed(out);
}

type Voxel3 = readonly [number, number, number];

function placeLayers(slab: ResliceSlab | undefined): number[] | null {
  if (!slab) return [0];
  const { thicknessMm, stepMm } = slab;
  if (!(thicknessMm >= 0 && stepMm > 0)) return null;
  const count = Math.max(1, Math.ceil(thicknessMm / stepMm - 1e-9));
  if (!(count <= MAX_LAYERS)) return null;
  return Array.from({ length: count }, (_, at) => ((at + 0.5) / count - 0.5) * thicknessMm);
}

/** counts: mean; without: max. NaN of a layer is left out. */
function addLayer(
  layer: Float32Array,
  out: Float32Array,
  counts: Uint16Array | null,
  isFirst: boolean,
): void {
  if (isFirst) out.fill(counts ? 0 : NaN);
  for (let p = 0; p < out.length; p++) {
    const value = layer[p]!;
    if (value !== value) continue;
    if (counts) {
      out[p] = out[p]! + value;
      counts[p] = counts[p]! + 1;
    } else if (!(out[p]! >= value)) out[p] = value;
  }
}

/** First and last whole a with lo <= p + a d <= hi, cut to [range]; conservative by rounding, the caller's ends are checked. */
function clipRange(range: [number, number], p: number, d: number, lo: number, hi: number): void {
  if (d === 0) {
    if (!(p >= lo && p <= hi)) range[1] = -1;
    return;
  }
  const a = (lo - p) / d;
  const b = (hi - p) / d;
  range[0] = Math.max(range[0], Math.ceil(Math.min(a, b)));
  range[1] = Math.min(range[1], Math.floor(Math.max(a, b)));
}

/** First and last pixel of a row that keep `inset` voxels from the outermost centres; [width, width - 1] when there is none. */
function clipRow(
  dims: readonly [number, number, number],
  x0: number,
  y0: number,
  z0: number,
  du: Voxel3,
  width: number,
  inset: number,
): [number, number] {
  const range: [number, number] = [0, width - 1];
  clipRange(range, x0, du[0], inset, dims[0] - 1 - inset);
  clipRange(range, y0, du[1], inset, dims[1] - 1 - inset);
  clipRange(range, z0, du[2], inset, dims[2] - 1 - inset);
  return range[1] < range[0] ? [width, width - 1] : range;
}
// Inside a clipped row every neighbour exists and no test is needed; this much of a voxel keeps rounding out of it.
const EDGE = 1e-6;

function drawLinear(
  volume: CtVolume,
  start: Voxel3,
  du: Voxel3,
  dv: Voxel3,
  width: number,
  height: number,
  out: Float32Array,
): void {
  const s = volume.samplesHu;
  const [nx, ny, nz] = volume.dims;
  for (let b = 0; b < height; b++) {
    const x0 = start[0] + b * dv[0];
    const y0 = start[1] + b * dv[1];
    const z0 = start[2] + b * dv[2];
    const [first, last] = clipRow(volume.dims, x0, y0, z0, du, width, EDGE);
    const row = b * width;
    for (let a = 0; a < width; a++) {
      if (a === first) a = last + 1;
      if (a < width)
        out[row + a] = sampleLinear(s, nx, ny, nz, x0 + a * du[0], y0 + a * du[1], z0 + a * du[2]);
    }
    drawLinearRow(s, nx, nx * ny, x0, y0, z0, du, first, last, out, row);
  }
}

function drawLinearRow(
  s: Int16Array,
  nx: number,
  plane: number,
  x0: number,
  y0: number,
  z0: number,
  du: Voxel3,
  first: number,
  last: number,
  out: Float32Array,
  row: number,
): void {
  const [ux, uy, uz] = du;
  for (let a = first; a <= last; a++) {
    const x = x0 + a * ux;
    const y = y0 + a * uy;
    const z = z0 + a * uz;
    const i = x | 0;
    const j = y | 0;
    const k = z | 0;
    const fx = x - i;
    const fy = y - j;
    const p = k * plane + j * nx + i;
    const q = p + plane;
    const s00 = s[p]! + fx * (s[p + 1]! - s[p]!);
    const s10 = s[p + nx]! + fx * (s[p + nx + 1]! - s[p + nx]!);
    const s01 = s[q]! + fx * (s[q + 1]! - s[q]!);
    const s11 = s[q + nx]! + fx * (s[q + nx + 1]! - s[q + nx]!);
    const s0 = s00 + fy * (s10 - s00);
    out[row + a] = s0 + (z - k) * (s01 + fy * (s11 - s01) - s0);
  }
}

function drawCubic(
  volume: CtVolume,
  start: Voxel3,
  du: Voxel3,
  dv: Voxel3,
  width: number,
  height: number,
  out: Float32Array,
): void {
  const s = volume.samplesHu;
  const [nx, ny, nz] = volume.dims;
  const weights = new Float64Array(12);
  const offsets = new Int32Array(12);
  for (let b = 0; b < height; b++) {
    const x0 = start[0] + b * dv[0];
    const y0 = start[1] + b * dv[1];
    const z0 = start[2] + b * dv[2];
    const [first, last] = clipRow(volume.dims, x0, y0, z0, du, width, 1 + EDGE);
    const row = b * width;
    for (let a = 0; a < width; a++) {
      if (a === first) a = last + 1;
      if (a < width)
        out[row + a] = sampleCubic(
          s,
          nx,
          ny,
          nz,
          x0 + a * du[0],
          y0 + a * du[1],
          z0 + a * du[2],
          weights,
          offsets,
        );
    }
    drawCubicRow(s, nx, nx * ny, x0, y0, z0, du, first, last, out, row);
  }
}

// The body of blendCubic again: it is too long for the compiler to inline, and a call boxes every number.
function drawCubicRow(
  s: Int16Array,
  nx: number,
  plane: number,
  x0: number,
  y0: number,
  z0: number,
  du: Voxel3,
  first: number,
  last: number,
  out: Float32Array,
  row: number,
): void {
  const [ux, uy, uz] = du;
  for (let a = first; a <= last; a++) {
    const x = x0 + a * ux;
    const y = y0 + a * uy;
    const z = z0 + a * uz;
    const i = x | 0;
    const j = y | 0;
    const k = z | 0;
    // a0 and a3 by the formula, a1 and a2 because the weights reproduce 1 and x.
    const t = x - i;
    const t1 = 1 - t;
    const a0 = -0.5 * t * t1 * t1;
    const a3 = -0.5 * t * t * t1;
    const a1 = t1 + a3 - 2 * a0;
    const a2 = t + a0 - 2 * a3;
    const u = y - j;
    const u1 = 1 - u;
    const b0 = -0.5 * u * u1 * u1;
    const b3 = -0.5 * u * u * u1;
    const b1 = u1 + b3 - 2 * b0;
    const b2 = u + b0 - 2 * b3;
    const w = z - k;
    const w1 = 1 - w;
    const c0 = -0.5 * w * w1 * w1;
    const c3 = -0.5 * w * w * w1;
    let sum = 0;
    let p = (k - 1) * plane + (j - 1) * nx + i - 1;
    for (let c = 0; c < 4; c++, p += plane) {
      const weight = c === 0 ? c0 : c === 1 ? w1 + c3 - 2 * c0 : c === 2 ? w + c0 - 2 * c3 : c3;
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
    out[row + a] = sum;
  }
}
