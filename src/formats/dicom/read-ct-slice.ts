import type { DataSet } from 'dicom-parser';
import { fail, succeed, type Result } from '../../core/result.ts';
import { lpsPoint, lpsVector, type LpsVector } from '../../core/units/frames.ts';
import { dot, norm, scale, sub, type Vec3 } from '../../core/math/vec3.ts';
import type { CtSliceHeader, HeaderFailureCode, HeaderGapCode, PixelEncoding } from './dicom-types.ts';
import type { DicomDataset } from './parse-part10.ts';
import { readPhase } from './read-phase.ts';
import {
  readDecimal,
  readDecimals,
  readDouble,
  readItem,
  readItems,
  readLocalText,
  readText,
  readTexts,
  readUid,
  readUint16,
  readUint32,
} from './read-values.ts';

/** CT Image, Enhanced CT Image, Legacy Converted Enhanced CT Image (PS3.4 B.5). */
const CT_CLASSES: ReadonlySet<string> = new Set([
  '1.2.840.10008.5.1.4.1.1.2',
  '1.2.840.10008.5.1.4.1.1.2.1',
  '1.2.840.10008.5.1.4.1.1.2.2',
]);
const MAX_SIDE = 16384;
const MAX_FRAME_PIXELS = 1 << 26;
const MAX_FRAMES = 16384;
/** Below 10 bits a stored step is several HU over the range a root needs: too coarse to measure on. */
const MIN_BITS_STORED = 10;
/** Departure of the two directions from unit length and right angle that rounding of decimal strings explains. */
const DIRECTION_TOLERANCE = 0.01;

/**
 * The headers of all frames in a data set: one for a classic CT slice, one per frame for an enhanced object (shared
 * functional groups, overruled by per-frame ones).
 *
 * Fails   no-pixel-data, not-ct, not-greyscale, image-size-invalid, pixel-format-unsupported, too-many-frames
 * Source  DICOM PS3.3 C.7.6.2, C.7.6.3, C.7.6.16, C.8.2.1, C.8.15; docs/methods/dicom-intake.md
 */
export function readCtSlices(dataset: DicomDataset): Result<readonly CtSliceHeader[], HeaderFailureCode> {
  const encoding = readEncoding(dataset);
  if (!encoding.ok) return encoding;
  const { values } = dataset;
  const shared = readItem(values, 'x52009229');
  const perFrame = readItems(values, 'x52009230');
  const headers: CtSliceHeader[] = [];
  for (let frame = 0; frame < encoding.value.frameCount; frame++) {
    const own = perFrame[frame];
    const groups = [own, shared].filter((group): group is DataSet => group != null);
    headers.push(readFrameHeader(dataset, encoding.value, frame, groups));
  }
  return succeed(headers);
}

