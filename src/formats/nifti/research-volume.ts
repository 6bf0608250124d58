import { determinant } from '../../core/units/affine.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { CtVolume } from '../../core/volume/volume-types.ts';

/** A volume from a research format, which carries a grid and little else. */
export interface ResearchVolume {
  readonly volume: CtVolume;
  readonly format: 'nifti-1' | 'nifti-2' | 'nrrd';
  /** What a CT header would have said and this file does not. */
  readonly missing: readonly ResearchGapCode[];
  /** Samples outside what 16 bits hold, moved to the nearest end. */
  readonly clippedCount: number;
  /** NaN or infinite samples, written as the volume's paddingHu. */
  readonly notFiniteCount: number;
}

export type ResearchGapCode =
  | 'modality-missing'
  | 'hu-not-declared'
  | 'patient-missing'
  | 'phase-missing'
  | 'kernel-missing'
  | 'slice-thickness-missing'
  | 'contrast-missing'
  | 'frame-of-reference-missing'
  | 'length-unit-missing'
  | 'origin-missing';

export type ResearchFailureCode =
  | 'not-nifti'
  | 'not-nrrd'
  | 'header-broken'
  | 'volume-not-3d'
  | 'volume-too-large'
  | 'data-type-unsupported'
  | 'orientation-missing'
  | 'data-truncated'
  | 'data-detached'
  | 'encoding-unsupported'
  | 'deflate-broken';

/** What neither format has a place for. */
export const ALWAYS_MISSING: readonly ResearchGapCode[] = [
  'modality-missing',
  'hu-not-declared',
  'patient-missing',
  'phase-missing',
  'kernel-missing',
  'slice-thickness-missing',
  'contrast-missing',
  'frame-of-reference-missing',
];

export type SampleType =
  'int8' | 'uint8' | 'int16' | 'uint16' | 'int32' | 'uint32' | 'int64' | 'uint64' | 'float32' | 'float64';
export const SAMPLE_BYTES: Readonly<Record<SampleType, number>> = {
  int8: 1,
  uint8: 1,
  int16: 2,
  uint16: 2,
  int32: 4,
  uint32: 4,
  int64: 8,
  uint64: 8,
  float32: 4,
  float64: 8,
};

/** 2 GiB of 16-bit samples: eight times a large gated scan. */
const MAX_SAMPLES = 2 ** 30;
const OUTSIDE_HU = -1024;

/** Three whole sizes >= 1 whose product stays in bounds. */
export function checkDims(
  sizes: readonly number[],
): Result<readonly [number, number, number], ResearchFailureCode> {
  const [nx, ny, nz, ...more] = sizes;
  if (nx === undefined || ny === undefined || nz === undefined || more.some((size) => size > 1)) {
    return fail(
      'volume-not-3d',
      `The file holds ${sizes.length} dimensions (${sizes.join(' x ')}); one volume of three is needed.`,
      'Save one time point as a volume of its own.',
      { dimensions: sizes.length },
    );
  }
  const dims = [nx, ny, nz] as const;
  if (!dims.every((size) => Number.isInteger(size) && size >= 1 && size <= 65535)) {
    return fail(
      'header-broken',
      `The header states a size of ${dims.join(' x ')}.`,
      'Write the file again from its source.',
      {},
    );
  }
  if (nx * ny * nz > MAX_SAMPLES) {
    return fail(
      'volume-too-large',
      `A volume of ${dims.join(' x ')} is larger than ${MAX_SAMPLES} samples.`,
      'Crop it to the chest.',
      { samples: nx * ny * nz },
    );
  }
  return succeed(dims);
}

export interface SampleLayout {
  readonly type: SampleType;
  readonly isLittleEndian: boolean;
  readonly offset: number;
  readonly slope: number;
  readonly intercept: number;
}

/**
 * Grid, raw bytes and layout to a CtVolume in HU (rounded, clipped to 16 bits).
 * Memory  16-bit little-endian samples without scaling stay a view into `bytes`
 */
