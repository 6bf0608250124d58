import { fail, succeed, type Result } from '../result.ts';

export type SmoothFailureCode = 'smooth-sigma-invalid' | 'smooth-grid-mismatch';

/** Kernel half-width in sigmas: leaves out 0.27 % of the weight, which the normalisation puts back. */
export const SMOOTH_RADIUS_FACTOR = 3;
const MAX_RADIUS_VOXELS = 512;

/**
 * Gaussian smoothing along the three grid axes.
 *
 * Shape     samples[(k * ny + j) * nx + i]; out is a new Float32Array of the same layout
 * Units     sigma in mm per grid axis (0 leaves the axis as it is); values keep their unit
 * Frame     grid axes; on a sheared grid the third sigma is along the sheared edge
 * Equation  weights exp(-t^2 / (2 s^2)), t = -r .. r voxels, r = floor(radiusFactor * s), s = sigma / spacing;
 *           divided by the sum of those weights that fall inside the volume, so a constant stays that constant and
 *           nothing outside the volume is invented
 * Fails     smooth-sigma-invalid (negative, not finite, or a radius above 512 voxels), smooth-grid-mismatch
 * Source    docs/methods/gaussian-smoothing.md
 * Accuracy  sums in float64, rounded to float32 after each axis
 */
export function smoothGaussian(
  samples: Int16Array | Float32Array,
  dims: readonly [number, number, number],
  spacingMm: readonly [number, number, number],
  sigmaMm: readonly [number, number, number],
  radiusFactor: number = SMOOTH_RADIUS_FACTOR,
): Result<Float32Array<ArrayBuffer>, SmoothFailureCode> {
  const [nx, ny, nz] = dims;
  if (!(samples.length > 0 && samples.length === nx * ny * nz)) {
    return fail(
      'smooth-grid-mismatch',
      `${samples.length} samples do not fill a grid of ${nx} x ${ny} x ${nz}.`,
      'Give the size that belongs to these samples.',
      { samples: samples.length, nx, ny, nz },
    );
  }
  const kernels: AxisKernel[] = [];
  for (let axis = 0; axis < 3; axis++) {
    const sigma = sigmaMm[axis]! / spacingMm[axis]!;
    if (!(sigma >= 0 && sigma * radiusFactor <= MAX_RADIUS_VOXELS)) {
      return fail(
        'smooth-sigma-invalid',
        `Sigma ${sigmaMm[axis]} mm on a ${spacingMm[axis]} mm grid is not usable.`,
        'Give a sigma of 0 mm or more and a spacing above 0 mm.',
        { axis, sigmaMm: sigmaMm[axis]!, spacingMm: spacingMm[axis]! },
      );
    }
    kernels.push(makeAxisKernel(sigma, radiusFactor, dims[axis]!));
  }
  const out = new Float32Array(samples.length);
  smoothSlices(samples, nx, ny, nz, kernels[0]!, kernels[1]!, kernels[2]!, out);
  return succeed(out);
}

interface AxisKernel {
  readonly radius: number;
  /** weights[t] for both neighbours at distance t; all of them sum to 1. */
  readonly weights: Float64Array;
  /** What a position near an end is multiplied with, because part of the kernel lies outside. */
  readonly gain: Float64Array;
}

function makeAxisKernel(sigma: number, radiusFactor: number, count: number): AxisKernel {
  const radius = Math.floor(sigma * radiusFactor);
  const weights = new Float64Array(radius + 1);
  let total = 0;
  for (let t = 0; t <= radius; t++) {
    weights[t] = t === 0 ? 1 : Math.exp(-(t * t) / (2 * sigma * sigma));
    total += t === 0 ? weights[t]! : 2 * weights[t]!;
  }
  for (let t = 0; t <= radius; t++) weights[t] = weights[t]! / total;
  const gain = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    let inside = 0;
    for (let t = -radius; t <= radius; t++) if (i + t >= 0 && i + t < count) inside += weights[Math.abs(t)]!;
    gain[i] = 1 / inside;
  }
  return { radius, weights, gain };
}

/**
 * One pass over the volume: each slice is smoothed in x and y while it is in the cache and kept in a ring of
 * 2 r + 1 slices, from which the finished slice is summed in z. No second copy of the volume is needed.
 */
