import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { expectAllWithin, expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { applyToPoint, applyToVector, composeAffine, determinant, invertAffine } from './affine.ts';
import { makePoint, makeVector, type Affine } from './frames.ts';

const EXACT: Tolerance = { relative: 0, absolute: 0, from: 'whole numbers' };
/** Round trip through a grid of 0.3-3 mm steps some hundreds of mm away: 4 products of 500 x 2.2e-16, margin 20, over 0.3. */
const ROUNDING: Tolerance = { relative: 0, absolute: 3e-11, from: '4 x 500 mm x 2.2e-16 x margin 20 / 0.3 mm' };

/** A head-first grid: 0.5 x 0.5 x 0.8 mm, first voxel centre at (-100, -200, 300). */
const lpsFromVoxel: Affine<'lps', 'voxel'> = { to: 'lps', from: 'voxel', rows: [0.5, 0, 0, -100, 0, 0.5, 0, -200, 0, 0, 0.8, 300] };

const mm = (limit: number): fc.Arbitrary<number> => fc.double({ min: -limit, max: limit, noNaN: true });
/** Oblique, maybe left-handed, maybe sheared: rotation x steps x shear, then a shift. */
const grid = fc
  .record({
    angles: fc.tuple(mm(Math.PI), mm(Math.PI), mm(Math.PI)),
    steps: fc.tuple(fc.double({ min: 0.3, max: 3, noNaN: true }), fc.double({ min: 0.3, max: 3, noNaN: true }), fc.double({ min: 0.3, max: 3, noNaN: true })),
    shear: mm(0.5),
    isMirrored: fc.boolean(),
    shift: fc.tuple(mm(500), mm(500), mm(500)),
  })
  .map(({ angles: [a, b, c], steps: [sx, sy, sz], shear, isMirrored, shift }): Affine<'lps', 'voxel'> => {
    const turn = (axis: number, angle: number): number[] => {
      const rows = [1, 0, 0, 0, 1, 0, 0, 0, 1];
      const [i, j] = [(axis + 1) % 3, (axis + 2) % 3];
      rows[i * 3 + i] = rows[j * 3 + j] = Math.cos(angle);
      rows[i * 3 + j] = -Math.sin(angle);
      rows[j * 3 + i] = Math.sin(angle);
      return rows;
    };
    const multiply = (p: number[], q: number[]): number[] =>
      p.map((_, n) => [0, 1, 2].reduce((sum, k) => sum + p[Math.floor(n / 3) * 3 + k]! * q[k * 3 + (n % 3)]!, 0));
    const steps = [isMirrored ? -sx : sx, 0, 0, 0, sy, shear, 0, 0, sz];
    const m = multiply(multiply(multiply(turn(0, a), turn(1, b)), turn(2, c)), steps);
    return { to: 'lps', from: 'voxel', rows: [m[0]!, m[1]!, m[2]!, shift[0], m[3]!, m[4]!, m[5]!, shift[1], m[6]!, m[7]!, m[8]!, shift[2]] };
  });
const index = fc.tuple(mm(100), mm(100), mm(100)).map(([i, j, k]) => makePoint<'voxel'>(i, j, k));

describe(`affines (seed ${seed})`, () => {
  test('take a voxel centre to its place and a direction without the shift', () => {
    expectAllWithin(applyToPoint(lpsFromVoxel, makePoint<'voxel'>(0, 0, 0)), [-100, -200, 300], EXACT);
    expectAllWithin(applyToPoint(lpsFromVoxel, makePoint<'voxel'>(10, 20, 5)), [-95, -190, 304], EXACT);
    expectAllWithin(applyToVector(lpsFromVoxel, makeVector<'voxel'>(10, 20, 5)), [5, 10, 4], EXACT);
  });
  test('the inverse leads back, for oblique, mirrored and sheared grids', () => {
    fc.assert(
      fc.property(grid, index, (m, p) => {
        const voxelFromLps = invertAffine(m)!;
        expect([voxelFromLps.to, voxelFromLps.from]).toEqual(['voxel', 'lps']);
        expectAllWithin(applyToPoint(voxelFromLps, applyToPoint(m, p)), p, ROUNDING);
      }),
      replay,
    );
  });
  test('a composed affine does what its parts do one after the other', () => {
    fc.assert(
      fc.property(grid, grid, index, (m, other, p) => {
        const rootFromLps: Affine<'root', 'lps'> = { to: 'root', from: 'lps', rows: other.rows };
        const rootFromVoxel = composeAffine(rootFromLps, m);
        expect([rootFromVoxel.to, rootFromVoxel.from]).toEqual(['root', 'voxel']);
        const oneByOne = applyToPoint(rootFromLps, applyToPoint(m, p));
        expectAllWithin(applyToPoint(rootFromVoxel, p), oneByOne, { relative: 0, absolute: 1e-11, from: '9 products of 5000 mm x 2.2e-16' });
      }),
      replay,
    );
  });
  test('the determinant is the volume of a voxel, negative for a left-handed grid', () => {
    expectWithin(determinant(lpsFromVoxel.rows), 0.2, { relative: 1e-15, absolute: 0, from: 'two products' });
    const mirrored = lpsFromVoxel.rows.map((value, n) => (n === 0 ? -value : value));
    expectWithin(determinant(mirrored), -0.2, { relative: 1e-15, absolute: 0, from: 'two products' });
  });
  test('a grid that does not span space has no inverse, nor has one with NaN', () => {
    expect(invertAffine({ ...lpsFromVoxel, rows: [1, 2, 0, 0, 2, 4, 0, 0, 0, 0, 1, 0] })).toBeNull();
    expect(invertAffine({ ...lpsFromVoxel, rows: [Number.NaN, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0] })).toBeNull();
  });
});
