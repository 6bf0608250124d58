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
  type SampleLayout,
  type SampleType,
} from './research-volume.ts';

interface NiftiHeader {
  readonly format: 'nifti-1' | 'nifti-2';
  readonly dims: readonly [number, number, number];
  readonly layout: SampleLayout;
  readonly lpsRows: readonly number[];
  readonly missing: readonly ResearchGapCode[];
}

const HEADER_BYTES = 544;
const TYPES: Readonly<Record<number, SampleType>> = {
  2: 'uint8',
  4: 'int16',
  8: 'int32',
  16: 'float32',
  64: 'float64',
  256: 'int8',
  512: 'uint16',
  768: 'uint32',
  1024: 'int64',
  1280: 'uint64',
};
/** xyzt_units, low three bits: metre, millimetre, micrometre. */
const UNIT_MM: Readonly<Record<number, number>> = { 1: 1000, 2: 1, 3: 0.001 };

/** Gzip or a NIfTI size word; tells whether parseNifti is worth trying. */
export function isNifti(bytes: Uint8Array): boolean {
  if (isGzip(bytes)) {
    const head = inflateBounded(bytes.subarray(0, 65536), {
      kind: 'gzip',
      maxBytes: HEADER_BYTES,
      atBound: 'stop',
      isPartial: true,
    });
    return head.ok && findForm(head.value) !== null;
  }
  return findForm(bytes) !== null;
}

/**
 * A NIfTI-1 or NIfTI-2 volume (.nii, .nii.gz) in HU and LPS. The sform wins over the qform; without either it refuses,
 * since left and right could not be told apart. Values are taken as HU; `missing` says so.
 *
 * Frame   the file's RAS affine, first two rows negated
 * Fails   not-nifti, header-broken, volume-not-3d, volume-too-large, data-type-unsupported, orientation-missing,
 *         data-truncated, data-detached, deflate-broken
 * Source  NIfTI-1.1 and NIfTI-2 header definitions (nifti1.h, nifti2.h); docs/methods/dicom-intake.md
 */
export function parseNifti(file: Uint8Array): Result<ResearchVolume, ResearchFailureCode> {
  const isPacked = isGzip(file);
  let head = file;
  if (isPacked) {
    const first = inflateBounded(file, {
      kind: 'gzip',
      maxBytes: HEADER_BYTES,
      atBound: 'stop',
      isPartial: true,
    });
    if (!first.ok) return failInflate(first.failure.message);
    head = first.value;
  }
  const header = readHeader(head);
  if (!header.ok) return header;
  const { dims, layout, lpsRows, format, missing } = header.value;
  let bytes = file;
  if (isPacked) {
    const need = layout.offset + dims[0] * dims[1] * dims[2] * SAMPLE_BYTES[layout.type];
    const whole = inflateBounded(file, { kind: 'gzip', maxBytes: need, atBound: 'stop', isSizeKnown: true });
    if (!whole.ok) return failInflate(whole.failure.message);
    bytes = whole.value;
  }
  return buildVolume(bytes, layout, dims, lpsRows, format, missing);
}

function isGzip(bytes: Uint8Array): boolean {
  return bytes[0] === 0x1f && bytes[1] === 0x8b;
}
function failInflate(message: string): Result<never, ResearchFailureCode> {
  return fail('deflate-broken', message, 'Copy the file again from its source.', {});
}

function findForm(bytes: Uint8Array): { version: 1 | 2; isLittleEndian: boolean } | null {
  if (bytes.length < 348) return null;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  for (const isLittleEndian of [true, false]) {
    const size = view.getInt32(0, isLittleEndian);
    if (size === 348 && isMagic(bytes, 344)) return { version: 1, isLittleEndian };
    if (size === 540 && bytes.length >= 540 && isMagic(bytes, 4)) return { version: 2, isLittleEndian };
  }
  return null;
}
/** "n+1", "n+2" (one file) or "ni1", "ni2" (header and data apart). */
function isMagic(bytes: Uint8Array, at: number): boolean {
  return (
    bytes[at] === 0x6e &&
    (bytes[at + 1] === 0x2b || bytes[at + 1] === 0x69) &&
    (bytes[at + 2] === 0x31 || bytes[at + 2] === 0x32)
  );
}

