import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { completeBasis, unit } from '../math/vec3.ts';
import { applyToPoint } from '../units/affine.ts';
import { lpsPoint, lpsVector, makePoint } from '../units/frames.ts';
import { reslicePlane, type ReslicePlane, type ResliceOptions } from './reslice-plane.ts';
import { makeVolumeSampler } from './sample-volume.ts';
import type { CtVolume } from './volume-types.ts';

function makeVolume(field: (x: number, y: number, z: number) => number, rows: number[]): CtVolume {
  const dims = [24, 20, 18] as const;
  const lpsFromVoxel = { to: 'lps', from: 'voxel', rows } as const;
  const samplesHu = new Int16Array(24 * 20 * 18);
  for (let k = 0, at = 0; k < 18; k++)
    for (let j = 0; j < 20; j++)
      for (let i = 0; i < 24; i++, at++) {
        const p = applyToPoint(lpsFromVoxel, makePoint<'voxel'>(i, j, k));
        samplesHu[at] = Math.round(field(p[0], p[1], p[2]));
      }
  return { samplesHu, dims, lpsFromVoxel, spacingMm: [0.7, 0.8, 1], paddingHu: null };
}
const STRAIGHT = [0.7, 0, 0, -8, 0, 0.8, 0, -7.6, 0, 0, 1, -8.5];
const TILTED_MIRRORED = [-0.7, 0, 0, 8, 0, 0.8, 0.25, -9, 0, 0, 1, -8.5];

function makePlane(direction: readonly [number, number, number], shiftMm: number): ReslicePlane {
  const n = unit(direction);
  const { u, v } = completeBasis(n);
  const at = (a: number): number => n[a]! * shiftMm - 12 * (u[a]! + v[a]!);
  return {
    originLps: lpsPoint(at(0), at(1), at(2)),
    uLps: lpsVector(...u),
    vLps: lpsVector(...v),
    stepMm: [0.6, 0.6],
    size: [41, 41],
  };
}
function picture(volume: CtVolume, plane: ReslicePlane, options: ResliceOptions): Float32Array {
  const result = reslicePlane(volume, plane, options);
  if (!result.ok) throw new Error(result.failure.message);
  return result.value;
}
const direction = fc.tuple(
  fc.double({ min: -1, max: 1, noNaN: true }),
  fc.double({ min: -1, max: 1, noNaN: true }),
  fc.double({ min: 0.1, max: 1, noNaN: true }),
);
const shift = fc.double({ min: -6, max: 6, noNaN: true });
const wavy = (x: number, y: number, z: number): number =>
  900 * Math.sin(0.6 * x + 0.2 * y) * Math.cos(0.5 * z - 0.3 * y);

