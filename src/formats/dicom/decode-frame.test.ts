import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import fc from 'fast-check';
import { deflateSync } from 'fflate';
import { beforeAll, describe, expect, test } from 'vitest';
import {
  buildSlice,
  encapsulate,
  encodeElements,
  joinBytes,
  makeSliceElements,
  u16,
  u32,
  wrapPart10,
  type Elements,
  type TestSlice,
} from '../../../test/fuzz/build-dicom.ts';
import { hasOutsideData, readFacts, readOutside } from '../../../test/fuzz/outside-data.ts';
import {
  SMALL_COLUMNS,
  SMALL_ROWS,
  SMALL_SYNTAXES,
  smallFrameBytes,
} from '../../../test/fuzz/small-frames.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { loadCodecs } from '../../host/jobs/load-codecs.ts';
import { convertToHu, readHuScale } from './convert-to-hu.ts';
import { decodeFrame } from './decode-frame.ts';
import type { CtSliceHeader, FrameCodecs, StoredValues } from './dicom-types.ts';
import { parsePart10 } from './parse-part10.ts';
import { readCtSlices } from './read-ct-slice.ts';

let codecs: FrameCodecs;
beforeAll(async () => {
  codecs = await loadCodecs();
});

function headersOf(bytes: Uint8Array): readonly CtSliceHeader[] {
  const dataset = parsePart10(bytes);
  if (!dataset.ok) throw new Error(dataset.failure.message);
  const slices = readCtSlices(dataset.value);
  if (!slices.ok) throw new Error(slices.failure.message);
  return slices.value;
}
function decodeAll(bytes: Uint8Array): StoredValues[] {
  return headersOf(bytes).map((header) => {
    const frame = decodeFrame(bytes, header, codecs);
    if (!frame.ok) throw new Error(`${frame.failure.code}: ${frame.failure.message}`);
    return frame.value;
  });
}
function codeOf(bytes: Uint8Array, frame = 0): string {
  const result = decodeFrame(bytes, headersOf(bytes)[frame]!, codecs);
  return result.ok ? 'ok' : result.failure.code;
}
function hashOf(frames: readonly StoredValues[]): string {
  const hash = createHash('sha256');
  for (const frame of frames) hash.update(new Uint8Array(frame.buffer, frame.byteOffset, frame.byteLength));
  return hash.digest('hex');
}
function rangeOf(values: StoredValues): readonly [number, number] {
  let [low, high] = [Infinity, -Infinity];
  for (const value of values) {
    low = Math.min(low, value);
    high = Math.max(high, value);
  }
  return [low, high];
}
/** A slice whose pixels are in fragments. */
function packSlice(
  syntax: string,
  offsets: readonly number[],
  fragments: readonly Uint8Array[],
  options: TestSlice = {},
): Uint8Array {
  const elements = makeSliceElements({ ...options, without: [...(options.without ?? []), 0x7fe00010] });
  return wrapPart10(joinBytes([encodeElements(elements), encapsulate(offsets, fragments)]), syntax);
}