function smoothSlices(
  samples: Int16Array | Float32Array,
  nx: number,
  ny: number,
  nz: number,
  kx: AxisKernel,
  ky: AxisKernel,
  kz: AxisKernel,
  out: Float32Array,
): void {
  const plane = nx * ny;
  const ringCount = Math.min(nz, 2 * kz.radius + 1);
  const ring = new Float32Array(ringCount * plane);
  const afterX = new Float32Array(plane);
  // Rows in x stand in a frame of zeros as wide as the kernel: what lies outside adds nothing.
  const framed = new Float32Array(nx + 2 * kx.radius);
  const low = new Int32Array(Math.max(kx.radius, ky.radius, kz.radius) + 1);
  const high = new Int32Array(low.length);
  const weights = new Float64Array(low.length);

  for (let k = 0; k < nz + kz.radius; k++) {
    if (k < nz) {
      for (let j = 0; j < ny; j++) {
        const from = k * plane + j * nx;
        framed.set(samples.subarray(from, from + nx), kx.radius);
        for (let t = 0; t <= kx.radius; t++) {
          low[t] = kx.radius - t;
          high[t] = kx.radius + t;
        }
        const row = j * nx;
        sumRows(framed, low, high, kx.weights, kx.radius + 1, afterX, row, nx);
        for (let i = 0; i < Math.min(kx.radius, nx); i++) afterX[row + i] = afterX[row + i]! * kx.gain[i]!;
        for (let i = Math.max(kx.radius, nx - kx.radius); i < nx; i++)
          afterX[row + i] = afterX[row + i]! * kx.gain[i]!;
      }
      const to = (k % ringCount) * plane;
      for (let j = 0; j < ny; j++) {
        const taps = placeTaps(ky, j, ny, ny, nx, low, high, weights);
        sumRows(afterX, low, high, weights, taps, ring, to + j * nx, nx);
      }
    }
    const done = k - kz.radius;
    if (done < 0) continue;
    const taps = placeTaps(kz, done, nz, ringCount, plane, low, high, weights);
    for (let j = 0; j < ny; j++) {
      sumRows(ring, low, high, weights, taps, out, done * plane + j * nx, nx);
      for (let t = 0; t < taps; t++) {
        low[t] = low[t]! + nx;
        high[t] = high[t]! + nx;
      }
    }
  }
}

/**
 * Offsets and weights of the taps around `at` on an axis of `count` lines kept in a ring; returns how many.
 * A pair with one side outside becomes half a pair: both offsets on the inner side and half the weight.
 */
function placeTaps(
  kernel: AxisKernel,
  at: number,
  count: number,
  ringCount: number,
  stride: number,
  low: Int32Array,
  high: Int32Array,
  weights: Float64Array,
): number {
  let taps = 0;
  for (let t = 0; t <= kernel.radius; t++) {
    const hasLow = at - t >= 0;
    const hasHigh = at + t < count;
    if (!hasLow && !hasHigh) break;
    low[taps] = ((hasLow ? at - t : at + t) % ringCount) * stride;
    high[taps] = ((hasHigh ? at + t : at - t) % ringCount) * stride;
    const weight = kernel.weights[t]! * kernel.gain[at]!;
    // Tap 0 is read once by sumRows; later ones twice.
    weights[taps++] = t === 0 || (hasLow && hasHigh) ? weight : weight / 2;
  }
  return taps;
}

/**
 * out[to + i] = w0 in[low0 + i] + sum over taps of w (in[low + i] + in[high + i]), three taps per sweep of the row.
 * Sweeps are functions of their own with few variables: the compiler then keeps these in registers.
 */
function sumRows(
  source: Float32Array,
  low: Int32Array,
  high: Int32Array,
  weights: Float64Array,
  taps: number,
  out: Float32Array,
  to: number,
  n: number,
): void {
  const w = weights;
  // Missing taps of a sweep get weight 0 on a line that exists.
  const at = (t: number): number => (t < taps ? t : 0);
  const weightAt = (t: number): number => (t < taps ? w[t]! : 0);
  if (taps === 1) sumCentre(source, low[0]!, w[0]!, out, to, n);
  else {
    sumFirstTaps(
      source,
      low[0]!,
      low[1]!,
      high[1]!,
      low[at(2)]!,
      high[at(2)]!,
      low[at(3)]!,
      high[at(3)]!,
      w[0]!,
      w[1]!,
      weightAt(2),
      weightAt(3),
      out,
      to,
      n,
    );
  }
  for (let t = 4; t < taps; t += 3) {
    addThreeTaps(
      source,
      low[t]!,
      high[t]!,
      low[at(t + 1)]!,
      high[at(t + 1)]!,
      low[at(t + 2)]!,
      high[at(t + 2)]!,
      w[t]!,
      weightAt(t + 1),
      weightAt(t + 2),
      out,
      to,
      n,
    );
  }
}

function sumCentre(s: Float32Array, l0: number, w0: number, out: Float32Array, to: number, n: number): void {
  for (let i = 0; i < n; i++) out[to + i] = w0 * s[l0 + i]!;
}

function sumFirstTaps(
  s: Float32Array,
  l0: number,
  l1: number,
  h1: number,
  l2: number,
  h2: number,
  l3: number,
  h3: number,
  w0: number,
  w1: number,
  w2: number,
  w3: number,
  out: Float32Array,
  to: number,
  n: number,
): void {
  for (let i = 0; i < n; i++) {
    out[to + i] =
      w0 * s[l0 + i]! +
      w1 * (s[l1 + i]! + s[h1 + i]!) +
      w2 * (s[l2 + i]! + s[h2 + i]!) +
      w3 * (s[l3 + i]! + s[h3 + i]!);
  }
}

function addThreeTaps(
  s: Float32Array,
  l1: number,
  h1: number,
  l2: number,
  h2: number,
  l3: number,
  h3: number,
  w1: number,
  w2: number,
  w3: number,
  out: Float32Array,
  to: number,
  n: number,
): void {
  for (let i = 0; i < n; i++) {
    out[to + i] =
      out[to + i]! +
      w1 * (s[l1 + i]! + s[h1 + i]!) +
      w2 * (s[l2 + i]! + s[h2 + i]!) +
      w3 * (s[l3 + i]! + s[h3 + i]!);
  }
}
