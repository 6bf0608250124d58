import type { DataSet } from 'dicom-parser';
import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import type { RegionData, RegionFaultCode, RegionSpace, RegionUnit, TraceRegion } from '../../core/echo/trace-region.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { ParseFailureCode, PixelEncoding } from './dicom-types.ts';
import { parsePart10, type DicomDataset } from './parse-part10.ts';
import { readIdentity } from './read-identity.ts';
import { readDecimal, readDecimals, readDouble, readItems, readText, readUid, readUint16, readUint32 } from './read-values.ts';

/** Ultrasound Image and Multi-frame Image, with their retired forms (PS3.4 B.5). */
const ULTRASOUND: ReadonlySet<string> = new Set(['1.2.840.10008.5.1.4.1.1.6.1', '1.2.840.10008.5.1.4.1.1.3.1', '1.2.840.10008.5.1.4.1.1.6', '1.2.840.10008.5.1.4.1.1.3']);
const REGIONS = 0x00186011;
const EXPLICIT_BIG = '1.2.840.10008.1.2.2';
const MAX_SIDE = 4096;
const MAX_FRAMES = 4096;
const MAX_REGIONS = 64;
/** A right or lower edge may be counted as one past the last pixel; further out the picture was scaled. */
const EDGE_SLACK_PX = 1;

export type UltrasoundFailureCode = ParseFailureCode | 'no-pixel-data' | 'not-ultrasound' | 'image-size-invalid' | 'pixel-format-unsupported' | 'too-many-frames';
export type UltrasoundGapCode = 'regions-missing' | 'region-faulty' | 'patient-missing' | 'lossy-picture' | 'frame-times-missing';

/** One ultrasound picture or loop without its pixels. null: the file does not say. */
export interface UltrasoundRun {
  readonly sopClassUid: string;
  readonly sopInstanceUid: string | null;
  readonly studyUid: string | null;
  readonly seriesUid: string | null;
  readonly seriesNumber: number | null;
  readonly instanceNumber: number | null;
  readonly rows: number;
  readonly columns: number;
  readonly frameCount: number;
  /** From the first frame. */
  readonly frameTimesMs: readonly number[] | null;
  readonly heartRatePerMin: number | null;
  /** In the order of the file; those with a `fault` are kept, so that a trace on them is refused by name. */
  readonly regions: readonly TraceRegion[];
  readonly encoding: PixelEncoding;
  /** Of PALETTE COLOR: red, green and blue, one byte each, from `first` on. */
  readonly palette: { readonly first: number; readonly rgb: Uint8Array } | null;
  readonly isInterleaved: boolean;
  readonly gaps: readonly UltrasoundGapCode[];
}

/**
 * An ultrasound picture or loop with its calibrated regions.
 *
 * Units    regions in cm, s, cm/s per pixel as the file states them
 * Fails    UltrasoundFailureCode
 * Source   PS3.3 C.8.5.5 (regions), C.8.5.6, C.7.6.3; docs/methods/echo.md
 */
export function readUltrasound(bytes: Uint8Array): Result<UltrasoundRun, UltrasoundFailureCode> {
  const parsed = parsePart10(bytes, { sequences: new Set([REGIONS]) });
  if (!parsed.ok) return parsed;
  const { values } = parsed.value;
  const sopClassUid = readUid(values, 'x00080016');
  if (sopClassUid === null || (!ULTRASOUND.has(sopClassUid) && readText(values, 'x00080060')?.toUpperCase() !== 'US')) return fail('not-ultrasound', 'This is no ultrasound picture.', 'Choose a picture or loop of the echo.');
  const encoding = readEncoding(parsed.value);
  if (!encoding.ok) return encoding;
  const { rows, columns, frameCount, photometric } = encoding.value;
  const palette = photometric === 'PALETTE COLOR' ? readPalette(values) : null;
  if (photometric === 'PALETTE COLOR' && palette === null) return fail('pixel-format-unsupported', 'The colour table of the picture cannot be read.', 'Export the picture again from its source.');
  const regions = readItems(values, 'x00186011').slice(0, MAX_REGIONS).map((item) => readRegion(item, rows, columns));
  const rate = readDecimal(values, 'x00181088');
  const frameTimesMs = readTimes(values, frameCount);
  const gaps: UltrasoundGapCode[] = [];
  if (regions.length === 0) gaps.push('regions-missing');
  if (regions.some((r) => r.fault !== null)) gaps.push('region-faulty');
  if (readText(values, 'x00100010') === null && readText(values, 'x00100020') === null) gaps.push('patient-missing');
  if (readText(values, 'x00282110') === '01') gaps.push('lossy-picture');
  if (frameTimesMs === null && frameCount > 1) gaps.push('frame-times-missing');
  return succeed({
    sopClassUid, sopInstanceUid: readUid(values, 'x00080018'), studyUid: readUid(values, 'x0020000d'), seriesUid: readUid(values, 'x0020000e'),
    seriesNumber: readDecimal(values, 'x00200011'), instanceNumber: readDecimal(values, 'x00200013'), rows, columns, frameCount, frameTimesMs,
    heartRatePerMin: rate !== null && rate > 0 ? rate : null, regions, encoding: encoding.value, palette, isInterleaved: (readUint16(values, 'x00280006') ?? 0) === 0, gaps,
  });
}

