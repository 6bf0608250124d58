import { deflateRawSync } from 'node:zlib';
import { deflateSync } from 'fflate';
import { beforeAll, describe, expect, test } from 'vitest';
import { convertToHu, readHuScale } from '../../src/formats/dicom/convert-to-hu.ts';
import { decodeFrame } from '../../src/formats/dicom/decode-frame.ts';
import type { FrameCodecs } from '../../src/formats/dicom/dicom-types.ts';
import { parsePart10 } from '../../src/formats/dicom/parse-part10.ts';
import { readCtSlices } from '../../src/formats/dicom/read-ct-slice.ts';
import { readDicomdir } from '../../src/formats/dicom/read-dicomdir.ts';
import { loadCodecs } from '../../src/host/jobs/load-codecs.ts';
import { seed } from '../support/seed.ts';
import {
  buildSlice,
  encapsulate,
  encodeElements,
  f64,
  joinBytes,
  makeSliceElements,
  u16,
  u32,
  wrapPart10,
  type Elements,
} from './build-dicom.ts';
import { makeDraw, makeMemoryWatch, mutateBytes } from './mutate-bytes.ts';
import { hasOutsideData, readOutside } from './outside-data.ts';
import {
  SMALL_COLUMNS,
  SMALL_ROWS,
  SMALL_SYNTAXES,
  smallFrameBytes,
  smallFrameValues,
  type SmallSyntax,
} from './small-frames.ts';

const ROUNDS = Number(process.env['FUZZ_ROUNDS'] ?? 520);
/** Codes that a file may be refused with: every failure path must end in one of these forms. */
const CODE_FORM = /^[a-z][a-z0-9]*(-[a-z0-9]+)+$/;
/** One decoder's WASM heap and the garbage of small files; a length believed from a header would be far above. */
const MEMORY_BOUND_MB = 768;

let codecs: FrameCodecs;
beforeAll(async () => {
  codecs = await loadCodecs();
});

function packedSlice(syntax: SmallSyntax): Uint8Array {
  const elements = makeSliceElements({ rows: SMALL_ROWS, columns: SMALL_COLUMNS, without: [0x7fe00010] });
  return wrapPart10(
    joinBytes([encodeElements(elements), encapsulate([], [smallFrameBytes(syntax)])]),
    syntax,
  );
}
function enhanced(hasUndefinedLengths: boolean): Uint8Array {
  const frame = (z: number): Elements => [
    [0x00189118, 'SQ', [[[0x00209241, 'FD', f64(35)]]]],
    [0x00209111, 'SQ', [[[0x00209128, 'UL', u32(1)]]]],
    [0x00209113, 'SQ', [[[0x00200032, 'DS', `0\\0\\${z}`]]]],
  ];
  const shared: Elements = [
    [0x00289110, 'SQ', [[[0x00280030, 'DS', '0.4\\0.4']]]],
    [
      0x00289145,
      'SQ',
      [
        [
          [0x00281052, 'DS', '0'],
          [0x00281053, 'DS', '1'],
        ],
      ],
    ],
  ];
  const change: Elements = [
    [0x00280008, 'IS', '3'],
    [0x52009229, 'SQ', [shared]],
    [0x52009230, 'SQ', [frame(0), frame(1), frame(2)]],
  ];
  return buildSlice({ pixels: new Uint8Array(144), change }, 'explicit-le', hasUndefinedLengths);
}
function directory(): Uint8Array {
  const record: Elements = [
    [0x00041430, 'CS', 'IMAGE'],
    [0x00041500, 'CS', 'A\\B'],
  ];
  return wrapPart10(
    encodeElements([[0x00041220, 'SQ', [record, record]]], 'explicit-le', true),
    '1.2.840.10008.1.2.1',
  );
}

