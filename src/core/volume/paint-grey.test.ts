import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { paintGrey } from './paint-grey.ts';

const paint = (hu: readonly number[], lowHu: number, highHu: number): number[][] => {
  const rgba = new Uint8ClampedArray(4 * hu.length);
  paintGrey(Float32Array.from(hu), { lowHu, highHu }, rgba);
  return hu.map((_, i) => [...rgba.subarray(4 * i, 4 * i + 4)]);
};

describe(`paintGrey (seed ${seed})`, () => {
  test('draws the ends of the window black and white, its middle grey, what lies outside as its ends', () => {
    expect(paint([-150, 600, 225, -1000, 3000], -150, 600)).toEqual([
      [0, 0, 0, 255], [255, 255, 255, 255], [128, 128, 128, 255], [0, 0, 0, 255], [255, 255, 255, 255],
    ]);
  });
  test('draws what lies outside the scan black and opaque', () => {
    expect(paint([Number.NaN], -150, 600)).toEqual([[0, 0, 0, 255]]);
  });
  test('keeps the order of HU and never leaves grey', () => {
    fc.assert(fc.property(fc.array(fc.integer({ min: -1024, max: 3071 }), { minLength: 2, maxLength: 50 }), fc.integer({ min: -900, max: 900 }), fc.integer({ min: 1, max: 2000 }), (hu, low, width) => {
      const sorted = [...hu].sort((a, b) => a - b);
      const out = paint(sorted, low, low + width);
      out.forEach(([r, g, b, a], i) => {
        expect([g, b, a]).toEqual([r, r, 255]);
        if (i > 0) expect(r!).toBeGreaterThanOrEqual(out[i - 1]![0]!);
      });
    }), replay);
  });
  test('a window turned round or without width still gives pixels', () => {
    expect(paint([0, 10], 5, 5)).toEqual([[0, 0, 0, 255], [255, 255, 255, 255]]);
    expect(paint([Number.NaN], 600, -150)).toEqual([[0, 0, 0, 255]]);
  });
});
