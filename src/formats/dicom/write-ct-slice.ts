import type { CtVolume } from '../../core/volume/volume-types.ts';
import { decimals, type WritableElement } from './write-elements.ts';
import { makeDerivedUid } from './write-derived-uid.ts';
import { writePart10, type WriteSyntax } from './write-part10.ts';

const CT_IMAGE = '1.2.840.10008.5.1.4.1.1.2';
export const TRAINING_NAME = 'TRAINING^PHANTOM';
export const TRAINING_NOTE = 'TRAINING, invented sizes';
export const EXPLICIT_LITTLE: WriteSyntax = { kind: 'explicit-little' };

/** What the header of a drawn series says beyond its grid. All of it is invented. */
export interface CtSeriesLabels {
  /** Study, patient and frame of reference follow from it. */
  readonly seed: number;
  readonly seriesNumber: number;
  /** Another frame of reference of the same seed, for series that were not taken together. */
  readonly frameNumber?: number;
  readonly seriesDescription: string;
  readonly sliceThicknessMm: number;
  readonly gantryTiltDeg: number;
  /** Percent of the R-R interval; null = not gated. */
  readonly phasePercent: number | null;
  readonly isContrast: boolean;
  readonly kvp: number;
  readonly kernel: string;
  /** Stored values: 12 bit unsigned with intercept -1024, or 16 bit signed HU. */
  readonly stored: 'unsigned-12' | 'signed-16';
}

export interface StoredPixels {
  readonly pixels: Uint16Array | Int16Array;
  readonly intercept: number;
  readonly describe: readonly WritableElement[];
}

/** HU to stored values, clipped to the range of 12 bits where that is asked for. */
export function storePixels(hu: Int16Array, stored: CtSeriesLabels['stored']): StoredPixels {
  const isSigned = stored === 'signed-16';
  const describe: readonly WritableElement[] = [
    { tag: 0x00280100, vr: 'US', value: 16 },
    { tag: 0x00280101, vr: 'US', value: isSigned ? 16 : 12 },
    { tag: 0x00280102, vr: 'US', value: isSigned ? 15 : 11 },
    { tag: 0x00280103, vr: 'US', value: isSigned ? 1 : 0 },
  ];
  if (isSigned) return { pixels: hu, intercept: 0, describe };
  return { pixels: Uint16Array.from(hu, (v) => Math.min(4095, Math.max(0, v + 1024))), intercept: -1024, describe };
}

export interface GridWords {
  readonly orientation: string;
  readonly pixelSpacing: string;
  readonly positionOf: (slice: number) => string;
  /** Along the normal of the slices, from the patient origin. */
  readonly locationOf: (slice: number) => number;
}

/** Orientation, spacing and positions as a header states them; a tilted gantry's positions step along the table. */
export function describeGrid(volume: CtVolume): GridWords {
  const r = volume.lpsFromVoxel.rows;
  const column = (c: number): readonly [number, number, number] => [r[c]!, r[4 + c]!, r[8 + c]!];
  const [row, down, step] = [column(0), column(1), column(2)];
  const rowMm = Math.hypot(...row);
  const downMm = Math.hypot(...down);
  const x = row.map((v) => v / rowMm);
  const y = down.map((v) => v / downMm);
  const at = (k: number): readonly number[] => [0, 1, 2].map((i) => r[i * 4 + 3]! + step[i]! * k);
  const normal = [x[1]! * y[2]! - x[2]! * y[1]!, x[2]! * y[0]! - x[0]! * y[2]!, x[0]! * y[1]! - x[1]! * y[0]!];
  return {
    orientation: decimals([...x, ...y].map((v) => Number(v.toFixed(12)))),
    pixelSpacing: decimals([downMm, rowMm]),
    positionOf: (k) => decimals(at(k)),
    locationOf: (k) => at(k).reduce((t, v, i) => t + v * normal[i]!, 0),
  };
}