describe(`decodeFrame, uncompressed (seed ${seed})`, () => {
  const bits = (stored: number, high: number, isSigned: boolean): Elements => [
    [0x00280101, 'US', u16(stored)],
    [0x00280102, 'US', u16(high)],
    [0x00280103, 'US', u16(isSigned ? 1 : 0)],
  ];
  const pixels = (...words: number[]): Uint8Array =>
    u16(...words, ...new Array<number>(24 - words.length).fill(0));
  const first = (options: TestSlice, count: number): number[] => [
    ...decodeAll(buildSlice(options))[0]!.subarray(0, count),
  ];

  test.each(['implicit-le', 'explicit-le', 'explicit-be'] as const)(
    'gives the stored values of %s',
    (encoding) => {
      const frame = decodeAll(
        buildSlice({ pixels: u16(...Array.from({ length: 24 }, (_, i) => (i - 12) * 1000)) }, encoding),
      )[0]!;
      expect([...frame]).toEqual(Array.from({ length: 24 }, (_, i) => (i - 12) * 1000));
    },
  );

  test('extends the sign from bitsStored and ignores the bits above', () => {
    expect(first({ pixels: pixels(0x0fff, 0x0800, 0x07ff, 0xf001), change: bits(12, 11, true) }, 4)).toEqual([
      -1, -2048, 2047, 1,
    ]);
    expect(first({ pixels: pixels(0x0fff, 0xf800, 0x07ff), change: bits(12, 11, false) }, 3)).toEqual([
      4095, 2048, 2047,
    ]);
  });

  test('takes values that lie high in the word', () => {
    expect(first({ pixels: pixels(0xfff0, 0x8000, 0x7ff0), change: bits(12, 15, true) }, 3)).toEqual([
      -1, -2048, 2047,
    ]);
  });

  test('reads whole words when the padding value does not fit bitsStored', () => {
    const change: Elements = [...bits(12, 11, true), [0x00280120, 'SS', u16(-2048 - 1000)]];
    expect(first({ pixels: pixels(-3048, 100), change }, 2)).toEqual([-3048, 100]);
  });

  test('gives what cutting bit by bit gives, for every depth, sign and address', () => {
    const words = fc.array(
      fc.oneof(fc.integer({ min: 0, max: 0xffff }), fc.integer({ min: -600, max: 600 })),
      {
        minLength: 24,
        maxLength: 24,
      },
    );
    fc.assert(
      fc.property(
        words,
        fc.integer({ min: 10, max: 16 }),
        fc.boolean(),
        fc.nat(3),
        (values, depth, isSigned, shift) => {
          const file = buildSlice({ pixels: u16(...values), change: bits(depth, depth - 1, isSigned) });
          const moved = new Uint8Array(file.length + shift);
          moved.set(file, shift);
          const span = 2 ** depth;
          const wanted = values.map((value) => {
            const cut = (value & 0xffff) % span;
            return isSigned && cut >= span / 2 ? cut - span : cut;
          });
          expect([...decodeAll(moved.subarray(shift))[0]!]).toEqual(wanted);
        },
      ),
      { ...replay, numRuns: replay.numRuns * 3 },
    );
  });

  test('gives a view without a copy when the address is even, and the same values when it is odd', () => {
    const file = buildSlice();
    const even = decodeAll(file)[0]!;
    expect(even.buffer).toBe(file.buffer);
    const shifted = new Uint8Array(file.length + 1);
    shifted.set(file, 1);
    expect([...decodeAll(shifted.subarray(1))[0]!]).toEqual([...even]);
  });

  test('finds each frame of several, deflated or not', () => {
    const change: Elements = [[0x00280008, 'IS', '3']];
    const all = Array.from({ length: 72 }, (_, i) => i);
    const body = encodeElements(makeSliceElements({ pixels: u16(...all), change }));
    for (const file of [
      wrapPart10(body, '1.2.840.10008.1.2.1'),
      wrapPart10(deflateSync(body), '1.2.840.10008.1.2.1.99'),
    ]) {
      expect(decodeAll(file).flatMap((frame) => [...frame])).toEqual(all);
    }
  });

  test('refuses a frame that its length does not reach, and a cut deflated stream', () => {
    expect(codeOf(buildSlice({ pixels: new Uint8Array(46) }))).toBe('pixel-data-truncated');
    const big = encodeElements(
      makeSliceElements({
        rows: 1024,
        columns: 1024,
        pixels: new Uint8Array(2 << 20).map((_, i) => (i * 2654435761) >>> 24),
      }),
    );
    const packed = wrapPart10(deflateSync(big), '1.2.840.10008.1.2.1.99');
    const header = headersOf(packed)[0]!;
    const cut = decodeFrame(packed.subarray(0, packed.length - 1000), header, codecs);
    expect(cut.ok ? 'ok' : cut.failure.code).toBe('deflate-broken');
  });
});