const subjects: Record<string, Uint8Array> = {
  'explicit little endian': buildSlice(),
  'implicit little endian': buildSlice({}, 'implicit-le'),
  'explicit big endian': buildSlice({}, 'explicit-be'),
  'without meta header': encodeElements(makeSliceElements(), 'implicit-le'),
  deflated: wrapPart10(deflateSync(encodeElements(makeSliceElements())), '1.2.840.10008.1.2.1.99'),
  'enhanced, known lengths': enhanced(false),
  'enhanced, unknown lengths': enhanced(true),
  'implicit, unknown lengths': buildSlice(
    {
      change: [
        [0x00081140, 'SQ', [[[0x00081155, 'UI', '1.2']], []]],
        [0x00091001, 'SQ', [[[0x00091002, 'LO', 'x']]]],
      ],
    },
    'implicit-le',
    true,
  ),
  'DICOM directory': directory(),
  ...Object.fromEntries(SMALL_SYNTAXES.map((syntax) => [syntax, packedSlice(syntax)])),
};
if (hasOutsideData) {
  for (const name of [
    'multiframe/ct_23x38_slice_2.dcm',
    'multiframe/legacy_converted_enhanced_ct_23x38x3.dcm',
    'edge/UN_sequence.dcm',
    'edge/sr_deflated.dcm',
    'edge/badVR.dcm',
    'edge/meta_missing_tsyntax.dcm',
    'edge/MR_truncated.dcm',
  ]) {
    subjects[name] = readOutside(`dicom-torture/${name}`);
  }
}

/** The whole way of one file; what it ends with. */
function takeIn(bytes: Uint8Array, fileLength?: number): string {
  const dataset = parsePart10(bytes, fileLength === undefined ? {} : { fileLength });
  if (!dataset.ok) return dataset.failure.code;
  const listing = readDicomdir(dataset.value);
  const slices = readCtSlices(dataset.value);
  if (!slices.ok) return listing.ok ? 'ok' : slices.failure.code;
  // A few frames tell as much as thousands of equal ones.
  for (const header of slices.value.slice(0, 4)) {
    const pixelCount = header.rows * header.columns;
    const frame = decodeFrame(bytes, header, codecs);
    if (!frame.ok) return frame.failure.code;
    if (frame.value.length !== pixelCount)
      return `Frame of ${frame.value.length} values for ${pixelCount} pixels`;
    convertToHu(frame.value, readHuScale(header, -1024), new Int16Array(pixelCount));
  }
  return 'ok';
}

describe(`DICOM intake of damaged files (seed ${seed})`, () => {
  test.each(SMALL_SYNTAXES)('the undamaged small frame decodes exactly, %s', (syntax) => {
    const bytes = packedSlice(syntax);
    const dataset = parsePart10(bytes);
    const slices = dataset.ok ? readCtSlices(dataset.value) : dataset;
    const frame = slices.ok ? decodeFrame(bytes, slices.value[0]!, codecs) : slices;
    expect(frame.ok && frame.value).toEqual(smallFrameValues());
  });

  test.each(Object.keys(subjects))('%s: every damaged copy is read or refused with a code', (name) => {
    const original = subjects[name]!;
    const watch = makeMemoryWatch();
    const outcomes = new Map<string, number>();
    for (let index = 0; index < ROUNDS; index++) {
      const draw = makeDraw(seed, index);
      const bytes = mutateBytes(original, draw, Math.min(original.length, 1200));
      const outcome = takeIn(bytes, draw(4) === 0 ? bytes.length + draw(1 << 20) : undefined);
      if (outcome !== 'ok') expect(outcome, `file ${index} of ${name}`).toMatch(CODE_FORM);
      outcomes.set(outcome, (outcomes.get(outcome) ?? 0) + 1);
      if (index % 64 === 0) watch.sample();
    }
    watch.sample();
    expect(outcomes.size, [...outcomes.keys()].join(', ')).toBeGreaterThan(2); // the damage does reach different parts
    expect(watch.peakMb()).toBeLessThan(MEMORY_BOUND_MB);
  });

  test('decoders that have met hundreds of damaged frames still decode a good one exactly', () => {
    for (const syntax of SMALL_SYNTAXES) {
      const bytes = packedSlice(syntax);
      const dataset = parsePart10(bytes);
      const slices = dataset.ok ? readCtSlices(dataset.value) : dataset;
      const frame = slices.ok ? decodeFrame(bytes, slices.value[0]!, codecs) : slices;
      expect(frame.ok && frame.value, syntax).toEqual(smallFrameValues());
    }
  });
});

