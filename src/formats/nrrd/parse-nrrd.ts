import { fail, succeed, type Result } from '../../core/result.ts';
import { inflateBounded } from '../inflate/inflate-bounded.ts';
import {
  ALWAYS_MISSING,
  buildVolume,
  checkDims,
  SAMPLE_BYTES,
  type ResearchFailureCode,
  type ResearchGapCode,
  type ResearchVolume,
  type SampleType,
} from '../nifti/research-volume.ts';

const MAX_HEADER_BYTES = 1 << 20;
const TYPES: Readonly<Record<string, SampleType>> = {
  'signed char': 'int8',
  int8: 'int8',
  int8_t: 'int8',
  uchar: 'uint8',
  'unsigned char': 'uint8',
  uint8: 'uint8',
  uint8_t: 'uint8',
  short: 'int16',
  'short int': 'int16',
  'signed short': 'int16',
  'signed short int': 'int16',
  int16: 'int16',
  int16_t: 'int16',
  ushort: 'uint16',
  'unsigned short': 'uint16',
  'unsigned short int': 'uint16',
  uint16: 'uint16',
  uint16_t: 'uint16',
  int: 'int32',
  'signed int': 'int32',
  int32: 'int32',
  int32_t: 'int32',
  uint: 'uint32',
  'unsigned int': 'uint32',
  uint32: 'uint32',
  uint32_t: 'uint32',
  longlong: 'int64',
  'long long': 'int64',
  'long long int': 'int64',
  int64: 'int64',
  int64_t: 'int64',
  ulonglong: 'uint64',
  'unsigned long long': 'uint64',
  uint64: 'uint64',
  uint64_t: 'uint64',
  float: 'float32',
  double: 'float64',
};
/** Signs that take the file's world axes to LPS. */
const SPACES: Readonly<Record<string, readonly [number, number, number]>> = {
  'left-posterior-superior': [1, 1, 1],
  lps: [1, 1, 1],
  'right-anterior-superior': [-1, -1, 1],
  ras: [-1, -1, 1],
  'left-anterior-superior': [1, -1, 1],
  las: [1, -1, 1],
};
const UNIT_MM: Readonly<Record<string, number>> = { mm: 1, cm: 10, m: 1000, um: 0.001 };

export function isNrrd(bytes: Uint8Array): boolean {
  return (
    bytes.length >= 8 &&
    String.fromCharCode(...bytes.subarray(0, 7)) === 'NRRD000' &&
    bytes[7]! >= 0x31 &&
    bytes[7]! <= 0x35
  );
}

/**
 * One NRRD volume with attached data (raw or gzip) in HU and LPS. Values are taken as HU; `missing` says so.
 *
 * Fails   not-nrrd, header-broken, volume-not-3d, volume-too-large, data-type-unsupported, orientation-missing,
 *         data-truncated, data-detached (.nhdr), encoding-unsupported, deflate-broken
 * Source  Definition of the NRRD file format, version 5 (teem); docs/methods/dicom-intake.md
 */
export function parseNrrd(file: Uint8Array): Result<ResearchVolume, ResearchFailureCode> {
  if (!isNrrd(file))
    return fail('not-nrrd', 'The file does not begin like an NRRD volume.', 'Leave it out.', {
      bytes: file.length,
    });
  const header = readFields(file);
  if (header === null) return failHeader('it has no blank line at its end');
  const { fields, dataAt } = header;
  if (fields.has('data file') || fields.has('datafile')) {
    return fail(
      'data-detached',
      'Header and data are in two files.',
      'Save the volume as one .nrrd file.',
      {},
    );
  }
  const sizes = readNumbers(fields.get('sizes') ?? '');
  if (sizes === null || Number(fields.get('dimension')) !== sizes.length)
    return failHeader('its sizes cannot be read');
  const dims = checkDims(sizes);
  if (!dims.ok) return dims;
  const typeName = (fields.get('type') ?? '').toLowerCase();
  const type = Object.hasOwn(TYPES, typeName) ? TYPES[typeName]! : null;
  if (type === null)
    return fail(
      'data-type-unsupported',
      'The data type is no grey value read here.',
      'Save the volume as 16-bit integers.',
      {},
    );
  const endian = (fields.get('endian') ?? '').toLowerCase();
  if (SAMPLE_BYTES[type] > 1 && endian !== 'little' && endian !== 'big')
    return failHeader('it does not state the byte order');
  const grid = readGrid(fields);
  if (!grid.ok) return grid;

  const need = dims.value[0] * dims.value[1] * dims.value[2] * SAMPLE_BYTES[type];
  const payload = openPayload(file.subarray(dataAt), fields, need);
  if (!payload.ok) return payload;
  const layout = {
    type,
    isLittleEndian: endian !== 'big',
    offset: payload.value.offset,
    slope: 1,
    intercept: 0,
  };
  return buildVolume(payload.value.bytes, layout, dims.value, grid.value.lpsRows, 'nrrd', [
    ...ALWAYS_MISSING,
    ...grid.value.missing,
  ]);
}