describe('decodeFrame, compressed', () => {
  const RLE = '1.2.840.10008.1.2.5';
  /** Two literal segments of 24 bytes each. */
  const rleFrame = (values: readonly number[]): Uint8Array => {
    const segment = (shift: number): number[] => [
      values.length - 1,
      ...values.map((value) => (value >> shift) & 255),
    ];
    const high = segment(8);
    return joinBytes([
      u32(2, 64, 64 + high.length),
      new Uint8Array(52),
      Uint8Array.from(high),
      Uint8Array.from(segment(0)),
      new Uint8Array(0),
    ]);
  };
  const ramp = (from: number): number[] => Array.from({ length: 24 }, (_, i) => from + i * 300);
  const twoFrames: Elements = [[0x00280008, 'IS', '2']];

  test('joins the fragments of one frame', () => {
    const frame = rleFrame(ramp(-3000));
    expect([...decodeAll(packSlice(RLE, [], [frame.subarray(0, 50), frame.subarray(50)]))[0]!]).toEqual(
      ramp(-3000),
    );
  });

  test.each([
    [
      'no offset table, one fragment each',
      (a: Uint8Array, b: Uint8Array) => packSlice(RLE, [], [a, b], { change: twoFrames }),
    ],
    [
      'a basic offset table over split frames',
      (a: Uint8Array, b: Uint8Array) =>
        packSlice(
          RLE,
          [0, 8 + 40 + 8 + a.length - 40],
          [a.subarray(0, 40), a.subarray(40), b.subarray(0, 60), b.subarray(60)],
          { change: twoFrames },
        ),
    ],
    [
      'an extended offset table over split frames',
      (a: Uint8Array, b: Uint8Array) =>
        packSlice(RLE, [], [a.subarray(0, 40), a.subarray(40), b], {
          change: [...twoFrames, [0x7fe00001, 'OV', u32(0, 0, 16 + a.length, 0)]],
        }),
    ],
  ])('finds the frames with %s', (_, pack) => {
    expect(decodeAll(pack(rleFrame(ramp(0)), rleFrame(ramp(-5000)))).map((frame) => [...frame])).toEqual([
      ramp(0),
      ramp(-5000),
    ]);
  });

  test('refuses split frames that nothing tells apart', () => {
    const frame = rleFrame(ramp(0));
    expect(
      codeOf(packSlice(RLE, [], [frame.subarray(0, 40), frame.subarray(40), frame], { change: twoFrames })),
    ).toBe('frame-missing');
  });

  test.each([
    ['rle-broken', packSlice(RLE, [], [rleFrame(ramp(0)).subarray(0, 90)])],
    ['rle-broken', packSlice(RLE, [], [joinBytes([u32(3, 64, 70, 80), new Uint8Array(60)])])],
    ['codestream-unreadable', packSlice('1.2.840.10008.1.2.4.80', [], [new Uint8Array(64)])],
    ['frame-missing', packSlice('1.2.840.10008.1.2.4.80', [], [])],
    ['transfer-syntax-lossy', packSlice('1.2.840.10008.1.2.4.51', [], [new Uint8Array(64)])],
    ['transfer-syntax-unsupported', packSlice('1.2.840.10008.1.2.4.100', [], [new Uint8Array(64)])],
    ['fragments-broken', wrapPart10(encodeElements(makeSliceElements()), RLE)],
    ['fragments-broken', packSlice('1.2.840.10008.1.2.1', [], [new Uint8Array(48)])],
    ['pixel-data-truncated', packSlice(RLE, [], [rleFrame(ramp(0))]).subarray(0, -20)],
  ])('refuses with %s (%#)', (code, file) => {
    expect(codeOf(file)).toBe(code);
  });

  test.each(SMALL_SYNTAXES)(
    'refuses a frame cut anywhere instead of filling the rest with zeros, %s',
    (syntax) => {
      const whole = smallFrameBytes(syntax);
      const options = { rows: SMALL_ROWS, columns: SMALL_COLUMNS };
      expect(codeOf(packSlice(syntax, [], [whole], options))).toBe('ok');
      for (const part of [0.3, 0.6, 0.9]) {
        const file = packSlice(
          syntax,
          [],
          [whole.subarray(0, 2 * Math.floor((whole.length * part) / 2))],
          options,
        );
        expect(['pixel-data-truncated', 'rle-broken', 'codestream-unreadable'], `${part} of it`).toContain(
          codeOf(file),
        );
      }
    },
  );

  test('refuses a codestream of another size before the decoder allocates for it', () => {
    const hugeSof = Uint8Array.of(
      0xff,
      0xd8,
      0xff,
      0xc3,
      0,
      11,
      16,
      0xff,
      0xff,
      0xff,
      0xff,
      1,
      1,
      0x11,
      0,
      0xff,
      0xd9,
    );
    expect(codeOf(packSlice('1.2.840.10008.1.2.4.70', [], [hugeSof]))).toBe('frame-size-differs');
  });
});

