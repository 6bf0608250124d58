import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { applyToPoint } from '../units/affine.ts';
import { makePoint, type Affine } from '../units/frames.ts';
import { makeVolumeSampler, sampleCubicPointsLps, samplePointsLps } from './sample-volume.ts';
import type { CtVolume } from './volume-types.ts';

// Coordinates pass two affines with entries up to 500 mm (1e-13 voxel) and the slope is below 200 HU per voxel;
// the output is Float32 (2^-24 of 3000 HU = 2e-4).
const ROUNDING_HU = 3e-4;

function makeVolume(
  dims: [number, number, number],
  rows: number[],
  f: (i: number, j: number, k: number) => number,
): CtVolume {
  const samplesHu = new Int16Array(dims[0] * dims[1] * dims[2]);
  let to = 0;
  for (let k = 0; k < dims[2]; k++)
    for (let j = 0; j < dims[1]; j++) for (let i = 0; i < dims[0]; i++) samplesHu[to++] = f(i, j, k);
  const length = (c: number): number => Math.hypot(rows[c]!, rows[4 + c]!, rows[8 + c]!);
  const lpsFromVoxel: Affine<'lps', 'voxel'> = { to: 'lps', from: 'voxel', rows };
  return { samplesHu, dims, lpsFromVoxel, spacingMm: [length(0), length(1), length(2)], paddingHu: null };
}

/** Turned, mirrored when `hand` is -1, sheared along y like a tilted gantry, and moved. */
function makeRows(rad: number, shear: number, hand: number, moveMm: number): number[] {
  const c = Math.cos(rad),
    s = Math.sin(rad);
  return [0.5 * c, -0.6 * s, 0, moveMm, 0.5 * s, 0.6 * c, shear, -moveMm, 0.1, 0, 0.8 * hand, moveMm / 3];
}

const affine = fc
  .tuple(
    fc.double({ min: -3, max: 3, noNaN: true }),
    fc.double({ min: -0.4, max: 0.4, noNaN: true }),
    fc.constantFrom(-1, 1),
    fc.double({ min: -300, max: 300, noNaN: true }),
  )
  .map(([rad, shear, hand, mm]) => makeRows(rad, shear, hand, mm));
const inside = fc.tuple(
  fc.double({ min: 0, max: 7, noNaN: true }),
  fc.double({ min: 0, max: 5, noNaN: true }),
  fc.double({ min: 0, max: 4, noNaN: true }),
);