/** Whom the picture says it is of, to be compared with the case; never kept or logged. null: no DICOM file. */
export function readUltrasoundIdentity(bytes: Uint8Array): PatientIdentity | null {
  const dataset = parsePart10(bytes);
  return dataset.ok ? readIdentity(dataset.value.values) : null;
}

const SPACES: readonly RegionSpace[] = ['none', '2d', 'm-mode', 'spectral', 'waveform', 'graphics'];
const DATA: readonly RegionData[] = ['none', 'tissue', 'colour', 'pulsed', 'continuous', 'doppler-trace', 'doppler-trace', 'doppler-trace', 'volume-trace', 'volume-trace', 'ecg', 'pulse', 'sound', 'bar', 'bar'];
const UNITS: readonly RegionUnit[] = ['none', '%', 'dB', 'cm', 's', 'Hz', 'dB/s', 'cm/s', 'cm2', 'cm2/s', 'cm3', 'cm3/s', 'deg'];
/** Bit 2 of the region flags: the Doppler scale is in frequencies (PS3.3 C.8.5.5.1.3). */
const FREQUENCY_FLAG = 4;

/** One item of the Sequence of Ultrasound Regions (0018,6011). The reference pixel counts from the region's own corner (C.8.5.5.1.10). */
function readRegion(item: DataSet, rows: number, columns: number): TraceRegion {
  const space = SPACES[readUint16(item, 'x00186012') ?? 0] ?? 'none';
  const [left, top, right, bottom] = ['x00186018', 'x0018601a', 'x0018601c', 'x0018601e'].map((tag) => readUint32(item, tag));
  const box = { left: left ?? 0, top: top ?? 0, right: right ?? -1, bottom: bottom ?? -1 };
  const [unitX, unitY] = ['x00186024', 'x00186026'].map((tag) => UNITS[readUint16(item, tag) ?? 0] ?? 'other') as [RegionUnit, RegionUnit];
  const [deltaX, deltaY] = [readDouble(item, 'x0018602c') ?? 0, readDouble(item, 'x0018602e') ?? 0];
  const referenceRow = readInt32(item, 'x00186022');
  const zeroPx = (readDouble(item, 'x0018602a') ?? 0) / (deltaY === 0 ? NaN : deltaY);
  const baselineRow = space === 'spectral' && referenceRow !== null && Number.isFinite(zeroPx) ? box.top + referenceRow - zeroPx : null;
  const isOutside = box.right < box.left || box.bottom < box.top || box.right > columns - 1 + EDGE_SLACK_PX || box.bottom > rows - 1 + EDGE_SLACK_PX;
  const isScaled = unitX !== 'none' && unitY !== 'none' && deltaX !== 0 && deltaY !== 0;
  const isFrequency = space === 'spectral' && (unitY === 'Hz' || ((readUint32(item, 'x00186016') ?? 0) & FREQUENCY_FLAG) !== 0);
  const fault: RegionFaultCode | null = isOutside ? 'region-outside-picture' : isFrequency ? 'region-frequency-scale' : isScaled ? null : 'region-uncalibrated';
  return { space, data: DATA[readUint16(item, 'x00186014') ?? 0] ?? 'other', box, unitX, unitY, deltaX, deltaY, baselineRow, angleDeg: readDouble(item, 'x00186034'), fault };
}

function readInt32(values: DataSet, tag: string): number | null {
  const unsigned = readUint32(values, tag);
  return unsigned === null ? null : unsigned | 0;
}

function readTimes(values: DataSet, frameCount: number): readonly number[] | null {
  const vector = readDecimals(values, 'x00181065');
  if (vector !== null && vector.length === frameCount) {
    let at = 0;
    return vector.map((step, i) => (at += i === 0 ? 0 : step));
  }
  const step = readDecimal(values, 'x00181063');
  return step !== null && step > 0 ? Array.from({ length: frameCount }, (_, i) => i * step) : null;
}

