import { describe, expect, test } from 'vitest';
import { applyToPoint } from '../units/affine.ts';
import { makePoint } from '../units/frames.ts';
import { chooseBlockFactors, downsampleVolume } from './downsample-volume.ts';
import { makeVolumeSampler } from './sample-volume.ts';
import type { CtVolume } from './volume-types.ts';

function makeVolume(
  dims: [number, number, number],
  f: (x: number, y: number, z: number) => number,
  paddingHu: number | null,
): CtVolume {
  // Oblique and left-handed.
  const rows = [0.48, -0.14, 0, 10, 0.14, 0.48, 0.1, -20, 0, 0, -0.625, 30];
  const lpsFromVoxel = { to: 'lps', from: 'voxel', rows } as const;
  const samplesHu = new Int16Array(dims[0] * dims[1] * dims[2]);
  let to = 0;
  for (let k = 0; k < dims[2]; k++)
    for (let j = 0; j < dims[1]; j++)
      for (let i = 0; i < dims[0]; i++) {
        const p = applyToPoint(lpsFromVoxel, makePoint<'voxel'>(i, j, k));
        samplesHu[to++] = Math.round(f(p[0], p[1], p[2]));
      }
  return { samplesHu, dims, lpsFromVoxel, spacingMm: [0.5, 0.5, Math.hypot(0.1, 0.625)], paddingHu };
}

describe('downsampleVolume', () => {
  test('keeps a linear field where it is in the patient: the affine carries the half-block shift', () => {
    const field = (x: number, y: number, z: number): number => 100 * x - 70 * y + 50 * z;
    const coarse = downsampleVolume(makeVolume([17, 13, 11], field, null), [4, 3, 2]);
    expect(coarse.dims).toEqual([4, 4, 5]);
    let at = 0;
    for (let k = 0; k < 5; k++)
      for (let j = 0; j < 4; j++)
        for (let i = 0; i < 4; i++, at++) {
          const p = applyToPoint(coarse.lpsFromVoxel, makePoint<'voxel'>(i, j, k));
          // Each fine sample is rounded by at most 0.5 HU and so is the mean.
          expect(Math.abs(coarse.samplesHu[at]! - field(p[0], p[1], p[2]))).toBeLessThanOrEqual(1);
          expect(
            Math.abs(makeVolumeSampler(coarse).sampleLps(p[0], p[1], p[2]) - field(p[0], p[1], p[2])),
          ).toBeLessThanOrEqual(1.001);
        }
  });
  test('leaves padding out of the mean and keeps a block of padding only', () => {
    const volume = makeVolume([4, 2, 2], () => 100, -2000);
    volume.samplesHu.fill(-2000, 0, 2);
    for (const at of [2, 3, 6, 7, 10, 11, 14, 15]) volume.samplesHu[at] = -2000;
    expect([...downsampleVolume(volume, [2, 2, 2]).samplesHu]).toEqual([100, -2000]);
    expect(downsampleVolume({ ...volume, paddingHu: null }, [2, 2, 2]).samplesHu[0]).toBe(
      Math.round((6 * 100 - 4000) / 8),
    );
  });
  test('with factors of one is the volume itself', () => {
    const volume = makeVolume([5, 4, 3], (x, y) => 10 * x + y, null);
    const same = downsampleVolume(volume, [1, 1, 1]);
    expect(same.samplesHu).toEqual(volume.samplesHu);
    expect(same.lpsFromVoxel).toEqual(volume.lpsFromVoxel);
  });
  test('takes a factor above the axis length as that length', () => {
    expect(
      downsampleVolume(
        makeVolume([5, 4, 3], () => 7, null),
        [9, 9, 9],
      ).dims,
    ).toEqual([1, 1, 1]);
  });
  test('chooses whole factors that do not exceed the wanted spacing', () => {
    expect(
      chooseBlockFactors({ ...makeVolume([90, 90, 90], () => 0, null), spacingMm: [0.4, 0.50000001, 3] }, 2),
    ).toEqual([5, 4, 1]);
  });
});
