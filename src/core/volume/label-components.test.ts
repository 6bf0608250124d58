import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { uniformAt } from '../math/random.ts';
import { labelComponents, type ComponentLabels } from './label-components.ts';

type Triple = [number, number, number];

function labelled(
  mask: Uint8Array,
  dims: Triple,
  connectivity: 6 | 26,
  order: 'first' | 'size' = 'first',
): ComponentLabels {
  const result = labelComponents(mask, dims, { connectivity, order });
  if (!result.ok) throw new Error(result.failure.message);
  return result.value;
}

/** Flood fill from each voxel in memory order. */
function floodSlowly(
  mask: Uint8Array,
  [nx, ny, nz]: Triple,
  connectivity: 6 | 26,
): { labels: Int32Array; count: number } {
  const labels = new Int32Array(mask.length);
  let count = 0;
  for (let seedAt = 0; seedAt < mask.length; seedAt++) {
    if (mask[seedAt] === 0 || labels[seedAt] !== 0) continue;
    const open = [seedAt];
    labels[seedAt] = ++count;
    while (open.length > 0) {
      const at = open.pop()!;
      const i = at % nx,
        j = Math.floor(at / nx) % ny,
        k = Math.floor(at / nx / ny);
      for (let c = -1; c <= 1; c++)
        for (let b = -1; b <= 1; b++)
          for (let a = -1; a <= 1; a++) {
            const steps = Math.abs(a) + Math.abs(b) + Math.abs(c);
            if (steps === 0 || (connectivity === 6 && steps > 1)) continue;
            if (i + a < 0 || i + a >= nx || j + b < 0 || j + b >= ny || k + c < 0 || k + c >= nz) continue;
            const to = ((k + c) * ny + j + b) * nx + i + a;
            if (mask[to] === 0 || labels[to] !== 0) continue;
            labels[to] = count;
            open.push(to);
          }
    }
  }
  return { labels, count };
}

const size = fc.integer({ min: 1, max: 12 });
const anyMask = fc.tuple(
  fc.tuple(size, size, size),
  fc.integer(),
  fc.double({ min: 0, max: 1, noNaN: true }),
);
const drawMask = (dims: Triple, s: number, filled: number): Uint8Array =>
  new Uint8Array(dims[0] * dims[1] * dims[2]).map((_, at) => (uniformAt(s, at, 0) < filled ? 255 : 0));

describe(`labelComponents (seed ${seed})`, () => {
  for (const connectivity of [6, 26] as const) {
    test(`equals a flood fill in memory order, ${connectivity} neighbours`, () => {
      fc.assert(
        fc.property(anyMask, ([dims, s, filled]) => {
          const mask = drawMask(dims, s, filled);
          const slow = floodSlowly(mask, dims, connectivity);
          const fast = labelled(mask, dims, connectivity);
          expect(fast.labels.findIndex((l, at) => l !== slow.labels[at])).toBe(-1);
          expect(fast.count).toBe(slow.count);
        }),
        { ...replay, numRuns: 150 },
      );
    });
    test(`by size gives the same parts, largest first, ${connectivity} neighbours`, () => {
      fc.assert(
        fc.property(anyMask, ([dims, s, filled]) => {
          const mask = drawMask(dims, s, filled);
          const first = labelled(mask, dims, connectivity);
          const bySize = labelled(mask, dims, connectivity, 'size');
          const renamed = new Map<number, number>();
          for (let at = 0; at < mask.length; at++) {
            const to = bySize.labels[at]!;
            if (!renamed.has(first.labels[at]!)) renamed.set(first.labels[at]!, to);
            if (to !== renamed.get(first.labels[at]!)) throw new Error(`voxel ${at} changed its part`);
          }
          const counted = new Float64Array(bySize.count + 1);
          for (const label of bySize.labels) counted[label]!++;
          expect(bySize.sizes).toEqual(counted);
          for (let l = 2; l <= bySize.count; l++)
            expect(bySize.sizes[l]!).toBeLessThanOrEqual(bySize.sizes[l - 1]!);
        }),
        { ...replay, numRuns: 60 },
      );
    });
  }
  test('joins two corners with 26 neighbours and not with 6', () => {
    const mask = Uint8Array.of(1, 0, 0, 0, 0, 0, 0, 1);
    expect(labelled(mask, [2, 2, 2], 6).count).toBe(2);
    expect(labelled(mask, [2, 2, 2], 26).count).toBe(1);
  });
  test('finds nothing in an empty mask and one part in a full one', () => {
    expect(labelled(new Uint8Array(60), [5, 4, 3], 6)).toEqual({
      labels: new Int32Array(60),
      count: 0,
      sizes: Float64Array.of(60),
    });
    expect(labelled(new Uint8Array(60).fill(1), [5, 4, 3], 6).sizes).toEqual(Float64Array.of(0, 60));
  });
  test('refuses a size that does not fit the mask', () => {
    const result = labelComponents(new Uint8Array(7), [2, 2, 2], { connectivity: 6, order: 'first' });
    expect(result.ok ? '' : result.failure.code).toBe('label-grid-mismatch');
  });
});