function failHeader(why: string): Result<never, ResearchFailureCode> {
  return fail(
    'header-broken',
    `The NRRD header cannot be used: ${why}.`,
    'Write the file again from its source.',
    {},
  );
}

/** "key: value" lines up to the first blank line; comments and key/value pairs (":=") are of no use here. */
function readFields(file: Uint8Array): { fields: ReadonlyMap<string, string>; dataAt: number } | null {
  const fields = new Map<string, string>();
  const limit = Math.min(file.length, MAX_HEADER_BYTES);
  let line = '';
  for (let at = 0; at < limit; at++) {
    const byte = file[at]!;
    if (byte !== 0x0a) {
      if (byte !== 0x0d) line += String.fromCharCode(byte);
      continue;
    }
    if (line === '') return { fields, dataAt: at + 1 };
    const colon = line.indexOf(': ');
    if (!line.startsWith('#') && colon > 0)
      fields.set(line.slice(0, colon).trim().toLowerCase(), line.slice(colon + 2).trim());
    line = '';
  }
  return null;
}

function readNumbers(text: string): readonly number[] | null {
  const parts = text.split(/[\s,]+/).filter((part) => part !== '');
  const numbers = parts.map(Number);
  return parts.length > 0 && numbers.every(Number.isFinite) ? numbers : null;
}

function readGrid(
  fields: ReadonlyMap<string, string>,
): Result<{ lpsRows: readonly number[]; missing: readonly ResearchGapCode[] }, ResearchFailureCode> {
  const spaceName = (fields.get('space') ?? '').toLowerCase();
  const signs = Object.hasOwn(SPACES, spaceName) ? SPACES[spaceName]! : null;
  const directions = [...(fields.get('space directions') ?? '').matchAll(/\(([^()]{1,200})\)/g)].map(
    (match) => readNumbers(match[1]!),
  );
  if (signs === null || directions.length !== 3 || directions.some((direction) => direction?.length !== 3)) {
    return fail(
      'orientation-missing',
      'The header does not state patient axes (space, space directions).',
      'Convert the scan again from DICOM.',
      {},
    );
  }
  const missing: ResearchGapCode[] = [];
  const origin = readNumbers((fields.get('space origin') ?? '').replace(/[()]/g, ''));
  if (origin?.length !== 3) missing.push('origin-missing');
  const units = [...(fields.get('space units') ?? '').matchAll(/"([^"]*)"/g)].map((match) =>
    match[1]!.toLowerCase(),
  );
  const scales = units.map((unit) => (Object.hasOwn(UNIT_MM, unit) ? UNIT_MM[unit]! : null));
  if (scales.length === 0) missing.push('length-unit-missing');
  else if (scales.some((value) => value === null || value !== scales[0]))
    return failHeader('its length units are not known ones');
  const scale = scales[0] ?? 1;
  const lpsRows: number[] = [];
  for (let row = 0; row < 3; row++) {
    for (const direction of directions) lpsRows.push(direction![row]! * signs[row]! * scale + 0);
    lpsRows.push((origin?.length === 3 ? origin[row]! : 0) * signs[row]! * scale + 0);
  }
  return succeed({ lpsRows, missing });
}

function openPayload(
  payload: Uint8Array,
  fields: ReadonlyMap<string, string>,
  need: number,
): Result<{ bytes: Uint8Array; offset: number }, ResearchFailureCode> {
  const encoding = (fields.get('encoding') ?? '').toLowerCase();
  const lineSkip = Number(fields.get('line skip') ?? fields.get('lineskip') ?? 0);
  const byteSkip = Number(fields.get('byte skip') ?? fields.get('byteskip') ?? 0);
  const isRaw = encoding === 'raw';
  if (!isRaw && encoding !== 'gzip' && encoding !== 'gz') {
    return fail(
      'encoding-unsupported',
      'The data are neither raw nor gzip.',
      'Save the volume with gzip or raw encoding.',
      {},
    );
  }
  if (
    lineSkip !== 0 ||
    !Number.isInteger(byteSkip) ||
    byteSkip < (isRaw ? -1 : 0) ||
    byteSkip > payload.length
  )
    return failHeader('its skips are not supported');
  if (isRaw)
    return succeed({
      bytes: payload,
      offset: byteSkip === -1 ? Math.max(0, payload.length - need) : byteSkip,
    });
  const inflated = inflateBounded(payload, {
    kind: 'gzip',
    maxBytes: need + byteSkip,
    atBound: 'stop',
    isSizeKnown: true,
  });
  if (!inflated.ok)
    return fail(
      'deflate-broken',
      inflated.failure.message,
      'Copy the file again from its source.',
      inflated.failure.evidence,
    );
  return succeed({ bytes: inflated.value, offset: byteSkip });
}