export function buildVolume(
  bytes: Uint8Array,
  layout: SampleLayout,
  dims: readonly [number, number, number],
  lpsRows: readonly number[],
  format: ResearchVolume['format'],
  missing: readonly ResearchGapCode[],
): Result<ResearchVolume, ResearchFailureCode> {
  const det = determinant(lpsRows);
  if (!lpsRows.every(Number.isFinite) || !(Math.abs(det) > 1e-9)) {
    return fail(
      'orientation-missing',
      'The directions in the header do not span space.',
      'Convert the scan again from DICOM.',
      {},
    );
  }
  const count = dims[0] * dims[1] * dims[2];
  const need = layout.offset + count * SAMPLE_BYTES[layout.type];
  if (need > bytes.length) {
    return fail(
      'data-truncated',
      `The file holds ${bytes.length} bytes of the ${need} its header announces.`,
      'Copy the file again from its source.',
      { bytes: bytes.length, announcedBytes: need },
    );
  }
  const { samplesHu, clippedCount, notFiniteCount } = readSamples(bytes, layout, count);
  const column = (c: number): number =>
    Math.sqrt(lpsRows[c]! ** 2 + lpsRows[c + 4]! ** 2 + lpsRows[c + 8]! ** 2);
  return succeed({
    volume: {
      samplesHu,
      dims,
      lpsFromVoxel: { to: 'lps', from: 'voxel', rows: lpsRows },
      spacingMm: [column(0), column(1), column(2)],
      paddingHu: notFiniteCount > 0 ? OUTSIDE_HU : null,
    },
    format,
    missing,
    clippedCount,
    notFiniteCount,
  });
}

function readSamples(
  bytes: Uint8Array,
  layout: SampleLayout,
  count: number,
): { samplesHu: Int16Array; clippedCount: number; notFiniteCount: number } {
  const { type, isLittleEndian, offset, slope, intercept } = layout;
  const address = bytes.byteOffset + offset;
  const isPlain = type === 'int16' && slope === 1 && intercept === 0 && isLittleEndian && address % 2 === 0;
  if (isPlain)
    return {
      samplesHu: new Int16Array(bytes.buffer as ArrayBuffer, address, count),
      clippedCount: 0,
      notFiniteCount: 0,
    };
  const view = new DataView(bytes.buffer, address, count * SAMPLE_BYTES[type]);
  const read = makeReader(view, type, isLittleEndian);
  const samplesHu = new Int16Array(count);
  let clippedCount = 0;
  let notFiniteCount = 0;
  for (let i = 0; i < count; i++) {
    const hu = Math.round(read(i) * slope + intercept);
    if (!Number.isFinite(hu)) {
      samplesHu[i] = OUTSIDE_HU;
      notFiniteCount++;
    } else {
      if (hu > 32767 || hu < -32768) clippedCount++;
      samplesHu[i] = Math.max(-32768, Math.min(32767, hu));
    }
  }
  return { samplesHu, clippedCount, notFiniteCount };
}

function makeReader(view: DataView, type: SampleType, little: boolean): (i: number) => number {
  const lowWord = little ? 0 : 4;
  switch (type) {
    case 'int8':
      return (i) => view.getInt8(i);
    case 'uint8':
      return (i) => view.getUint8(i);
    case 'int16':
      return (i) => view.getInt16(i * 2, little);
    case 'uint16':
      return (i) => view.getUint16(i * 2, little);
    case 'int32':
      return (i) => view.getInt32(i * 4, little);
    case 'uint32':
      return (i) => view.getUint32(i * 4, little);
    case 'float32':
      return (i) => view.getFloat32(i * 4, little);
    case 'float64':
      return (i) => view.getFloat64(i * 8, little);
    // Exact far beyond 16 bits, which is all that is kept.
    case 'int64':
      return (i) =>
        view.getInt32(i * 8 + 4 - lowWord, little) * 4294967296 + view.getUint32(i * 8 + lowWord, little);
    case 'uint64':
      return (i) =>
        view.getUint32(i * 8 + 4 - lowWord, little) * 4294967296 + view.getUint32(i * 8 + lowWord, little);
  }
}