describe(`samplePointsLps (seed ${seed})`, () => {
  const trilinear = (i: number, j: number, k: number): number =>
    40 + 3 * i - 5 * j + 7 * k + 2 * i * j - 4 * j * k + i * k - 2 * i * j * k;
  test('is exact for a trilinear polynomial on any grid, turned, mirrored, sheared and moved', () => {
    fc.assert(
      fc.property(affine, inside, (rows, [i, j, k]) => {
        const volume = makeVolume([8, 6, 5], rows, trilinear);
        const p = applyToPoint(volume.lpsFromVoxel, makePoint<'voxel'>(i, j, k));
        const got = samplePointsLps(volume, Float64Array.from(p), new Float32Array(1))[0]!;
        expect(Math.abs(got - trilinear(i, j, k))).toBeLessThan(ROUNDING_HU);
        expect(
          Math.abs(makeVolumeSampler(volume).sampleLps(p[0], p[1], p[2]) - trilinear(i, j, k)),
        ).toBeLessThan(ROUNDING_HU);
      }),
      replay,
    );
  });
  test('returns the sample itself on every voxel centre', () => {
    const volume = makeVolume(
      [8, 6, 5],
      makeRows(0.3, 0.2, -1, 50),
      (i, j, k) => 37 * i * i - 11 * j * k + k,
    );
    let at = 0;
    for (let k = 0; k < 5; k++)
      for (let j = 0; j < 6; j++)
        for (let i = 0; i < 8; i++, at++) {
          const p = applyToPoint(volume.lpsFromVoxel, makePoint<'voxel'>(i, j, k));
          const out = samplePointsLps(volume, Float64Array.from(p), new Float32Array(1));
          const cubic = sampleCubicPointsLps(volume, Float64Array.from(p), new Float32Array(1));
          expect(Math.abs(out[0]! - volume.samplesHu[at]!)).toBeLessThan(ROUNDING_HU);
          expect(Math.abs(cubic[0]! - volume.samplesHu[at]!)).toBeLessThan(ROUNDING_HU);
        }
  });
  test('repeats the border value over the outer half voxel and gives NaN beyond it', () => {
    const volume = makeVolume(
      [4, 3, 2],
      [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0],
      (i, j, k) => 100 * i + 10 * j + k,
    );
    const points = Float64Array.of(
      -0.49,
      0,
      0,
      3.49,
      2.49,
      1.49,
      -0.51,
      0,
      0,
      0,
      2.51,
      0,
      0,
      0,
      NaN,
      1,
      1,
      1,
    );
    for (const out of [
      samplePointsLps(volume, points, new Float32Array(6)),
      sampleCubicPointsLps(volume, points, new Float32Array(6)),
    ]) {
      expect([...out]).toEqual([0, 321, NaN, NaN, NaN, 111]);
    }
  });
  test('has no inside when the affine cannot be inverted', () => {
    const volume = makeVolume([2, 2, 2], [1, 0, 1, 0, 0, 1, 0, 0, 0, 0, 0, 0], () => 5);
    expect(samplePointsLps(volume, Float64Array.of(0, 0, 0), new Float32Array(1))[0]).toBeNaN();
  });
  test('reads a volume of one slice', () => {
    const volume = makeVolume([3, 3, 1], [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 2, 0], (i, j) => i + 10 * j);
    expect(makeVolumeSampler(volume).sampleLps(0.5, 1, 0.9)).toBe(10.5);
    expect(makeVolumeSampler(volume).sampleCubicLps(1, 1, -0.9)).toBe(11);
  });
});

describe(`sampleCubicPointsLps (seed ${seed})`, () => {
  test('is exact for a quadratic two voxels from the border', () => {
    const quadratic = (i: number, j: number, k: number): number =>
      2 * i * i - 3 * j * j + 5 * k * k + i * j - 4 * k + 9;
    const middle = fc.tuple(
      fc.double({ min: 1, max: 6, noNaN: true }),
      fc.double({ min: 1, max: 5, noNaN: true }),
      fc.double({ min: 1, max: 4, noNaN: true }),
    );
    fc.assert(
      fc.property(affine, middle, (rows, [i, j, k]) => {
        const volume = makeVolume([8, 7, 6], rows, quadratic);
        const p = applyToPoint(volume.lpsFromVoxel, makePoint<'voxel'>(i, j, k));
        const got = sampleCubicPointsLps(volume, Float64Array.from(p), new Float32Array(1))[0]!;
        expect(Math.abs(got - quadratic(i, j, k))).toBeLessThan(ROUNDING_HU);
      }),
      replay,
    );
  });
  test('keeps more of a fine wave than the linear sampler does', () => {
    const volume = makeVolume([32, 4, 4], [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0], (i) =>
      Math.round(10000 * Math.sin(i)),
    );
    let linear = 0,
      cubic = 0;
    const sampler = makeVolumeSampler(volume);
    for (let x = 2; x < 29; x += 0.37) {
      const truth = 10000 * Math.sin(x);
      linear = Math.max(linear, Math.abs(sampler.sampleLps(x, 1, 1) - truth));
      cubic = Math.max(cubic, Math.abs(sampler.sampleCubicLps(x, 1, 1) - truth));
    }
    expect(cubic).toBeLessThan(linear / 4); // measured 1220 against 216 of 10000: one sample per radian
  });
});