describe(`reslicePlane (seed ${seed})`, () => {
  for (const interpolation of ['linear', 'cubic'] as const) {
    test(`draws what the sampler gives at every pixel, ${interpolation}`, () => {
      fc.assert(
        fc.property(direction, shift, fc.constantFrom(STRAIGHT, TILTED_MIRRORED), (d, mm, rows) => {
          const volume = makeVolume(wavy, rows);
          const plane = makePlane(d, mm);
          const sampler = makeVolumeSampler(volume);
          const sample = interpolation === 'linear' ? sampler.sampleLps : sampler.sampleCubicLps;
          const out = picture(volume, plane, { interpolation });
          let worst = 0;
          for (let b = 0, at = 0; b < 41; b++)
            for (let a = 0; a < 41; a++, at++) {
              const p = plane.originLps.map((o, c) => o + 0.6 * (a * plane.uLps[c]! + b * plane.vLps[c]!));
              const want = sample(p[0]!, p[1]!, p[2]!);
              // Slope below 1000 HU per voxel, positions to 1e-13 voxel, float32 output of values below 1024.
              if (Number.isNaN(want) !== Number.isNaN(out[at]!))
                throw new Error(`inside and outside differ at ${a}, ${b}`);
              if (!Number.isNaN(want)) worst = Math.max(worst, Math.abs(out[at]! - want));
            }
          expect(worst).toBeLessThan(1e-3);
        }),
        { ...replay, numRuns: 30 },
      );
    });
  }
  test('does not change when the grid is stored mirrored', () => {
    const volume = makeVolume(wavy, STRAIGHT);
    const samplesHu = volume.samplesHu.slice();
    for (let row = 0; row < 20 * 18; row++) samplesHu.subarray(row * 24, row * 24 + 24).reverse();
    const rows = [-0.7, 0, 0, -8 + 0.7 * 23, ...STRAIGHT.slice(4)];
    const mirrored = { ...volume, samplesHu, lpsFromVoxel: { to: 'lps', from: 'voxel', rows } as const };
    const plane = makePlane([0.3, -0.4, 0.8], 1);
    const one = picture(volume, plane, { interpolation: 'linear' });
    const other = picture(mirrored, plane, { interpolation: 'linear' });
    const isSame = (p: number): boolean =>
      Number.isNaN(one[p]!) ? Number.isNaN(other[p]!) : Math.abs(one[p]! - other[p]!) < 1e-3;
    expect(one.every((_, p) => isSame(p))).toBe(true);
  });
  test('the mean of a slab through a linear field is the field on the plane, the maximum that of the outermost layer', () => {
    const volume = makeVolume((x, y, z) => 50 * z, STRAIGHT);
    const plane = {
      ...makePlane([0, 0, 1], 0),
      stepMm: [0.3, 0.3] as const,
      size: [21, 21] as const,
      originLps: lpsPoint(-3, -3, 0.5),
    };
    const mean = picture(volume, plane, {
      interpolation: 'linear',
      slab: { thicknessMm: 4, stepMm: 0.5, combine: 'mean' },
    });
    const max = picture(volume, plane, {
      interpolation: 'linear',
      slab: { thicknessMm: 4, stepMm: 0.5, combine: 'max' },
    });
    for (const value of mean) expect(Math.abs(value - 25)).toBeLessThan(1e-3); // float32 sum of eight layers
    for (const value of max) expect(Math.abs(value - 50 * (0.5 + 1.75))).toBeLessThan(1e-3); // eight sheets: middles at -1.75 .. 1.75 mm
  });
  test('a slab partly outside takes the layers that are inside; wholly outside it is empty', () => {
    const volume = makeVolume(() => 77, STRAIGHT);
    const plane = { ...makePlane([0, 0, 1], 0), size: [1, 1] as const };
    const at = (z: number): number => {
      const moved = { ...plane, originLps: lpsPoint(0, 0, z) };
      return picture(volume, moved, {
        interpolation: 'linear',
        slab: { thicknessMm: 4, stepMm: 1, combine: 'mean' },
      })[0]!;
    };
    expect(at(10)).toBe(77);
    expect(at(12)).toBeNaN();
  });
  test('refuses directions that are not unit and perpendicular, empty or huge pictures, and impossible slabs', () => {
    const volume = makeVolume(() => 0, STRAIGHT);
    const plane = makePlane([0, 0, 1], 0);
    const code = (p: ReslicePlane, o: ResliceOptions = { interpolation: 'linear' }, v = volume): string => {
      const result = reslicePlane(v, p, o);
      return result.ok ? '' : result.failure.code;
    };
    expect(code({ ...plane, uLps: lpsVector(2, 0, 0) })).toBe('reslice-plane-invalid');
    expect(code({ ...plane, vLps: plane.uLps })).toBe('reslice-plane-invalid');
    expect(code({ ...plane, stepMm: [0, 1] })).toBe('reslice-plane-invalid');
    expect(code({ ...plane, originLps: lpsPoint(NaN, 0, 0) })).toBe('reslice-plane-invalid');
    expect(code({ ...plane, size: [0, 5] })).toBe('reslice-size-invalid');
    expect(code({ ...plane, size: [1e5, 1e5] })).toBe('reslice-size-invalid');
    expect(
      code(plane, { interpolation: 'linear', slab: { thicknessMm: -1, stepMm: 1, combine: 'mean' } }),
    ).toBe('reslice-slab-invalid');
    expect(
      code(plane, { interpolation: 'linear', slab: { thicknessMm: 1e6, stepMm: 1, combine: 'mean' } }),
    ).toBe('reslice-slab-invalid');
    const flat = {
      ...volume,
      lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [1, 1, 0, 0, 1, 1, 0, 0, 0, 0, 1, 0] } as const,
    };
    expect(code(plane, { interpolation: 'linear' }, flat)).toBe('reslice-volume-singular');
  });
});