function readHeader(bytes: Uint8Array): Result<NiftiHeader, ResearchFailureCode> {
  const form = findForm(bytes);
  if (form === null)
    return fail('not-nifti', 'The file does not begin like a NIfTI volume.', 'Leave it out.', {
      bytes: bytes.length,
    });
  const little = form.isLittleEndian;
  const isV2 = form.version === 2;
  if (bytes[(isV2 ? 4 : 344) + 1] === 0x69) {
    return fail(
      'data-detached',
      'Header and data are in two files.',
      'Save the volume as one .nii or .nii.gz file.',
      {},
    );
  }
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const real = (v1: number, v2: number, i = 0): number =>
    isV2 ? view.getFloat64(v2 + 8 * i, little) : view.getFloat32(v1 + 4 * i, little);
  const long = (at: number): number => Number(view.getBigInt64(at, little));
  const dim = (i: number): number => (isV2 ? long(16 + 8 * i) : view.getInt16(40 + 2 * i, little));

  const rank = dim(0);
  if (!(rank >= 1 && rank <= 7))
    return fail(
      'header-broken',
      `The header states ${rank} dimensions.`,
      'Write the file again from its source.',
      { dimensions: rank },
    );
  const dims = checkDims(Array.from({ length: rank }, (_, i) => dim(i + 1)));
  if (!dims.ok) return dims;
  const datatype = view.getInt16(isV2 ? 12 : 70, little);
  const type = TYPES[datatype];
  if (type === undefined) {
    return fail(
      'data-type-unsupported',
      `Data type ${datatype} is no grey value.`,
      'Save the volume as 16-bit integers.',
      { datatype },
    );
  }
  const offset = isV2 ? long(168) : view.getFloat32(108, little);
  if (!(Number.isInteger(offset) && offset >= (isV2 ? 540 : 348) && offset <= 1 << 26)) {
    return fail(
      'header-broken',
      `The header states that data begin at byte ${offset}.`,
      'Write the file again from its source.',
      { offset },
    );
  }
  const units = isV2 ? view.getInt32(500, little) : view.getUint8(123);
  const unitMm = UNIT_MM[units & 7];
  const rasRows = readAffine(isV2, view, little, real);
  if (rasRows === null) {
    return fail(
      'orientation-missing',
      'The header has neither sform nor qform: left and right cannot be told apart.',
      'Convert the scan again from DICOM.',
      {},
    );
  }
  const scale = unitMm ?? 1;
  const lpsRows = rasRows.map((value, i) => (i < 8 ? -value : value) * scale + 0);
  // A slope of 0 (or not finite) means "not scaled" (nifti1.h).
  const slope = real(112, 176);
  const isScaled = Number.isFinite(slope) && slope !== 0;
  const intercept = real(116, 184);
  return succeed({
    format: isV2 ? 'nifti-2' : 'nifti-1',
    dims: dims.value,
    layout: {
      type,
      isLittleEndian: little,
      offset,
      slope: isScaled ? slope : 1,
      intercept: isScaled && Number.isFinite(intercept) ? intercept : 0,
    },
    lpsRows,
    missing: unitMm === undefined ? [...ALWAYS_MISSING, 'length-unit-missing'] : ALWAYS_MISSING,
  });
}

/** RAS mm from voxel, 3 x 4 row by row: sform, else qform, else null. */
function readAffine(
  isV2: boolean,
  view: DataView,
  little: boolean,
  real: (v1: number, v2: number, i?: number) => number,
): readonly number[] | null {
  const qformCode = isV2 ? view.getInt32(344, little) : view.getInt16(252, little);
  const sformCode = isV2 ? view.getInt32(348, little) : view.getInt16(254, little);
  if (sformCode > 0) return Array.from({ length: 12 }, (_, i) => real(280, 400, i));
  if (qformCode <= 0) return null;
  const [b, c, d] = [real(256, 352), real(260, 360), real(264, 368)];
  const [tx, ty, tz] = [real(268, 376), real(272, 384), real(276, 392)];
  const [sx, sy] = [real(76, 104, 1), real(76, 104, 2)];
  const sz = real(76, 104, 3) * (real(76, 104) < 0 ? -1 : 1);
  const a = Math.sqrt(Math.max(0, 1 - b * b - c * c - d * d));
  return [
    (a * a + b * b - c * c - d * d) * sx,
    2 * (b * c - a * d) * sy,
    2 * (b * d + a * c) * sz,
    tx,
    2 * (b * c + a * d) * sx,
    (a * a + c * c - b * b - d * d) * sy,
    2 * (c * d - a * b) * sz,
    ty,
    2 * (b * d - a * c) * sx,
    2 * (c * d + a * b) * sy,
    (a * a + d * d - b * b - c * c) * sz,
    tz,
  ];
}