describe('DICOM intake of crafted files', () => {
  const body = encodeElements(makeSliceElements({ without: [0x7fe00010] }));
  const sequenceOf = (inner: Uint8Array, depth: number): Uint8Array => {
    let bytes = inner;
    for (let level = 0; level < depth; level++) {
      const item = joinBytes([u16(0xfffe, 0xe000), u32(bytes.length), bytes]);
      bytes = joinBytes([u16(0x5200, 0x9229), Uint8Array.of(0x53, 0x51, 0, 0), u32(item.length), item]);
    }
    return bytes;
  };

  test('thousands of nested sequences of known length are refused or read, not followed into a crash', () => {
    for (const depth of [10, 500, 3000]) {
      expect(
        takeIn(wrapPart10(joinBytes([body, sequenceOf(new Uint8Array(0), depth)]), '1.2.840.10008.1.2.1')),
      ).toMatch(CODE_FORM);
    }
  });

  test('a sequence that contains itself by its lengths comes to an end', () => {
    const item = joinBytes([
      u16(0x5200, 0x9230),
      Uint8Array.of(0x53, 0x51, 0, 0),
      u32(40),
      u16(0xfffe, 0xe000),
      u32(0xfffffff0),
    ]);
    for (const syntax of ['1.2.840.10008.1.2.1', '1.2.840.10008.1.2']) {
      expect(
        takeIn(wrapPart10(joinBytes([body, ...Array.from({ length: 200 }, () => item)]), syntax)),
      ).toMatch(CODE_FORM);
    }
  });

  test('hundreds of thousands of empty items or fragments take bounded time and memory', () => {
    const watch = makeMemoryWatch();
    const many = (unit: Uint8Array): Uint8Array => {
      const bytes = new Uint8Array(unit.length * 300_000);
      for (let at = 0; at < bytes.length; at += unit.length) bytes.set(unit, at);
      return bytes;
    };
    const items = joinBytes([
      u16(0x5200, 0x9230),
      Uint8Array.of(0x53, 0x51, 0, 0),
      u32(0xffffffff),
      many(joinBytes([u16(0xfffe, 0xe000), u32(0)])),
    ]);
    expect(takeIn(wrapPart10(joinBytes([body, items]), '1.2.840.10008.1.2.1'))).toMatch(CODE_FORM);
    const fragments = joinBytes([
      u16(0x7fe0, 0x0010),
      Uint8Array.of(0x4f, 0x42, 0, 0),
      u32(0xffffffff),
      many(joinBytes([u16(0xfffe, 0xe000), u32(0)])),
    ]);
    expect(takeIn(wrapPart10(joinBytes([body, fragments]), '1.2.840.10008.1.2.5'))).toMatch(CODE_FORM);
    watch.sample();
    expect(watch.peakMb()).toBeLessThan(MEMORY_BOUND_MB);
  });

  test('a small deflated file that stands for a hundred megabytes is inflated no further than its picture', () => {
    const watch = makeMemoryWatch();
    const picture = encodeElements(makeSliceElements());
    const bomb = wrapPart10(
      deflateRawSync(joinBytes([picture, new Uint8Array(100 << 20)])),
      '1.2.840.10008.1.2.1.99',
    );
    watch.sample();
    const before = watch.peakMb();
    expect(bomb.length).toBeLessThan(1 << 20);
    expect(takeIn(bomb)).toBe('ok');
    watch.sample();
    expect(watch.peakMb() - before).toBeLessThan(64);
    const noPixels = wrapPart10(
      deflateRawSync(joinBytes([encodeElements([[0x00080060, 'CS', 'CT']]), new Uint8Array(100 << 20)])),
      '1.2.840.10008.1.2.1.99',
    );
    expect(takeIn(noPixels)).toMatch(CODE_FORM);
  });
});