function readEncoding(dataset: DicomDataset): Result<PixelEncoding, HeaderFailureCode> {
  const { values, pixelData } = dataset;
  const modality = readModality(values);
  const isCt = modality === 'CT' || (modality === null && CT_CLASSES.has(readUid(values, 'x00080016') ?? ''));
  if (pixelData === null) {
    return fail(
      'no-pixel-data',
      'The object holds no picture of the kind a CT slice has.',
      'Leave it out; it is a report, plan or other object.',
      { modality: modality ?? 'not stated' },
    );
  }
  if (!isCt) {
    return fail(
      'not-ct',
      `The picture is of modality ${modality ?? 'not stated'}, not CT.`,
      'Choose a CT series.',
      { modality: modality ?? 'not stated' },
    );
  }
  const samplesPerPixel = readUint16(values, 'x00280002') ?? 1;
  const photometric = readText(values, 'x00280004') ?? 'MONOCHROME2';
  if (samplesPerPixel !== 1 || !/^MONOCHROME[12]$/.test(photometric)) {
    return fail(
      'not-greyscale',
      `The picture has ${samplesPerPixel} samples per pixel or is in colour.`,
      'Choose the original CT series, not a screen copy.',
      { samplesPerPixel },
    );
  }
  const rows = readUint16(values, 'x00280010') ?? 0;
  const columns = readUint16(values, 'x00280011') ?? 0;
  if (!(
    rows >= 1 &&
    columns >= 1 &&
    rows <= MAX_SIDE &&
    columns <= MAX_SIDE &&
    rows * columns <= MAX_FRAME_PIXELS
  )) {
    return fail(
      'image-size-invalid',
      `The header states ${rows} rows and ${columns} columns.`,
      'Export the series again from its source.',
      { rows, columns },
    );
  }
  const bitsAllocated = readUint16(values, 'x00280100') ?? 0;
  const bitsStored = readUint16(values, 'x00280101') ?? bitsAllocated;
  const highBit = readUint16(values, 'x00280102') ?? bitsStored - 1;
  const pixelRepresentation = readUint16(values, 'x00280103') ?? 0;
  const isSound =
    bitsAllocated === 16 &&
    bitsStored >= MIN_BITS_STORED &&
    bitsStored <= 16 &&
    highBit >= bitsStored - 1 &&
    highBit <= 15 &&
    pixelRepresentation <= 1;
  if (!isSound) {
    return fail(
      'pixel-format-unsupported',
      `Pixels of ${bitsStored} bits in ${bitsAllocated} cannot be measured on; ${MIN_BITS_STORED} to 16 bits in 16 are.`,
      'Export the original CT series, not an 8-bit copy.',
      { bitsAllocated, bitsStored, highBit },
    );
  }
  const stated = readDecimal(values, 'x00280008') ?? 1;
  const frameBytes = rows * columns * 2;
  const room =
    pixelData.length === null
      ? Math.floor(dataset.fileLength / 8)
      : Math.floor(pixelData.length / frameBytes);
  if (!(Number.isInteger(stated) && stated >= 1 && stated <= MAX_FRAMES && (stated <= room || room === 0))) {
    return fail(
      'too-many-frames',
      `The header states ${stated} frames; there is room for ${room}.`,
      'Export the series again from its source.',
      { frames: stated, room },
    );
  }
  const isSigned = pixelRepresentation === 1;
  return succeed({
    transferSyntaxUid: dataset.transferSyntaxUid,
    rows,
    columns,
    frameCount: stated,
    samplesPerPixel,
    photometric,
    bitsAllocated,
    bitsStored,
    highBit,
    isSigned,
    paddingStored: readPadding(values, 'x00280120', isSigned),
    paddingLimitStored: readPadding(values, 'x00280121', isSigned),
    pixelData,
  });
}

/** The VR of the padding value is US or SS; writers mix them up, so the bits are read by PixelRepresentation. */
function readPadding(values: DataSet, tag: string, isSigned: boolean): number | null {
  const raw = readUint16(values, tag);
  return raw !== null && isSigned ? (raw << 16) >> 16 : raw;
}

/** Code strings only: anything else could carry text of the file into a message. */
function readModality(values: DataSet): string | null {
  const text = readText(values, 'x00080060');
  return text !== null && /^[A-Z]{2,16}$/.test(text) ? text : null;
}