/** Patient, study, frame of reference and equipment; the same for every series of one seed. */
export function describeTrainingStudy(labels: CtSeriesLabels): readonly WritableElement[] {
  const { seed } = labels;
  return [
    { tag: 0x00080005, vr: 'CS', value: 'ISO_IR 100' },
    { tag: 0x00080020, vr: 'DA', value: '20200101' },
    { tag: 0x00080021, vr: 'DA', value: '20200101' },
    { tag: 0x00080023, vr: 'DA', value: '20200101' },
    { tag: 0x00080030, vr: 'TM', value: '120000' },
    { tag: 0x00080031, vr: 'TM', value: '120000' },
    { tag: 0x00080033, vr: 'TM', value: '120000' },
    { tag: 0x00080050, vr: 'SH', value: '' },
    { tag: 0x00080060, vr: 'CS', value: 'CT' },
    { tag: 0x00080070, vr: 'LO', value: 'Trinadir training data' },
    { tag: 0x00080090, vr: 'PN', value: '' },
    { tag: 0x0008103e, vr: 'LO', value: labels.seriesDescription.slice(0, 64) },
    { tag: 0x00081090, vr: 'LO', value: 'Analytic phantom' },
    { tag: 0x00100010, vr: 'PN', value: TRAINING_NAME },
    { tag: 0x00100020, vr: 'LO', value: `TRAINING-${seed}` },
    { tag: 0x00100030, vr: 'DA', value: '' },
    { tag: 0x00100040, vr: 'CS', value: 'O' },
    { tag: 0x00180015, vr: 'CS', value: 'HEART' },
    { tag: 0x00185100, vr: 'CS', value: 'HFS' },
    { tag: 0x0020000d, vr: 'UI', value: makeDerivedUid('study', seed) },
    { tag: 0x0020000e, vr: 'UI', value: makeDerivedUid('series', seed, labels.seriesNumber) },
    { tag: 0x00200010, vr: 'SH', value: '1' },
    { tag: 0x00200011, vr: 'IS', value: labels.seriesNumber },
    { tag: 0x00200052, vr: 'UI', value: labels.frameNumber === undefined ? makeDerivedUid('frame', seed) : makeDerivedUid('frame', seed, labels.frameNumber) },
    { tag: 0x00201040, vr: 'LO', value: '' },
    { tag: 0x00204000, vr: 'LT', value: TRAINING_NOTE },
  ];
}

/**
 * One slice of a drawn volume as a CT Image Storage file. Everything in it is invented and says so.
 * Frame     positions and orientation from the volume's affine, LPS mm; the affine may be sheared (tilted gantry)
 * Source    PS3.3 A.3 (CT image), C.7.6.2 (plane), C.8.2.1 (CT)
 */
export function writeCtSlice(volume: CtVolume, slice: number, labels: CtSeriesLabels, syntax: WriteSyntax = EXPLICIT_LITTLE): Uint8Array {
  const [nx, ny] = volume.dims;
  const grid = describeGrid(volume);
  const { pixels, intercept, describe } = storePixels(volume.samplesHu.subarray(slice * nx * ny, (slice + 1) * nx * ny), labels.stored);
  const sopInstanceUid = makeDerivedUid('instance', labels.seed, labels.seriesNumber, slice);
  const dataset: WritableElement[] = [
    ...describeTrainingStudy(labels),
    ...describe,
    { tag: 0x00080008, vr: 'CS', value: 'ORIGINAL\\PRIMARY\\AXIAL' },
    { tag: 0x00080016, vr: 'UI', value: CT_IMAGE },
    { tag: 0x00080018, vr: 'UI', value: sopInstanceUid },
    { tag: 0x00180050, vr: 'DS', value: labels.sliceThicknessMm },
    { tag: 0x00180060, vr: 'DS', value: labels.kvp },
    { tag: 0x00181120, vr: 'DS', value: labels.gantryTiltDeg },
    { tag: 0x00181210, vr: 'SH', value: labels.kernel },
    { tag: 0x00200012, vr: 'IS', value: 1 },
    { tag: 0x00200013, vr: 'IS', value: slice + 1 },
    { tag: 0x00200032, vr: 'DS', value: grid.positionOf(slice) },
    { tag: 0x00200037, vr: 'DS', value: grid.orientation },
    { tag: 0x00201041, vr: 'DS', value: grid.locationOf(slice) },
    { tag: 0x00280002, vr: 'US', value: 1 },
    { tag: 0x00280004, vr: 'CS', value: 'MONOCHROME2' },
    { tag: 0x00280010, vr: 'US', value: ny },
    { tag: 0x00280011, vr: 'US', value: nx },
    { tag: 0x00280030, vr: 'DS', value: grid.pixelSpacing },
    { tag: 0x00281050, vr: 'DS', value: 200 },
    { tag: 0x00281051, vr: 'DS', value: 800 },
    { tag: 0x00281052, vr: 'DS', value: intercept },
    { tag: 0x00281053, vr: 'DS', value: 1 },
    { tag: 0x00281054, vr: 'LO', value: 'HU' },
  ];
  if (labels.isContrast) dataset.push({ tag: 0x00180010, vr: 'LO', value: 'Invented contrast' });
  if (labels.phasePercent !== null) dataset.push({ tag: 0x00209241, vr: 'FL', value: labels.phasePercent });
  return writePart10(dataset, pixels, 1, { sopClassUid: CT_IMAGE, sopInstanceUid }, syntax);
}
