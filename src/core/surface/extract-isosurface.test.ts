import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { uniformAt } from '../math/random.ts';
import type { Affine } from '../units/frames.ts';
import { CELL_CASES, CELL_FACES } from './cell-cases.ts';
import { checkClosedSurface, measureSurface } from './check-surface.ts';
import { extractIsosurface, type IsosurfaceOptions, type SampleGrid } from './extract-isosurface.ts';
import type { TriangleMesh } from './mesh-types.ts';

const IDENTITY = [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0];
type Triple = [number, number, number];

const affineOf = (rows: readonly number[]): Affine<'lps', 'voxel'> => ({ to: 'lps', from: 'voxel', rows });
function sample(
  dims: Triple,
  field: (i: number, j: number, k: number) => number,
  rows: readonly number[] = IDENTITY,
): SampleGrid {
  const samples = new Float32Array(dims[0] * dims[1] * dims[2]);
  for (let k = 0, at = 0; k < dims[2]; k++)
    for (let j = 0; j < dims[1]; j++) for (let i = 0; i < dims[0]; i++) samples[at++] = field(i, j, k);
  return { samples, dims, lpsFromVoxel: affineOf(rows) };
}
function surface(grid: SampleGrid, level: number, options?: IsosurfaceOptions): TriangleMesh {
  const result = extractIsosurface(grid, level, options);
  if (!result.ok) throw new Error(result.failure.message);
  return result.value;
}
/** Ball of radius 8 mm on n voxels over 20 mm, centre off the grid. */
function ball(n: number): TriangleMesh {
  const h = 20 / n;
  const at = (i: number, c: number): number => (i + 0.5) * h - 10 - c;
  const grid = sample([n, n, n], (i, j, k) => 8 - Math.hypot(at(i, 0.13), at(j, -0.21), at(k, 0.07)), [
    h,
    0,
    0,
    0,
    0,
    h,
    0,
    0,
    0,
    0,
    h,
    0,
  ]);
  return surface(grid, 0);
}

