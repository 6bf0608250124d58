import { describe, expect, test } from 'vitest';
import { applyToPoint, invertAffine } from '../units/affine.ts';
import { makePoint } from '../units/frames.ts';
import { cropAroundBall } from './crop-volume.ts';
import type { CtVolume } from './volume-types.ts';

/** An oblique, left-handed grid whose samples say where they came from. */
function makeVolume(): CtVolume {
  const dims: [number, number, number] = [20, 16, 12];
  const samplesHu = new Int16Array(20 * 16 * 12).map((_, at) => at);
  const [c, s] = [Math.cos(0.4), Math.sin(0.4)];
  return { samplesHu, dims, lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [0.5 * c, -0.6 * s, 0, 10, 0.5 * s, 0.6 * c, 0, -40, 0, 0, -0.8, 100] }, spacingMm: [0.5, 0.6, 0.8], paddingHu: -2000 };
}

describe('cropAroundBall', () => {
  test('every voxel of the part lies where it lay, with its sample, and the ball is inside', () => {
    const whole = makeVolume();
    const centre = applyToPoint(whole.lpsFromVoxel, makePoint<'voxel'>(9, 8, 6));
    const part = cropAroundBall(whole, centre, 2.1)!;
    expect(part.dims).toEqual([11, 9, 7]); // 2.1 mm are 4.2, 3.5 and 2.6 voxels
    const back = invertAffine(whole.lpsFromVoxel)!;
    for (let k = 0, at = 0; k < part.dims[2]; k++) for (let j = 0; j < part.dims[1]; j++) for (let i = 0; i < part.dims[0]; i++, at++) {
      const [wi, wj, wk] = applyToPoint(back, applyToPoint(part.lpsFromVoxel, makePoint<'voxel'>(i, j, k))).map((x) => Math.round(x)) as [number, number, number];
      expect(part.samplesHu[at]).toBe(whole.samplesHu[(wk * 16 + wj) * 20 + wi]);
    }
  });

  test('is cut at the edge of the volume, and null beside it', () => {
    const whole = makeVolume();
    expect(cropAroundBall(whole, applyToPoint(whole.lpsFromVoxel, makePoint<'voxel'>(0, 0, 0)), 3.1)!.dims).toEqual([8, 7, 5]);
    expect(cropAroundBall(whole, [500, 0, 0], 20)).toBeNull();
    expect(cropAroundBall(whole, applyToPoint(whole.lpsFromVoxel, makePoint<'voxel'>(9, 8, 6)), 1000)!.samplesHu).toEqual(whole.samplesHu);
    expect(cropAroundBall(whole, [Number.NaN, 0, 0], 20)).toBeNull();
  });
});
