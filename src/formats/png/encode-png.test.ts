import { unzlibSync } from 'fflate';
import { spawnSync } from 'node:child_process';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { encodeBase64 } from './encode-base64.ts';
import { encodeGreyPng } from './encode-png.ts';

function encoded(grey: Uint8Array, width: number, height: number): Uint8Array {
  const png = encodeGreyPng(grey, width, height);
  if (!png.ok) throw new Error(png.failure.code);
  return png.value;
}

/** A second, plain reader: undoes the row filters by the text of the specification. */
function decodeGrey(png: Uint8Array): { width: number; height: number; grey: Uint8Array } {
  const view = new DataView(png.buffer, png.byteOffset, png.byteLength);
  const [width, height] = [view.getUint32(16), view.getUint32(20)];
  const length = view.getUint32(33);
  expect(new TextDecoder().decode(png.subarray(37, 41))).toBe('IDAT');
  const rows = unzlibSync(png.subarray(41, 41 + length));
  const grey = new Uint8Array(width * height);
  for (let y = 0; y < height; y++) {
    const kind = rows[y * (width + 1)]!;
    for (let x = 0; x < width; x++) {
      const a = x > 0 ? grey[y * width + x - 1]! : 0;
      const b = y > 0 ? grey[(y - 1) * width + x]! : 0;
      const c = x > 0 && y > 0 ? grey[(y - 1) * width + x - 1]! : 0;
      const p = a + b - c;
      const near = [a, b, c].reduce((best, v) => (Math.abs(p - v) < Math.abs(p - best) ? v : best));
      grey[y * width + x] = rows[y * (width + 1) + 1 + x]! + [0, a, b, (a + b) >> 1, near][kind]!;
    }
  }
  return { width, height, grey };
}

describe(`encodeGreyPng (seed ${seed})`, () => {
  test('comes back unchanged through a reader written from the specification', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 40 }), fc.integer({ min: 1, max: 40 }), fc.infiniteStream(fc.nat(255)),
        (width, height, stream) => {
          const grey = Uint8Array.from({ length: width * height }, () => stream.next().value as number);
          expect(decodeGrey(encoded(grey, width, height))).toEqual({ width, height, grey });
        }), replay);
  });
  test('gives the same bytes twice', () => {
    const ramp = Uint8Array.from({ length: 4096 }, (_, i) => i & 255);
    expect(encoded(ramp, 64, 64)).toEqual(encoded(ramp, 64, 64));
  });
  test('makes a smooth picture much smaller than its pixels', () => {
    const ramp = Uint8Array.from({ length: 40_000 }, (_, i) => ((i % 200) + Math.floor(i / 200)) >> 1);
    expect(encoded(ramp, 200, 200).length).toBeLessThan(4_000);
  });
  const hasConvert = spawnSync('convert', ['-version']).status === 0;
  test.skipIf(!hasConvert)('is read alike by ImageMagick (skipped where it is absent)', () => {
    const grey = Uint8Array.from({ length: 31 * 17 }, (_, i) => (i * i * 7 + i) & 255);
    const read = spawnSync('convert', ['png:-', '-depth', '8', 'gray:-'], { input: encoded(grey, 31, 17) });
    expect(read.stderr.toString()).toBe('');
    expect(new Uint8Array(read.stdout)).toEqual(grey);
  });
  test('refuses a size that does not match the pixels', () => {
    for (const [width, height] of [[0, 0], [3, 3], [NaN, 1]] as const) {
      const png = encodeGreyPng(new Uint8Array(8), width, height);
      expect(png.ok ? 'encoded' : png.failure.code).toBe('picture-size-wrong');
    }
  });
});

describe(`encodeBase64 (seed ${seed})`, () => {
  test('agrees with the platform for any bytes', () => {
    fc.assert(fc.property(fc.uint8Array({ maxLength: 99 }), (bytes) => {
      expect(encodeBase64(bytes)).toBe(Buffer.from(bytes).toString('base64'));
    }), replay);
  });
});