describe(`extractIsosurface (seed ${seed})`, () => {
  test('is closed, manifold and turned outward for every noise volume, on every grid', () => {
    const size = fc.integer({ min: 1, max: 40 });
    const rows = fc.constantFrom(
      IDENTITY,
      [-0.5, 0, 0, 9, 0.1, 0.6, 0.2, -3, 0, 0, 0.8, 1],
      [0, 0.4, 0, 0, 0, 0, 0.5, 0, 0.6, 0.1, 0, 0],
    );
    fc.assert(
      fc.property(
        fc.tuple(size, fc.integer({ min: 1, max: 9 }), fc.integer({ min: 1, max: 7 })),
        fc.integer(),
        rows,
        fc.double({ min: 0.1, max: 0.9, noNaN: true }),
        (dims, s, affine, level) => {
          const grid = sample(dims, (i, j, k) => uniformAt(s, i + 100 * j, k), affine);
          if (!grid.samples.some((v) => v >= level)) return;
          expect(checkClosedSurface(surface(grid, level, { border: 'closed' }))).toEqual([]);
        },
      ),
      { ...replay, numRuns: 150 },
    );
  });
  test('stays closed when samples equal the level (whole numbers, level a whole number)', () => {
    fc.assert(
      fc.property(fc.integer(), (s) => {
        const grid = sample([9, 8, 7], (i, j, k) => Math.floor(4 * uniformAt(s, i + 100 * j, k)));
        const whole = { ...grid, samples: Int16Array.from(grid.samples) };
        const r = measureSurface(surface(whole, 2, { border: 'closed' }));
        expect([r.isClosed, r.isManifold]).toEqual([true, true]);
      }),
      { ...replay, numRuns: 40 },
    );
  });
  test('gives the same mesh for the same values whatever their array type', () => {
    const field = (i: number, j: number, k: number): number =>
      Math.floor(200 * uniformAt(seed, i + 100 * j, k));
    const grid = sample([40, 9, 8], field);
    for (const level of [100, 99.5, 0, 199, -3, 400]) {
      const float = surface(grid, level);
      for (const samples of [Int16Array.from(grid.samples), Uint8Array.from(grid.samples)]) {
        const other = surface({ ...grid, samples }, level);
        expect([other.verticesLpsMm.length, other.triangles.length]).toEqual([
          float.verticesLpsMm.length,
          float.triangles.length,
        ]);
        expect(other.verticesLpsMm.every((v, at) => v === float.verticesLpsMm[at])).toBe(true);
        expect(other.triangles.every((v, at) => v === float.triangles[at])).toBe(true);
      }
    }
  });
  test('gives the same mesh when samples are judged two by two (widths of whole words), at any level and border', () => {
    const extremes = [-32768, -32767, -1, 0, 1, 32766, 32767];
    const value = (i: number, j: number, k: number): number => {
      const u = uniformAt(seed, i + 100 * j, k);
      return u < 0.5 ? extremes[Math.floor(14 * u)]! : Math.round(131070 * (u - 0.75));
    };
    for (const width of [32, 64, 96]) {
      const grid = sample([width, 6, 5], value);
      const whole = Int16Array.from(grid.samples);
      const shifted = new Int16Array(whole.length + 1).subarray(1); // begins within a word: judged one by one
      shifted.set(whole);
      for (const level of [
        -32768, -32767.5, -40000, -20000, -1, -0.5, 0, 0.5, 1, 250.5, 20000, 32767, 32767.5, 50000,
      ]) {
        for (const border of ['open', 'closed'] as const) {
          const float = surface(grid, level, { border });
          for (const samples of [whole, shifted]) {
            const other = surface({ ...grid, samples }, level, { border });
            expect(
              Buffer.compare(Buffer.from(other.triangles.buffer), Buffer.from(float.triangles.buffer)),
            ).toBe(0);
            expect(
              Buffer.compare(
                Buffer.from(other.verticesLpsMm.buffer),
                Buffer.from(float.verticesLpsMm.buffer),
              ),
            ).toBe(0);
          }
        }
      }
    }
  });
  test('area and volume of a ball converge at second order', () => {
    const errors = [20, 40, 80].map((n) => {
      const mesh = ball(n);
      expect(checkClosedSurface(mesh)).toEqual([]);
      const r = measureSurface(mesh);
      expect(r.euler).toBe(2);
      return [
        Math.abs(r.areaMm2 / (4 * Math.PI * 64) - 1),
        Math.abs(r.volumeMm3 / ((4 / 3) * Math.PI * 512) - 1),
      ];
    });
    for (const q of [0, 1]) {
      for (const at of [0, 1]) {
        const order = Math.log2(errors[at]![q]! / errors[at + 1]![q]!);
        expect(order).toBeGreaterThan(1.8); // second order; the crossing points scatter the last tenth
        expect(order).toBeLessThan(2.2);
      }
    }
    expect(errors[2]![0]!).toBeLessThan(5e-4); // 0.25 mm voxels on a ball of 8 mm
    expect(errors[2]![1]!).toBeLessThan(1e-3);
  });
  test('a torus has Euler number 0', () => {
    const grid = sample(
      [40, 40, 16],
      (i, j, k) => 4 - Math.hypot(Math.hypot(i - 19.6, j - 19.3) - 12, k - 7.7),
    );
    const mesh = surface(grid, 0);
    expect(checkClosedSurface(mesh)).toEqual([]);
    expect(measureSurface(mesh).euler).toBe(0);
  });
  test('puts vertices where a linear field crosses the level, in the patient', () => {
    const rows = [-0.5, 0, 0.1, 40, 0.2, 0.6, 0, -10, 0, 0.1, 0.8, 5];
    const field = (x: number, y: number, z: number): number => 3 * x - 2 * y + z;
    const grid = sample(
      [9, 8, 7],
      (i, j, k) => field(-0.5 * i + 0.1 * k + 40, 0.2 * i + 0.6 * j - 10, 0.1 * j + 0.8 * k + 5),
      rows,
    );
    const v = surface(grid, 140).verticesLpsMm;
    expect(v.length).toBeGreaterThan(100);
    // float32 of 140 (1e-5) in the samples and of 40 mm in the vertices.
    for (let at = 0; at < v.length; at += 3)
      expect(Math.abs(field(v[at]!, v[at + 1]!, v[at + 2]!) - 140)).toBeLessThan(5e-5);
  });
  test('changes sign of neither volume nor area when the affine is mirrored', () => {
    const field = (i: number, j: number, k: number): number => uniformAt(seed, i + 50 * j, k);
    const one = measureSurface(surface(sample([12, 11, 10], field), 0.5, { border: 'closed' }));
    const other = measureSurface(
      surface(sample([12, 11, 10], field, [-1, 0, 0, 5, 0, 1, 0, 0, 0, 0, 1, 0]), 0.5, { border: 'closed' }),
    );
    expect(Math.abs(other.volumeMm3 / one.volumeMm3 - 1)).toBeLessThan(1e-6); // float32 vertices
    expect(Math.abs(other.areaMm2 / one.areaMm2 - 1)).toBeLessThan(1e-6);
  });
  test('an open border leaves border edges only on the outermost voxel centres', () => {
    const mesh = surface(
      sample([10, 10, 10], (i) => i - 4.5),
      0,
    );
    const r = measureSurface(mesh);
    expect([r.isClosed, r.isManifold, r.borderEdgeCount]).toEqual([false, true, 36]);
    expect(Math.abs(r.areaMm2 - 81)).toBeLessThan(1e-9);
  });
  test('is empty when nothing crosses the level', () => {
    expect(
      surface(
        sample([4, 4, 4], () => 1),
        2,
      ).triangles.length,
    ).toBe(0);
    expect(
      surface(
        sample([4, 4, 4], () => 3),
        2,
      ).triangles.length,
    ).toBe(0);
  });
  test('refuses a level that is not finite, a size that does not fit and a flat grid', () => {
    const grid = sample([3, 3, 3], (i) => i);
    const code = (g: SampleGrid, level: number): string => {
      const result = extractIsosurface(g, level);
      return result.ok ? '' : result.failure.code;
    };
    expect(code(grid, NaN)).toBe('isosurface-level-invalid');
    expect(code({ ...grid, dims: [3, 3, 4] }, 1)).toBe('isosurface-grid-mismatch');
    expect(code({ ...grid, lpsFromVoxel: affineOf([1, 1, 0, 0, 1, 1, 0, 0, 0, 0, 1, 0]) }, 1)).toBe(
      'isosurface-grid-singular',
    );
  });
});

