import { describe, expect, test } from 'vitest';
import {
  buildSlice,
  encodeElements,
  u32,
  wrapPart10,
  type Elements,
} from '../../../test/fuzz/build-dicom.ts';
import { parsePart10, type DicomDataset } from './parse-part10.ts';
import { readDicomdir } from './read-dicomdir.ts';

function parsed(bytes: Uint8Array): DicomDataset {
  const result = parsePart10(bytes);
  if (!result.ok) throw new Error(result.failure.message);
  return result.value;
}
const record = (type: string, fileId: string | null, next = 0): Elements => [
  [0x00041400, 'UL', u32(next)],
  [0x00041430, 'CS', type],
  ...(fileId === null ? [] : ([[0x00041500, 'CS', fileId]] as const)),
];
function directory(records: readonly Elements[], hasUndefinedLengths = false): DicomDataset {
  const elements: Elements = [
    [0x00041130, 'CS', 'SET'],
    [0x00041200, 'UL', u32(0)],
    [0x00041220, 'SQ', records],
  ];
  return parsed(
    wrapPart10(encodeElements(elements, 'explicit-le', hasUndefinedLengths), '1.2.840.10008.1.2.1'),
  );
}

describe('readDicomdir', () => {
  test('lists the files of image records, each once, in order', () => {
    const records = [
      record('PATIENT', null),
      record('SERIES', null),
      record('IMAGE', 'DICOM\\S1\\I1'),
      record('IMAGE', 'DICOM\\S1\\I2'),
      record('IMAGE', 'DICOM\\S1\\I1'),
      record('SR DOCUMENT', 'DICOM\\SR1'),
    ];
    for (const hasUndefinedLengths of [false, true]) {
      const listing = readDicomdir(directory(records, hasUndefinedLengths));
      expect(listing.ok && listing.value).toEqual({
        imagePaths: ['DICOM/S1/I1', 'DICOM/S1/I2'],
        unsafeCount: 0,
      });
    }
  });

  test('does not follow record offsets, so a cycle among them is of no effect', () => {
    const listing = readDicomdir(directory([record('IMAGE', 'A', 398), record('IMAGE', 'B', 398)]));
    expect(listing.ok && listing.value.imagePaths).toEqual(['A', 'B']);
  });

  test('counts names that lead outside or are missing, and leaves them out', () => {
    const listing = readDicomdir(
      directory([
        record('IMAGE', '..\\..\\ETC\\PASSWD'),
        record('IMAGE', '/ABS'),
        record('IMAGE', null),
        record('IMAGE', 'A\\\\B'),
        record('IMAGE', 'OK'),
      ]),
    );
    expect(listing.ok && listing.value).toEqual({ imagePaths: ['OK'], unsafeCount: 4 });
  });

  test('refuses an object that is no directory', () => {
    const result = readDicomdir(parsed(buildSlice()));
    expect(result.ok ? 'ok' : result.failure.code).toBe('not-dicomdir');
  });
});