/** HTJ2K has no second decoder here: the openjph encoder makes the data, so only the way through DICOM is tested. */
describe('decodeFrame, HTJ2K', () => {
  async function encodeHtj2k(
    values: Int16Array | Uint16Array,
    rows: number,
    columns: number,
  ): Promise<Uint8Array> {
    const require = createRequire(import.meta.url);
    const factory = require('@cornerstonejs/codec-openjph/wasmjs');
    const module = await factory({
      wasmBinary: readFileSync(require.resolve('@cornerstonejs/codec-openjph/wasm')),
      print: () => undefined,
      printErr: () => undefined,
    });
    const encoder = new module.HTJ2KEncoder();
    const isSigned = values instanceof Int16Array;
    const target = encoder.getDecodedBuffer({
      width: columns,
      height: rows,
      bitsPerSample: 16,
      componentCount: 1,
      isSigned,
      isUsingColorTransform: false,
    });
    target.set(new Uint8Array(values.buffer, values.byteOffset, values.byteLength));
    encoder.setQuality(true, 0);
    encoder.encode();
    const bytes = encoder.getEncodedBuffer().slice();
    encoder.delete();
    return bytes;
  }
  const texture = (i: number): number => ((i * 7919) % 4001) - 2000 + (i % 97) * 13;

  test.each(['1.2.840.10008.1.2.4.201', '1.2.840.10008.1.2.4.202', '1.2.840.10008.1.2.4.203'])(
    'gives signed 16-bit values back under %s',
    async (syntax) => {
      const values = Int16Array.from({ length: 64 * 48 }, (_, i) => texture(i));
      const file = packSlice(syntax, [], [await encodeHtj2k(values, 48, 64)], { rows: 48, columns: 64 });
      expect(decodeAll(file)[0]).toEqual(values);
    },
  );

  test('gives unsigned 16-bit values back', async () => {
    const values = Uint16Array.from({ length: 64 * 48 }, (_, i) => (i * 31) & 0xffff);
    const file = packSlice('1.2.840.10008.1.2.4.201', [], [await encodeHtj2k(values, 48, 64)], {
      rows: 48,
      columns: 64,
      change: [[0x00280103, 'US', u16(0)]],
    });
    expect(decodeAll(file)[0]).toEqual(values);
  });
});

describe.skipIf(!hasOutsideData)('decodeFrame on outside files (dcmtk and gdcm pixels)', () => {
  interface Fact {
    pixels?: { sha256LittleEndian?: string };
    modality?: string;
    transferSyntax?: string;
  }
  const facts = hasOutsideData ? readFacts<{ files: Record<string, Fact> }>('dicom-torture').files : {};
  const decodable = Object.keys(facts).filter(
    (name) => facts[name]!.modality === 'CT' && !/JPEGProcess(1|2|6|10)_|pixelrep/.test(name),
  );

  test('nine lossless encodings of one slice give one pixel hash', () => {
    const lossless = decodable.filter(
      (name) => name.startsWith('transfer-syntaxes/') && !/JPEG2000__|JPEGLSLossy/.test(name),
    );
    const hashes = new Set(lossless.map((name) => hashOf(decodeAll(readOutside(`dicom-torture/${name}`)))));
    expect(lossless.length).toBe(9);
    expect([...hashes].map((hash) => hash.slice(0, 8))).toEqual(['1bee4328']);
  });

  test.each(decodable)('%s has the pixels of the independent reader', (name) => {
    expect(hashOf(decodeAll(readOutside(`dicom-torture/${name}`)))).toBe(
      facts[name]!.pixels!.sha256LittleEndian,
    );
  });

  test('reads a JPEG 2000 codestream of the other sign by the header: 13 bits, negative where the raw word is high', () => {
    const name = 'edge/ct_tilt_minus22_j2k_pixelrep_mismatch.dcm';
    const frame = decodeAll(readOutside(`dicom-torture/${name}`))[0]!;
    expect(hashOf([Uint16Array.from(frame, (value) => value & 0x1fff)])).toBe(
      facts[name]!.pixels!.sha256LittleEndian,
    );
    expect(rangeOf(frame)[0]).toBe(-2000);
  });

  test.each(
    ['50', '51', '53', '55'].map((end) =>
      Object.keys(facts).find((name) => name.endsWith(`1.2.4.${end}.dcm`))!,
    ),
  )('refuses the lossy %s', (name) => {
    const dataset = parsePart10(readOutside(`dicom-torture/${name}`));
    const slices = dataset.ok ? readCtSlices(dataset.value) : dataset;
    const code = slices.ok ? codeOf(readOutside(`dicom-torture/${name}`)) : slices.failure.code;
    expect(['transfer-syntax-lossy', 'pixel-format-unsupported']).toContain(code);
  });

  test('the JPEG 2000 series gives the HU of the independent reader in every slice', () => {
    interface SliceFact {
      file: string;
      z: number;
      huMin: number;
      huMax: number;
      huMean: number;
      hu_row256_col256: number;
    }
    const slices = readFacts<{ files?: SliceFact[]; slices?: SliceFact[] }>('ct-dicom-jpeg2000-series');
    const list = (slices.files ?? slices.slices)!;
    expect(list.length).toBe(20);
    for (const fact of list) {
      const bytes = readOutside(`ct-dicom-jpeg2000-series/${fact.file}`);
      const header = headersOf(bytes)[0]!;
      const out = new Int16Array(512 * 512);
      convertToHu(decodeAll(bytes)[0]!, readHuScale(header, -1024), out);
      expect(header.positionLps![2]).toBe(fact.z);
      expect([...rangeOf(out), out[256 * 512 + 256]]).toEqual([
        fact.huMin,
        fact.huMax,
        fact.hu_row256_col256,
      ]);
    }
  });
});