describe('cell cases', () => {
  test('every case but empty and full has triangles, each cut edge is used, and none that is not cut', () => {
    for (let bright = 0; bright < 256; bright++) {
      const used = new Set(
        CELL_CASES.edges.subarray(CELL_CASES.start[bright]!, CELL_CASES.start[bright + 1]!),
      );
      const cut = new Set<number>();
      for (let e = 0; e < 12; e++) {
        const a = e & 1,
          b = (e >> 1) & 1;
        const low = e < 4 ? 2 * a + 4 * b : e < 8 ? a + 4 * b : a + 2 * b;
        const high = low + (e < 4 ? 1 : e < 8 ? 2 : 4);
        if (((bright >> low) & 1) !== ((bright >> high) & 1)) cut.add(e);
      }
      expect([...used].sort((x, y) => x - y)).toEqual([...cut].sort((x, y) => x - y));
    }
  });
  test('needs at most five triangles', () => {
    for (let c = 0; c < 256; c++)
      expect(CELL_CASES.start[c + 1]! - CELL_CASES.start[c]!).toBeLessThanOrEqual(15);
  });
  test('has six faces of four corners', () => {
    expect(CELL_FACES.map((f) => f.length)).toEqual([4, 4, 4, 4, 4, 4]);
  });
});

describe('measureSurface', () => {
  const tetrahedron = (triangles: number[]): TriangleMesh => ({
    verticesLpsMm: Float32Array.of(0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1),
    triangles: Uint32Array.from(triangles),
  });
  const WHOLE = [0, 2, 1, 0, 1, 3, 0, 3, 2, 1, 2, 3];
  test('knows a tetrahedron', () => {
    const r = measureSurface(tetrahedron(WHOLE));
    expect([r.isClosed, r.isManifold, r.euler, r.edgeCount]).toEqual([true, true, 2, 6]);
    expect(Math.abs(r.volumeMm3 - 1 / 6)).toBeLessThan(1e-12);
    expect(Math.abs(r.areaMm2 - (1.5 + Math.sqrt(3) / 2))).toBeLessThan(1e-12);
  });
  test('sees a hole, a triangle turned over, one twice and one that names nothing', () => {
    expect(measureSurface(tetrahedron(WHOLE.slice(3))).borderEdgeCount).toBe(3);
    expect(measureSurface(tetrahedron([0, 1, 2, ...WHOLE.slice(3)])).isManifold).toBe(false);
    expect(measureSurface(tetrahedron([...WHOLE, 0, 2, 1])).isManifold).toBe(false);
    expect(measureSurface(tetrahedron([0, 2, 9, ...WHOLE.slice(3)])).brokenTriangleCount).toBe(1);
    expect(checkClosedSurface(tetrahedron([0, 1, 2, 0, 3, 1, 0, 2, 3, 1, 3, 2])).join()).toContain('volume');
    expect(checkClosedSurface(tetrahedron([])).length).toBeGreaterThan(0);
  });
});