function readFrameHeader(
  dataset: DicomDataset,
  encoding: PixelEncoding,
  frameIndex: number,
  groups: readonly DataSet[],
): CtSliceHeader {
  const { values } = dataset;
  const gaps: HeaderGapCode[] = [];
  const need = <T>(value: T | null, gap: HeaderGapCode): T | null => {
    if (value === null) gaps.push(gap);
    return value;
  };
  /** A value from the named functional group of this frame, then of all frames, then from the top level. */
  const inGroup = <T>(group: string, read: (at: DataSet) => T | null): T | null => {
    for (const holder of groups) {
      const item = readItem(holder, group);
      const value = item === null ? null : read(item);
      if (value !== null) return value;
    }
    return read(values);
  };
  /** Legacy-converted objects keep what has no group of its own in the "unassigned" sequences. */
  const inUnassigned = <T>(read: (at: DataSet) => T | null): T | null => {
    for (const tag of ['x00209171', 'x00209170']) {
      for (const holder of groups) {
        const item = readItem(holder, tag);
        const value = item === null ? null : read(item);
        if (value !== null) return value;
      }
    }
    return read(values);
  };

  const position = inGroup('x00209113', (at) => readTriple(at, 'x00200032'));
  const directions = readDirections(
    inGroup('x00209116', (at) => readDecimals(at, 'x00200037')),
    gaps,
  );
  const spacing = inGroup('x00289110', (at) => readSpacing(at));
  const thickness = inGroup('x00289110', (at) => readPositive(at, 'x00180050'));
  const slope = inGroup('x00289145', (at) => readDecimal(at, 'x00281053'));
  const intercept = inGroup('x00289145', (at) => readDecimal(at, 'x00281052'));
  const rescaleType = inGroup('x00289145', (at) => readText(at, 'x00281054'));
  const hasRescale = slope !== null && slope !== 0 && intercept !== null;
  if (!hasRescale) gaps.push('rescale-missing');
  if (rescaleType !== null && rescaleType.toUpperCase() !== 'HU') gaps.push('rescale-not-hu');
  const phase = readPhase(values, groups);
  if (phase.phasePercent === null) gaps.push('phase-missing');
  if (position === null) gaps.push('position-missing');
  if (!dataset.hasMetaHeader) gaps.push('meta-header-missing');
  if (dataset.isTransferSyntaxGuessed) gaps.push('transfer-syntax-guessed');

  return {
    sopClassUid: readUid(values, 'x00080016'),
    sopInstanceUid: need(readUid(values, 'x00080018'), 'instance-uid-missing'),
    studyUid: readUid(values, 'x0020000d'),
    seriesUid: need(readUid(values, 'x0020000e'), 'series-uid-missing'),
    frameOfReferenceUid: need(readUid(values, 'x00200052'), 'frame-of-reference-missing'),
    modality: readModality(values),
    imageType: readImageType(values, groups),
    patientKey: need(readPatientKey(values), 'patient-missing'),
    patientSex: readSex(values),
    patientPosition: readCode(values, 'x00185100'),
    frameIndex,
    frameCount: encoding.frameCount,
    rows: encoding.rows,
    columns: encoding.columns,
    pixelSpacingMm: need(spacing, 'pixel-spacing-missing'),
    sliceThicknessMm: need(thickness, 'slice-thickness-missing'),
    spacingBetweenSlicesMm: inGroup('x00289110', (at) => readPositive(at, 'x00180088')),
    positionLps: position === null ? null : lpsPoint(...position),
    rowDirLps: directions === null ? null : directions.row,
    columnDirLps: directions === null ? null : directions.column,
    gantryTiltDeg: inGroup('x00189304', (at) => readDecimal(at, 'x00181120') ?? readDouble(at, 'x00181120')),
    sliceLocationMm: inUnassigned((at) => readDecimal(at, 'x00201041')),
    rescaleSlope: hasRescale ? slope : 1,
    rescaleIntercept: hasRescale ? intercept : 0,
    rescaleType,
    encoding,
    ...phase,
    acquisitionTime: readTime(values),
    acquisitionNumber:
      inGroup('x00209111', (at) => readUint16(at, 'x00209156')) ??
      inUnassigned((at) => readDecimal(at, 'x00200012')),
    temporalPositionIndex:
      inGroup('x00209111', (at) => readUint32(at, 'x00209128')) ?? readDecimal(values, 'x00200100'),
    seriesDescription: readLocalText(values, 'x0008103e'),
    seriesNumber: readDecimal(values, 'x00200011'),
    instanceNumber: inUnassigned((at) => readDecimal(at, 'x00200013')),
    kernel: inGroup('x00189314', (at) => readTexts(at, 'x00181210').join('/') || null),
    kvp: inGroup('x00189325', (at) => readDecimal(at, 'x00180060')),
    isContrastDeclared: readContrast(values, groups),
    bodyPart: readCode(values, 'x00180015'),
    isLossyCompressed: readLossy(values),
    gaps,
  };
}

