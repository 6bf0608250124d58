import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { uniformAt } from '../math/random.ts';
import { smoothGaussian } from './smooth-gaussian.ts';

type Triple = [number, number, number];

function smoothed(
  samples: Int16Array | Float32Array,
  dims: Triple,
  spacing: Triple,
  sigma: Triple,
  factor?: number,
): Float32Array {
  const result = smoothGaussian(samples, dims, spacing, sigma, factor);
  if (!result.ok) throw new Error(result.failure.message);
  return result.value;
}

/** The definition, voxel by voxel: every weight that falls inside, over their sum. */
function smoothSlowly(
  samples: ArrayLike<number>,
  [nx, ny, nz]: Triple,
  spacing: Triple,
  sigma: Triple,
  factor: number,
): Float64Array {
  const r = sigma.map((s, a) => Math.floor((s / spacing[a]!) * factor)) as Triple;
  const weight = (t: number, axis: number): number =>
    t === 0 ? 1 : Math.exp(-0.5 * ((t * spacing[axis]!) / sigma[axis]!) ** 2);
  const out = new Float64Array(nx * ny * nz);
  for (let k = 0, at = 0; k < nz; k++)
    for (let j = 0; j < ny; j++)
      for (let i = 0; i < nx; i++, at++) {
        let sum = 0,
          total = 0;
        for (let c = Math.max(0, k - r[2]); c <= Math.min(nz - 1, k + r[2]); c++) {
          for (let b = Math.max(0, j - r[1]); b <= Math.min(ny - 1, j + r[1]); b++) {
            for (let a = Math.max(0, i - r[0]); a <= Math.min(nx - 1, i + r[0]); a++) {
              const w = weight(a - i, 0) * weight(b - j, 1) * weight(c - k, 2);
              sum += w * samples[(c * ny + b) * nx + a]!;
              total += w;
            }
          }
        }
        out[at] = sum / total;
      }
  return out;
}

describe(`smoothGaussian (seed ${seed})`, () => {
  test('equals the definition on every grid, kernel wider than the volume included', () => {
    const size = fc.integer({ min: 1, max: 9 });
    const sigma = fc.double({ min: 0, max: 2.5, noNaN: true });
    fc.assert(
      fc.property(
        fc.tuple(size, size, size),
        fc.tuple(sigma, sigma, sigma),
        fc.integer(),
        (dims, sigmaMm, s) => {
          const samples = new Int16Array(dims[0] * dims[1] * dims[2]).map(
            (_, at) => 4000 * uniformAt(s, at, 0) - 1000,
          );
          const spacing: Triple = [0.5, 0.6, 0.8];
          const fast = smoothed(samples, dims, spacing, sigmaMm, 3);
          const slow = smoothSlowly(samples, dims, spacing, sigmaMm, 3);
          // Three float32 roundings of values up to 3000, and those of the sums behind them.
          expect(fast.findIndex((value, at) => !(Math.abs(value - slow[at]!) < 2e-3))).toBe(-1);
        },
      ),
      { ...replay, numRuns: 60 },
    );
  });
  test('keeps a constant to the border', () => {
    const out = smoothed(
      new Int16Array(20 * 18 * 16).fill(1234),
      [20, 18, 16],
      [0.4, 0.5, 0.6],
      [1, 1.2, 1.4],
    );
    expect(out.every((value) => Math.abs(value - 1234) < 1e-3)).toBe(true); // float32: 1234 x 6e-8 x a dozen
  });
  test('spreads an impulse to the kernel: sum, symmetry, variance', () => {
    const n = 41;
    const samples = new Float32Array(n ** 3);
    samples[(20 * n + 20) * n + 20] = 1e6;
    const sigmaMm = 1.5;
    const out = smoothed(samples, [n, n, n], [0.5, 0.75, 1], [sigmaMm, sigmaMm, sigmaMm], 5);
    let sum = 0;
    const second: Triple = [0, 0, 0];
    for (let k = 0, at = 0; k < n; k++)
      for (let j = 0; j < n; j++)
        for (let i = 0; i < n; i++, at++) {
          sum += out[at]!;
          second[0] += out[at]! * ((i - 20) * 0.5) ** 2;
          second[1] += out[at]! * ((j - 20) * 0.75) ** 2;
          second[2] += out[at]! * (k - 20) ** 2;
          const mirrored = ((40 - k) * n + (40 - j)) * n + (40 - i);
          if (Math.abs(out[at]! - out[mirrored]!) > 1e-6 * out[at]!)
            throw new Error(`not symmetric at ${i}, ${j}, ${k}`);
        }
    expect(Math.abs(sum / 1e6 - 1)).toBeLessThan(1e-5);
    // Beyond 5 sigma 6e-7 of the weight, 1.5e-5 of the variance; sampled at 1.5 voxels or more: 1e-9.
    for (const v of second) expect(Math.abs(v / sum / sigmaMm ** 2 - 1)).toBeLessThan(1e-4);
  });
  test('does not mix along an axis with sigma 0', () => {
    const samples = new Int16Array(5 * 4 * 3).map((_, at) => (at % 5 === 2 ? 100 : 0));
    const out = smoothed(samples, [5, 4, 3], [1, 1, 1], [0, 2, 2]);
    for (let at = 0; at < out.length; at++) expect(Math.abs(out[at]! - samples[at]!)).toBeLessThan(1e-4);
  });
  test('refuses a sigma that is negative, not a number or too wide, and a size that does not fit', () => {
    const samples = new Int16Array(8);
    for (const sigma of [-1, NaN, Infinity, 1000]) {
      const result = smoothGaussian(samples, [2, 2, 2], [1, 1, 1], [1, sigma, 1]);
      expect(result.ok ? '' : result.failure.code).toBe('smooth-sigma-invalid');
    }
    const spacing = smoothGaussian(samples, [2, 2, 2], [1, 0, 1], [1, 1, 1]);
    expect(spacing.ok ? '' : spacing.failure.code).toBe('smooth-sigma-invalid');
    const size = smoothGaussian(samples, [2, 2, 3], [1, 1, 1], [1, 1, 1]);
    expect(size.ok ? '' : size.failure.code).toBe('smooth-grid-mismatch');
  });
});
