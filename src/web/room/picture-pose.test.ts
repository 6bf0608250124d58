import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { followPoint, isInFrame, movePose, openPose, toFrame, toPicture, zoomPose, type FramePoint } from './picture-pose.ts';

const SIZE = { columns: 512, rows: 384 };
const point = fc.tuple(fc.double({ min: 0, max: 511, noNaN: true }), fc.double({ min: 0, max: 383, noNaN: true }));
const steps = fc.array(fc.tuple(fc.integer({ min: -4, max: 6 }), point), { maxLength: 5 });

describe(`the picture of a frame (seed ${seed})`, () => {
  test('the centre of the first pixel lies half a pixel from the corner', () => {
    expect(toPicture(SIZE, openPose(SIZE), 512, [0, 0])).toEqual([0.5, 0.5]);
    expect(toFrame(SIZE, openPose(SIZE), 1024, [1, 1])).toEqual([0, 0]);
  });

  test('to the picture and back is the same point, however it is enlarged and moved', () => {
    fc.assert(fc.property(point, steps, (at, moves) => {
      const pose = moves.reduce((p, [n, about]) => movePose(SIZE, zoomPose(SIZE, p, n, about), [n, -n]), openPose(SIZE));
      const [c, r] = toFrame(SIZE, pose, 640, toPicture(SIZE, pose, 640, at));
      // Rounding of numbers up to some thousands.
      expect(Math.abs(c - at[0])).toBeLessThan(1e-8);
      expect(Math.abs(r - at[1])).toBeLessThan(1e-8);
      // The picture never shows beyond the frame.
      expect(isInFrame(SIZE, toFrame(SIZE, pose, 640, [1e-6, 1e-6]))).toBe(true);
      expect(isInFrame(SIZE, toFrame(SIZE, pose, 640, [640 - 1e-6, 480 - 1e-6]))).toBe(true);
    }), replay);
  });

  test('zooming keeps the place under the pointer as long as the frame fills the picture', () => {
    const about: FramePoint = [256, 190];
    const pose = zoomPose(SIZE, openPose(SIZE), 4, about);
    const before = toPicture(SIZE, openPose(SIZE), 640, about);
    const after = toPicture(SIZE, pose, 640, about);
    expect(after[0]).toBeCloseTo(before[0], 9);
    expect(after[1]).toBeCloseTo(before[1], 9);
  });

  test('a point that would leave the enlarged picture draws it along', () => {
    const pose = zoomPose(SIZE, openPose(SIZE), 6);
    const at: FramePoint = [500, 20];
    const [x, y] = toPicture(SIZE, followPoint(SIZE, pose, at), 640, at);
    expect(x).toBeGreaterThan(0);
    expect(x).toBeLessThan(640);
    expect(y).toBeGreaterThan(0);
    expect(followPoint(SIZE, pose, pose.middle)).toEqual(pose);
  });
});