function readTriple(at: DataSet, tag: string): Vec3 | null {
  const numbers = readDecimals(at, tag);
  return numbers !== null && numbers.length === 3 ? [numbers[0]!, numbers[1]!, numbers[2]!] : null;
}

function readSpacing(at: DataSet): readonly [number, number] | null {
  const numbers = readDecimals(at, 'x00280030');
  return numbers !== null && numbers.length === 2 && numbers[0]! > 0 && numbers[1]! > 0
    ? [numbers[0]!, numbers[1]!]
    : null;
}

function readPositive(at: DataSet, tag: string): number | null {
  const value = readDecimal(at, tag);
  return value !== null && value > 0 ? value : null;
}

/** Two directions, made exactly orthonormal when they are so within rounding; the reason is added to `gaps` if not. */
function readDirections(
  numbers: readonly number[] | null,
  gaps: HeaderGapCode[],
): { row: LpsVector; column: LpsVector } | null {
  if (numbers === null || numbers.length !== 6) {
    gaps.push('orientation-missing');
    return null;
  }
  const row: Vec3 = [numbers[0]!, numbers[1]!, numbers[2]!];
  const column: Vec3 = [numbers[3]!, numbers[4]!, numbers[5]!];
  const isSound =
    Math.abs(norm(row) - 1) <= DIRECTION_TOLERANCE &&
    Math.abs(norm(column) - 1) <= DIRECTION_TOLERANCE &&
    Math.abs(dot(row, column)) <= DIRECTION_TOLERANCE;
  if (!isSound) {
    gaps.push('orientation-not-orthonormal');
    return null;
  }
  const unitRow = scale(row, 1 / norm(row));
  const square = sub(column, scale(unitRow, dot(column, unitRow)));
  return { row: lpsVector(...unitRow), column: lpsVector(...scale(square, 1 / norm(square))) };
}

function readImageType(values: DataSet, groups: readonly DataSet[]): readonly string[] {
  for (const group of groups) {
    const item = readItem(group, 'x00189329');
    const frameType = item === null ? [] : readTexts(item, 'x00089007');
    if (frameType.length > 0) return frameType;
  }
  return readTexts(values, 'x00080008');
}

/** Same person, same string: case, blanks and empty name components do not count. */
function readPatientKey(values: DataSet): string | null {
  const parts = ['x00100020', 'x00100010', 'x00100030'].map((tag) =>
    (readText(values, tag) ?? '')
      .toUpperCase()
      .replace(/\s+/g, ' ')
      .replace(/[\s^=]+$/, ''),
  );
  return parts.every((part) => part === '') ? null : parts.join('\u0001');
}

function readSex(values: DataSet): 'F' | 'M' | 'O' | null {
  const code = readText(values, 'x00100040');
  return code === 'F' || code === 'M' || code === 'O' ? code : null;
}

function readCode(values: DataSet, tag: string): string | null {
  const text = readText(values, tag);
  return text !== null && /^[A-Z0-9_ -]{1,32}$/.test(text) ? text : null;
}

function readTime(values: DataSet): string | null {
  for (const tag of ['x00080032', 'x0008002a', 'x00189074']) {
    const text = readText(values, tag);
    if (text !== null && /^[0-9.+-]{2,26}$/.test(text)) return text;
  }
  return null;
}

function readContrast(values: DataSet, groups: readonly DataSet[]): boolean | null {
  for (const group of groups) {
    for (const usage of readItems(group, 'x00189341')) {
      const administered = readText(usage, 'x00189342');
      if (administered !== null) return administered === 'YES';
    }
  }
  if (readItems(values, 'x00180012').length > 0) return true;
  const agent = readText(values, 'x00180010');
  return agent === null ? null : !/^(no|none|n|0|without)\b/i.test(agent);
}

function readLossy(values: DataSet): boolean | null {
  const code = readText(values, 'x00282110');
  return code === '01' ? true : code === '00' ? false : null;
}
