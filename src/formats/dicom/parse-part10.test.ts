import { deflateSync } from 'fflate';
import { describe, expect, test } from 'vitest';
import {
  buildSlice,
  encodeElements,
  joinBytes,
  makeSliceElements,
  u16,
  u32,
  wrapPart10,
  type Elements,
} from '../../../test/fuzz/build-dicom.ts';
import { parsePart10, type DicomDataset } from './parse-part10.ts';
import { readCtSlices } from './read-ct-slice.ts';
import { readItems, readText } from './read-values.ts';

function parsed(bytes: Uint8Array): DicomDataset {
  const result = parsePart10(bytes);
  if (!result.ok) throw new Error(result.failure.message);
  return result.value;
}
function codeOf(bytes: Uint8Array, fileLength?: number): string {
  const result = parsePart10(bytes, fileLength === undefined ? {} : { fileLength });
  return result.ok ? 'ok' : result.failure.code;
}

describe('parsePart10', () => {
  test.each(['implicit-le', 'explicit-le', 'explicit-be'] as const)(
    'reads %s and finds where the pixels lie',
    (encoding) => {
      const file = buildSlice({}, encoding);
      const dataset = parsed(file);
      expect(readText(dataset.values, 'x00080060')).toBe('CT');
      expect(dataset.pixelData).toMatchObject({
        offset: file.length - 48,
        length: 48,
        isEncapsulated: false,
        isDeflated: false,
      });
      expect(dataset.isTransferSyntaxGuessed).toBe(false);
    },
  );

  test.each(['implicit-le', 'explicit-le', 'explicit-be'] as const)(
    'guesses %s when preamble and meta header are missing',
    (encoding) => {
      const dataset = parsed(encodeElements(makeSliceElements(), encoding));
      const wanted = {
        'implicit-le': '1.2.840.10008.1.2',
        'explicit-le': '1.2.840.10008.1.2.1',
        'explicit-be': '1.2.840.10008.1.2.2',
      };
      expect(dataset).toMatchObject({
        transferSyntaxUid: wanted[encoding],
        hasMetaHeader: false,
        isTransferSyntaxGuessed: true,
      });
    },
  );

  test('believes the letters of the elements over a wrong transfer syntax', () => {
    const dataset = parsed(
      wrapPart10(encodeElements(makeSliceElements(), 'explicit-le'), '1.2.840.10008.1.2'),
    );
    expect(dataset).toMatchObject({
      transferSyntaxUid: '1.2.840.10008.1.2.1',
      isTransferSyntaxGuessed: true,
    });
  });

  test('reads a meta header without the 128-byte preamble', () => {
    expect(parsed(buildSlice().subarray(132)).pixelData).not.toBeNull();
  });

  test('inflates a deflated data set only as far as needed, also from a head', () => {
    const pixels = new Uint8Array(512 * 512 * 2).map((_, i) => (i * 2654435761) >>> 24); // does not shrink
    const body = encodeElements(makeSliceElements({ rows: 512, columns: 512, pixels }));
    const file = wrapPart10(deflateSync(body), '1.2.840.10008.1.2.1.99');
    expect(parsed(file).pixelData).toMatchObject({ length: 524288, isDeflated: true });
    const head = parsePart10(file.subarray(0, 4096), { fileLength: file.length });
    expect(head.ok && head.value.pixelData?.length).toBe(524288);
  });

  test('needs only the head of a file, and says when the head is too short', () => {
    const file = buildSlice({ rows: 64, columns: 64, pixels: new Uint8Array(8192) });
    const head = file.subarray(0, file.length - 8192);
    expect(codeOf(head, file.length)).toBe('ok');
    for (let length = 8; length < head.length; length += 7) {
      expect(['head-too-short', 'not-dicom'], `head of ${length}`).toContain(
        codeOf(file.subarray(0, length), file.length),
      );
    }
  });

  test('calls a file whose pixels are cut off truncated', () => {
    const file = buildSlice();
    expect(codeOf(file.subarray(0, file.length - 1))).toBe('file-truncated');
    expect(codeOf(file.subarray(0, file.length - 55))).toBe('file-truncated');
  });

  test('steps over private sequences of undefined length and over damage inside sequences of known length', () => {
    const inner: Elements = [[0x00080100, 'SH', 'X']];
    const change: Elements = [
      [0x00090010, 'LO', 'MAKER'],
      [0x00091001, 'SQ', [inner, inner]],
      [0x00400555, 'SQ', [inner]],
    ];
    expect(parsed(buildSlice({ change }, 'explicit-le', true)).pixelData).not.toBeNull();
    expect(parsed(buildSlice({ change }, 'implicit-le', true)).pixelData).not.toBeNull();
    const broken: Elements = [[0x00400555, 'SQ', [inner]]];
    const file = buildSlice({ change: broken });
    const at = file.findIndex((_, i) => file[i] === 0x40 && file[i + 2] === 0x55 && file[i + 3] === 0x05);
    file.fill(0xff, at + 12, at + 20);
    expect(parsed(file).pixelData).not.toBeNull();
  });

  test('reads a functional group hidden in UN as an implicit sequence', () => {
    const item = encodeElements([[0x00280030, 'DS', '0.5\\0.5']], 'implicit-le');
    const un = joinBytes([u16(0xfffe, 0xe000), u32(item.length), item]);
    const dataset = parsed(buildSlice({ change: [[0x52009229, 'UN', un]] }));
    expect(readText(readItems(dataset.values, 'x52009229')[0]!, 'x00280030')).toBe('0.5\\0.5');
  });

  test('finds the pixels behind an extended offset table, whose VR the older length rule does not know', () => {
    const dataset = parsed(buildSlice({ change: [[0x7fe00001, 'OV', new Uint8Array(16)]] }));
    expect(dataset.pixelData?.extendedOffsets?.count).toBe(2);
    expect(dataset.pixelData?.length).toBe(48);
  });

  test('refuses what is no DICOM file', () => {
    for (const bytes of [
      new Uint8Array(0),
      new Uint8Array(5),
      new Uint8Array(4096),
      Uint8Array.from('%PDF-1.7 something', (c) => c.charCodeAt(0)),
    ]) {
      expect(codeOf(bytes)).toBe('not-dicom');
    }
  });

  test('refuses nesting without end instead of following it', () => {
    const open = joinBytes([
      u16(0x0040, 0xa730),
      Uint8Array.of(0x53, 0x51, 0, 0),
      u32(0xffffffff),
      u16(0xfffe, 0xe000),
      u32(0xffffffff),
    ]);
    const file = wrapPart10(
      joinBytes([
        encodeElements(makeSliceElements({ without: [0x7fe00010] })),
        ...Array.from({ length: 60000 }, () => open),
      ]),
      '1.2.840.10008.1.2.1',
    );
    expect(codeOf(file)).toBe('structure-too-large');
  });

  test('stops after a fixed number of reads however the elements are laid out', () => {
    // Bytes of unknown length have to be searched for their end, two at a time.
    const open = joinBytes([
      u16(0x0009, 0x1000),
      Uint8Array.of(0x4f, 0x42, 0, 0),
      u32(0xffffffff),
      new Uint8Array(17_000_000),
    ]);
    const sequence = joinBytes([
      u16(0x0009, 0x1001),
      Uint8Array.of(0x53, 0x51, 0, 0),
      u32(0xffffffff),
      u16(0xfffe, 0xe000),
      u32(0xffffffff),
      open,
    ]);
    expect(
      codeOf(
        wrapPart10(joinBytes([encodeElements([[0x00080060, 'CS', 'CT']]), sequence]), '1.2.840.10008.1.2.1'),
      ),
    ).toBe('structure-too-large');
  });

  test('gives the same header whichever way the file is encoded', () => {
    const headers = (['implicit-le', 'explicit-le', 'explicit-be'] as const).map((encoding) => {
      const slices = readCtSlices(parsed(buildSlice({}, encoding)));
      const { encoding: packing, ...rest } = slices.ok ? slices.value[0]! : ({} as never);
      return { ...rest, bits: packing.bitsStored };
    });
    expect(headers[1]).toEqual(headers[0]);
    expect(headers[2]).toEqual(headers[0]);
  });
});
