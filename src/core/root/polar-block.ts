import { invertAffine } from '../units/affine.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import type { RootFrame } from './root-frame.ts';

/** Where a polar block samples: heights, azimuths and radii are evenly spaced. */
export interface PolarSpec {
  readonly lowMm: number;
  readonly heightStepMm: number;
  readonly heights: number;
  readonly azimuths: number;
  readonly radiusStepMm: number;
  readonly radii: number;
}
/**
 * CT samples in the cylinder coordinates of a root frame.
 * Shape   valuesHu[(h * azimuths + a) * radii + r]; height lowMm + h * step, azimuth 2 pi a / azimuths, radius r * step
 * Units   HU; NaN outside the scan
 */
export interface PolarBlock extends PolarSpec {
  readonly frame: RootFrame;
  readonly valuesHu: Float32Array;
}

/**
 * Trilinear samples of the scan on a polar grid.
 * Fails     never; an affine without inverse gives a block of NaN
 * Accuracy  trilinear; adds about spacing^2 / 6 to the variance of the blur, symmetric, so edges keep their place
 */
export function samplePolarBlock(volume: CtVolume, frame: RootFrame, spec: PolarSpec): PolarBlock {
  const values = new Float32Array(spec.heights * spec.azimuths * spec.radii).fill(NaN);
  const inverse = invertAffine(volume.lpsFromVoxel);
  const block = { ...spec, frame, valuesHu: values };
  if (!inverse) return block;
  const m = inverse.rows;
  const linear = (v: readonly number[]): [number, number, number] => [
    m[0]! * v[0]! + m[1]! * v[1]! + m[2]! * v[2]!,
    m[4]! * v[0]! + m[5]! * v[1]! + m[6]! * v[2]!,
    m[8]! * v[0]! + m[9]! * v[1]! + m[10]! * v[2]!,
  ];
  const o = linear(frame.originLps);
  const n = linear(frame.normalLps);
  const u = linear(frame.uLps);
  const w = linear(frame.vLps);
  let at = 0;
  for (let h = 0; h < spec.heights; h++) {
    const z = spec.lowMm + h * spec.heightStepMm;
    const bx = o[0] + m[3]! + z * n[0];
    const by = o[1] + m[7]! + z * n[1];
    const bz = o[2] + m[11]! + z * n[2];
    for (let a = 0; a < spec.azimuths; a++, at += spec.radii) {
      const angle = (2 * Math.PI * a) / spec.azimuths;
      const c = Math.cos(angle) * spec.radiusStepMm;
      const d = Math.sin(angle) * spec.radiusStepMm;
      const dx = c * u[0] + d * w[0];
      const dy = c * u[1] + d * w[1];
      const dz = c * u[2] + d * w[2];
      sampleRay(volume, [bx, by, bz], [dx, dy, dz], values, at, spec.radii);
    }
  }
  return block;
}

/** `count` trilinear samples at begin + r step (voxel indices), written from out[at] on; what lies outside stays as it is. */
function sampleRay(
  volume: CtVolume, begin: readonly [number, number, number], step: readonly [number, number, number], out: Float32Array, at: number, count: number,
): void {
  const s = volume.samplesHu;
  const [nx, ny, nz] = volume.dims;
  const slab = nx * ny;
  const [bx, by, bz] = begin;
  const [dx, dy, dz] = step;
  for (let r = 0; r < count; r++) {
    const x = bx + r * dx;
    const y = by + r * dy;
    const q = bz + r * dz;
    if (!(x >= 0 && y >= 0 && q >= 0 && x < nx - 1 && y < ny - 1 && q < nz - 1)) continue;
    const i = x | 0;
    const j = y | 0;
    const k = q | 0;
    const fx = x - i;
    const fy = y - j;
    const fz = q - k;
    const p = (k * ny + j) * nx + i;
    const t = p + slab;
    const low = s[p]! + fx * (s[p + 1]! - s[p]!);
    const low2 = s[p + nx]! + fx * (s[p + nx + 1]! - s[p + nx]!);
    const high = s[t]! + fx * (s[t + 1]! - s[t]!);
    const high2 = s[t + nx]! + fx * (s[t + nx + 1]! - s[t + nx]!);
    const a0 = low + fy * (low2 - low);
    const a1 = high + fy * (high2 - high);
    out[at + r] = a0 + fz * (a1 - a0);
  }
}

/** Binomial [1 2 1] / 4 along azimuth (closed) and height (ends kept), `times` over; NaN spreads. */
export function smoothPolarBlock(block: PolarBlock, times: number): PolarBlock {
  const { heights, azimuths, radii } = block;
  const row = azimuths * radii;
  let src = block.valuesHu;
  // Three smoothed rows at a time: fresh memory for a whole block in between would cost more than the sums.
  let [below, here, above] = [new Float32Array(row), new Float32Array(row), new Float32Array(row)];
  for (let n = 0; n < times; n++) {
    const out = new Float32Array(src.length);
    smoothRow(src, 0, azimuths, radii, here);
    below.set(here);
    for (let h = 0; h < heights; h++) {
      if (h + 1 < heights) smoothRow(src, (h + 1) * row, azimuths, radii, above);
      else above.set(here);
      blendRows(below, here, above, out, h * row);
      [below, here, above] = [here, above, below];
    }
    src = out;
  }
  return { ...block, valuesHu: src };
}

// A function of its own: called for every height it is compiled early, while a loop inside the long one above is not.
function blendRows(below: Float32Array, here: Float32Array, above: Float32Array, out: Float32Array, to: number): void {
  for (let k = 0; k < here.length; k++) out[to + k] = 0.5 * here[k]! + 0.25 * (below[k]! + above[k]!);
}

/** One height of `src`, beginning at `from`, smoothed along azimuth. */
function smoothRow(src: Float32Array, from: number, azimuths: number, radii: number, out: Float32Array): void {
  for (let a = 0; a < azimuths; a++) {
    const to = a * radii;
    const o = from + to;
    const l = from + ((a + azimuths - 1) % azimuths) * radii;
    const r = from + ((a + 1) % azimuths) * radii;
    for (let k = 0; k < radii; k++) out[to + k] = 0.5 * src[o + k]! + 0.25 * (src[l + k]! + src[r + k]!);
  }
}