/** Three tables of 8 or 16 bits, equally long (PS3.3 C.7.6.3.1.5); segmented ones are not read. */
function readPalette(values: DataSet): UltrasoundRun['palette'] {
  const tables = (['x00281101', 'x00281102', 'x00281103'] as const).map((descriptor, i) => {
    const element = values.elements[`x0028120${i + 1}`];
    if (element === undefined || (values.elements[descriptor]?.length ?? 0) < 6) return null;
    const [count, first, bits] = [0, 1, 2].map((k) => values.uint16(descriptor, k) ?? 0) as [number, number, number];
    const entries = count === 0 ? 65_536 : count;
    const width = bits > 8 && element.length >= entries * 2 ? 2 : 1;
    if (element.length < entries * width || element.length === 0xffffffff || element.dataOffset + entries * width > values.byteArray.length) return null;
    const levels = Uint8Array.from({ length: Math.min(entries, 256) }, (_, k) => (width === 2 ? (values.uint16(`x0028120${i + 1}`, k) ?? 0) >> 8 : values.byteArray[element.dataOffset + k]!));
    return { first, levels };
  });
  const [red, green, blue] = tables;
  if (!red || !green || !blue || red.levels.length !== green.levels.length || red.levels.length !== blue.levels.length) return null;
  const rgb = new Uint8Array(3 * red.levels.length);
  for (let k = 0; k < red.levels.length; k++) rgb.set([red.levels[k]!, green.levels[k]!, blue.levels[k]!], 3 * k);
  return { first: red.first, rgb };
}

const COLOURS: Readonly<Record<string, 1 | 3>> = { MONOCHROME1: 1, MONOCHROME2: 1, 'PALETTE COLOR': 1, RGB: 3, YBR_FULL: 3, YBR_FULL_422: 3, YBR_PARTIAL_420: 3, YBR_ICT: 3, YBR_RCT: 3 };

function readEncoding(dataset: DicomDataset): Result<PixelEncoding, UltrasoundFailureCode> {
  const { values, pixelData } = dataset;
  if (pixelData === null) return fail('no-pixel-data', 'The file holds no picture.', 'Choose the picture itself, not a report about it.');
  const photometric = readText(values, 'x00280004')?.toUpperCase() ?? '';
  const samplesPerPixel = readUint16(values, 'x00280002') ?? 1;
  const bitsAllocated = readUint16(values, 'x00280100') ?? 0;
  const bitsStored = readUint16(values, 'x00280101') ?? bitsAllocated;
  const [rows, columns] = [readUint16(values, 'x00280010') ?? 0, readUint16(values, 'x00280011') ?? 0];
  if (!(rows >= 16 && columns >= 16 && rows <= MAX_SIDE && columns <= MAX_SIDE)) return fail('image-size-invalid', `The header states ${rows} rows and ${columns} columns.`, 'Export the picture again from its source.', { rows, columns });
  const isSound = Object.hasOwn(COLOURS, photometric) && COLOURS[photometric] === samplesPerPixel && bitsAllocated === 8 && bitsStored === 8 && (readUint16(values, 'x00280103') ?? 0) === 0;
  if (!isSound || dataset.transferSyntaxUid === EXPLICIT_BIG) return fail('pixel-format-unsupported', `Pixels of ${samplesPerPixel} samples with ${bitsStored} of ${bitsAllocated} bits are not read; 8 bits of grey or colour are.`, 'Export the picture again from its source.', { samplesPerPixel, bitsAllocated, bitsStored });
  const frameCount = readDecimal(values, 'x00280008') ?? 1;
  // Of every four samples of a row two are shared where colour is halved.
  const samples = photometric === 'YBR_FULL_422' ? 2 : samplesPerPixel;
  const room = pixelData.length === null ? Math.floor(dataset.fileLength / 8) : Math.floor(pixelData.length / (rows * columns * samples));
  if (!(Number.isInteger(frameCount) && frameCount >= 1 && frameCount <= MAX_FRAMES && frameCount <= room)) return fail('too-many-frames', `The header states ${frameCount} frames; there is room for ${room}.`, 'Export the picture again from its source.', { frames: frameCount, room });
  return succeed({
    transferSyntaxUid: dataset.transferSyntaxUid, rows, columns, frameCount, samplesPerPixel, photometric, bitsAllocated, bitsStored, highBit: 7, isSigned: false, paddingStored: null, paddingLimitStored: null, pixelData,
  });
}
