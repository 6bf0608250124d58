import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { uniformAt } from '../math/random.ts';
import { computeSquaredDistanceMm2 } from './distance-transform.ts';

type Triple = [number, number, number];

function distances(
  mask: Uint8Array,
  dims: Triple,
  spacing: Triple,
  target: 'set' | 'clear' = 'set',
): Float32Array {
  const result = computeSquaredDistanceMm2(mask, dims, spacing, target);
  if (!result.ok) throw new Error(result.failure.message);
  return result.value;
}

function searchSlowly(mask: Uint8Array, [nx, ny, nz]: Triple, [sx, sy, sz]: Triple): Float64Array {
  const out = new Float64Array(mask.length).fill(Infinity);
  const place = (at: number): Triple => [at % nx, Math.floor(at / nx) % ny, Math.floor(at / nx / ny)];
  for (let q = 0; q < mask.length; q++) {
    if (mask[q] === 0) continue;
    const [a, b, c] = place(q);
    for (let p = 0; p < nx * ny * nz; p++) {
      const [i, j, k] = place(p);
      out[p] = Math.min(out[p]!, (sx * (i - a)) ** 2 + (sy * (j - b)) ** 2 + (sz * (k - c)) ** 2);
    }
  }
  return out;
}

const size = fc.integer({ min: 1, max: 10 });
const step = fc.double({ min: 0.2, max: 3, noNaN: true });

describe(`computeSquaredDistanceMm2 (seed ${seed})`, () => {
  test('equals the search over all targets on every spacing', () => {
    fc.assert(
      fc.property(
        fc.tuple(size, size, size),
        fc.tuple(step, step, step),
        fc.integer(),
        fc.double({ min: 0, max: 0.4, noNaN: true }),
        (dims, spacing, s, filled) => {
          const mask = new Uint8Array(dims[0] * dims[1] * dims[2]).map((_, at) =>
            uniformAt(s, at, 0) < filled ? 1 : 0,
          );
          const fast = distances(mask, dims, spacing);
          const slow = searchSlowly(mask, dims, spacing);
          // Three float32 roundings of 6e-8.
          const isSame = (at: number): boolean =>
            fast[at] === slow[at] || Math.abs(fast[at]! - slow[at]!) <= 2e-7 * slow[at]!;
          expect(fast.findIndex((_, at) => !isSame(at))).toBe(-1);
        },
      ),
      { ...replay, numRuns: 120 },
    );
  });
  test('measures the depth inside when the clear voxels are the target', () => {
    fc.assert(
      fc.property(fc.tuple(size, size, size), fc.integer(), (dims, s) => {
        const mask = new Uint8Array(dims[0] * dims[1] * dims[2]).map((_, at) =>
          uniformAt(s, at, 0) < 0.7 ? 9 : 0,
        );
        const flipped = mask.map((m) => (m === 0 ? 1 : 0));
        expect(distances(mask, dims, [1, 2, 3], 'clear')).toEqual(distances(flipped, dims, [1, 2, 3], 'set'));
      }),
      { ...replay, numRuns: 40 },
    );
  });
  test('scales with the square of the spacing', () => {
    const mask = new Uint8Array(9 * 8 * 7).map((_, at) => (uniformAt(seed, at, 1) < 0.05 ? 1 : 0));
    const one = distances(mask, [9, 8, 7], [1, 1.5, 2]);
    expect(distances(mask, [9, 8, 7], [2, 3, 4])).toEqual(one.map((d) => 4 * d)); // powers of two are exact
  });
  test('is exact on a line longer than one tile', () => {
    const mask = new Uint8Array(40 * 300);
    mask[17 * 40 + 3] = 1;
    const out = distances(mask, [40, 300, 1], [1, 1, 1]);
    expect(out.findIndex((d, at) => d !== ((at % 40) - 3) ** 2 + (Math.floor(at / 40) - 17) ** 2)).toBe(-1);
  });
  test('gives Infinity everywhere when there is no target', () => {
    expect(distances(new Uint8Array(8), [2, 2, 2], [1, 1, 1]).every((d) => d === Infinity)).toBe(true);
  });
  test('refuses a spacing without length and a size that does not fit', () => {
    for (const bad of [0, -1, NaN, Infinity]) {
      const result = computeSquaredDistanceMm2(new Uint8Array(8), [2, 2, 2], [1, bad, 1]);
      expect(result.ok ? '' : result.failure.code).toBe('distance-spacing-invalid');
    }
    const size = computeSquaredDistanceMm2(new Uint8Array(9), [2, 2, 2], [1, 1, 1]);
    expect(size.ok ? '' : size.failure.code).toBe('distance-grid-mismatch');
  });
});
