import type { DataSet } from 'dicom-parser';
import { isCameraView, type CameraView } from '../../core/projection/camera-view.ts';
import type { FrameCalibration } from '../../core/projection/depth-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { DecodeFailureCode, FrameCodecs, PixelEncoding, StoredValues } from './dicom-types.ts';
import { decodeFrameIn, openPixelBytes } from './decode-frame.ts';
import type { DicomDataset } from './parse-part10.ts';
import { readDecimal, readDecimals, readText, readUid, readUint16 } from './read-values.ts';

/** X-Ray Angiographic Image, and the radiofluoroscopic one that some rooms store (PS3.4 B.5). */
const XA_CLASSES: ReadonlySet<string> = new Set(['1.2.840.10008.5.1.4.1.1.12.1', '1.2.840.10008.5.1.4.1.1.12.2']);
const ENHANCED_CLASSES: ReadonlySet<string> = new Set(['1.2.840.10008.5.1.4.1.1.12.1.1', '1.2.840.10008.5.1.4.1.1.12.2.1']);
const EXPLICIT_BIG = '1.2.840.10008.1.2.2';
const MAX_SIDE = 4096;
const MAX_FRAMES = 4096;
/** Source to isocentre and to detector of a cardiac C-arm where only the magnification is stated: divergence alone rests on it [M]. */
const USUAL_MM = { sourceToPatient: 750, sourceToImage: 1100 } as const;

export type XaFailureCode =
  | 'no-pixel-data'
  /** A picture, but no angiographic or fluoroscopic run. */
  | 'not-xa'
  /** Enhanced XA/XRF: another object, not read here. */
  | 'xa-enhanced'
  | 'not-greyscale'
  | 'image-size-invalid'
  | 'pixel-format-unsupported'
  | 'too-many-frames';
export type XaGeometryFailureCode = 'frame-number-invalid' | 'positioner-angles-missing' | 'frame-uncalibrated';
export type XaGapCode = 'positioner-angles-missing' | 'angle-increments-unusable' | 'distances-missing' | 'imager-spacing-missing' | 'pixels-not-square' | 'patient-missing';

/** One run of fluoroscopy or cine without its pixels. null: the file does not say. */
export interface XaRun {
  readonly sopInstanceUid: string | null;
  readonly studyUid: string | null;
  readonly seriesUid: string | null;
  readonly seriesNumber: number | null;
  readonly instanceNumber: number | null;
  /** HFS, ... (0018,5100). Positioner angles are relative to the patient whatever it says. */
  readonly patientPosition: string | null;
  readonly rows: number;
  readonly columns: number;
  readonly frameCount: number;
  /** Angle of each frame: the first one's, with the increments of a moving positioner. */
  readonly views: readonly (CameraView | null)[];
  /** (0018,1110) and (0018,1111). */
  readonly sourceToImageMm: number | null;
  readonly sourceToPatientMm: number | null;
  /** (0018,1114). */
  readonly magnification: number | null;
  /** (0018,1164), at the detector. */
  readonly imagerPixelMm: number | null;
  /** (0028,0030) where (0028,0A02) says it was calibrated. */
  readonly calibratedPixelMm: number | null;
  readonly calibratedBy: 'geometry' | 'fiducial' | null;
  /** From the first frame, ms; null when the file has no frame times. */
  readonly frameTimesMs: readonly number[] | null;
  readonly window: { readonly centre: number; readonly width: number } | null;
  /** MONOCHROME1: the smallest value is white. */
  readonly isInverted: boolean;
  readonly encoding: PixelEncoding;
  readonly gaps: readonly XaGapCode[];
}

/**
 * Header of an X-ray angiographic run.
 *
 * Frame     angles as PS3.3 C.8.7.5.1.2; frames with a moving positioner follow C.8.7.5.1.3: one increment is the mean step
 *           per frame, a vector holds offsets from the stated angle
 * Fails     no-pixel-data, not-xa, xa-enhanced, not-greyscale, image-size-invalid, pixel-format-unsupported, too-many-frames
 * Source    PS3.3 C.8.7 and A.14; tags checks DX-10; docs/methods/depth.md
 */
export function readXa(dataset: DicomDataset): Result<XaRun, XaFailureCode> {
  const { values } = dataset;
  const sopClassUid = readUid(values, 'x00080016');
  if (sopClassUid !== null && ENHANCED_CLASSES.has(sopClassUid)) return fail('xa-enhanced', 'This is an enhanced X-ray object, which is not read here.', 'Export the run as a classic XA image, or enter the marks with the angles of the frame by hand.');
  if (sopClassUid === null || !XA_CLASSES.has(sopClassUid)) return fail('not-xa', 'This is no X-ray angiographic run.', 'Choose a fluoroscopy or cine run of the C-arm.');
  const encoding = readEncoding(dataset);
  if (!encoding.ok) return encoding;
  const { rows, columns, frameCount } = encoding.value;
  const gaps: XaGapCode[] = [];
  const views = readViews(values, frameCount, gaps);
  const positive = (tag: string): number | null => {
    const v = readDecimal(values, tag);
    return v !== null && v > 0 ? v : null;
  };
  const sourceToImageMm = positive('x00181110');
  const sourceToPatientMm = positive('x00181111');
  const magnification = positive('x00181114');
  const imagerPixelMm = readSquare(values, 'x00181164', gaps);
  const calibration = readText(values, 'x00280a02')?.toUpperCase();
  const calibratedBy = calibration === 'GEOMETRY' ? 'geometry' : calibration === 'FIDUCIAL' ? 'fiducial' : null;
  const calibratedPixelMm = calibratedBy === null ? null : readSquare(values, 'x00280030', gaps);
  if (imagerPixelMm === null && calibratedPixelMm === null) gaps.push('imager-spacing-missing');
  if (sourceToImageMm === null || sourceToPatientMm === null) gaps.push('distances-missing');
  if (readText(values, 'x00100010') === null && readText(values, 'x00100020') === null) gaps.push('patient-missing');
  const [centre, width] = [readDecimal(values, 'x00281050'), readDecimal(values, 'x00281051')];
  return succeed({
    sopInstanceUid: readUid(values, 'x00080018'), studyUid: readUid(values, 'x0020000d'), seriesUid: readUid(values, 'x0020000e'),
    seriesNumber: readDecimal(values, 'x00200011'), instanceNumber: readDecimal(values, 'x00200013'), patientPosition: readText(values, 'x00185100'),
    rows, columns, frameCount, views, sourceToImageMm, sourceToPatientMm, magnification, imagerPixelMm, calibratedPixelMm, calibratedBy,
    frameTimesMs: readTimes(values, frameCount), window: centre !== null && width !== null && width > 0 ? { centre, width } : null,
    isInverted: encoding.value.photometric === 'MONOCHROME1', encoding: encoding.value, gaps: [...new Set(gaps)],
  });
}

/**
 * View, calibration and size of one frame (number from 1), as measureDepth takes them.
 * Equation  pixel at the detector, SID and SOD; SOD from SID / magnification where only that is stated; else a calibrated
 *           pixel spacing, which holds at the depth of what it was calibrated on
 * Fails     frame-number-invalid, positioner-angles-missing, frame-uncalibrated
 */
export function readFrameGeometry(run: XaRun, frameNumber: number): Result<{ readonly view: CameraView; readonly calibration: FrameCalibration; readonly sizePx: { readonly columns: number; readonly rows: number } }, XaGeometryFailureCode> {
  if (!Number.isInteger(frameNumber) || frameNumber < 1 || frameNumber > run.frameCount) return fail('frame-number-invalid', `The run has ${run.frameCount} frames.`, 'Choose one of its frames.', { frames: run.frameCount });
  const view = run.views[frameNumber - 1] ?? null;
  if (view === null) return fail('positioner-angles-missing', 'The run does not say at which angles this frame was taken.', 'Enter the primary and secondary angle as the C-arm showed them.');
  const sizePx = { columns: run.columns, rows: run.rows };
  const calibration = findCalibration(run);
  if (calibration === null) return fail('frame-uncalibrated', 'The run does not say how large a pixel is.', 'Mark a length of known size in the picture: a catheter or the frame.');
  return succeed({ view, calibration, sizePx });
}

/** Scale of a run whose angles may be missing; null: the file does not say how large a pixel is. */
export function findCalibration(run: XaRun): FrameCalibration | null {
  const { imagerPixelMm, magnification } = run;
  const far = run.sourceToImageMm ?? (run.sourceToPatientMm !== null && magnification !== null ? run.sourceToPatientMm * magnification : null);
  const near = run.sourceToPatientMm ?? (far !== null && magnification !== null ? far / magnification : null);
  if (imagerPixelMm !== null && far !== null && near !== null && far > near) return { by: 'geometry', sourceToImageMm: far, sourceToPatientMm: near, pixelMm: imagerPixelMm, pixelAt: 'detector' };
  const distances = far !== null && near !== null && far > near ? { sourceToImageMm: far, sourceToPatientMm: near } : { sourceToImageMm: USUAL_MM.sourceToImage, sourceToPatientMm: USUAL_MM.sourceToPatient };
  if (run.calibratedPixelMm !== null) return { by: 'geometry', ...distances, pixelMm: run.calibratedPixelMm, pixelAt: 'isocentre' };
  if (imagerPixelMm !== null && magnification !== null && magnification > 1) return { by: 'geometry', ...distances, pixelMm: imagerPixelMm / magnification, pixelAt: 'isocentre' };
  return null;
}

/**
 * Stored values of one frame (number from 1) out of the bytes of the whole file.
 * Fails     as decodeFrame; lossy JPEG among them (transfer-syntax-lossy)
 */
export function decodeXaFrame(fileBytes: Uint8Array, run: XaRun, frameNumber: number, codecs: FrameCodecs): Result<StoredValues, DecodeFailureCode | 'frame-number-invalid'> {
  if (!Number.isInteger(frameNumber) || frameNumber < 1 || frameNumber > run.frameCount) return fail('frame-number-invalid', `The run has ${run.frameCount} frames.`, 'Choose one of its frames.', { frames: run.frameCount });
  const bytes = openPixelBytes(fileBytes, run.encoding);
  return bytes.ok ? decodeFrameIn(bytes.value, { encoding: run.encoding, frameIndex: frameNumber - 1 }, codecs) : bytes;
}

/** A frame as 8 bit grey for the screen: the run's own window, or the 1 to 99 % range of its values. */
export function paintXaFrame(stored: StoredValues, run: Pick<XaRun, 'window' | 'isInverted'>): Uint8Array {
  const { low, high } = run.window ? { low: run.window.centre - run.window.width / 2, high: run.window.centre + run.window.width / 2 } : findRange(stored);
  const out = new Uint8Array(stored.length);
  const gain = 255 / Math.max(1e-9, high - low);
  for (let i = 0; i < stored.length; i++) {
    const grey = Math.min(255, Math.max(0, Math.round((stored[i]! - low) * gain)));
    out[i] = run.isInverted ? 255 - grey : grey;
  }
  return out;
}

function findRange(stored: StoredValues): { low: number; high: number } {
  const counts = new Uint32Array(65536);
  const shift = stored instanceof Int16Array ? 32768 : 0;
  for (let i = 0; i < stored.length; i++) counts[stored[i]! + shift]!++;
  const find = (share: number): number => {
    let seen = 0;
    for (let v = 0; v < 65536; v++) if ((seen += counts[v]!) >= share * stored.length) return v - shift;
    return 65535 - shift;
  };
  const low = find(0.01);
  return { low, high: Math.max(low + 1, find(0.99)) };
}

function readViews(values: DataSet, frameCount: number, gaps: XaGapCode[]): readonly (CameraView | null)[] {
  const [primaryDeg, secondaryDeg] = [readDecimal(values, 'x00181510'), readDecimal(values, 'x00181511')];
  if (primaryDeg === null || secondaryDeg === null || !isCameraView({ primaryDeg, secondaryDeg })) {
    gaps.push('positioner-angles-missing');
    return Array.from({ length: frameCount }, () => null);
  }
  const [primarySteps, secondarySteps] = [readSteps(values, 'x00181520', frameCount), readSteps(values, 'x00181521', frameCount)];
  if (primarySteps === null || secondarySteps === null) gaps.push('angle-increments-unusable');
  return Array.from({ length: frameCount }, (_, i) => {
    if (i > 0 && (primarySteps === null || secondarySteps === null)) return null; // only the first frame's angle is known
    const view = { primaryDeg: primaryDeg + (primarySteps?.(i) ?? 0), secondaryDeg: secondaryDeg + (secondarySteps?.(i) ?? 0) };
    return isCameraView(view) ? view : null;
  });
}

/** Offset of frame i; null when the increments are there but do not fit the number of frames. */
function readSteps(values: DataSet, tag: string, frameCount: number): ((i: number) => number) | null {
  const isMoving = readText(values, 'x00181500')?.toUpperCase() === 'DYNAMIC';
  const steps = readDecimals(values, tag);
  if (steps === null) return isMoving && frameCount > 1 ? null : () => 0;
  if (steps.length === frameCount) return (i) => steps[i]!;
  return steps.length === 1 ? (i) => i * steps[0]! : null;
}

/** Of a spacing with a row and a column value, the one side of a square pixel. */
function readSquare(values: DataSet, tag: string, gaps: XaGapCode[]): number | null {
  const pair = readDecimals(values, tag);
  if (pair === null || pair.length !== 2 || !(pair[0]! > 0 && pair[1]! > 0)) return null;
  if (Math.abs(pair[0]! - pair[1]!) > 0.005 * pair[0]!) {
    gaps.push('pixels-not-square');
    return null;
  }
  return (pair[0]! + pair[1]!) / 2;
}

function readTimes(values: DataSet, frameCount: number): readonly number[] | null {
  const vector = readDecimals(values, 'x00181065');
  if (vector !== null && vector.length === frameCount) {
    let at = 0;
    return vector.map((step, i) => (at += i === 0 ? 0 : step));
  }
  const step = readDecimal(values, 'x00181063');
  return step !== null && step >= 0 ? Array.from({ length: frameCount }, (_, i) => i * step) : null;
}

function readEncoding(dataset: DicomDataset): Result<PixelEncoding, XaFailureCode> {
  const { values, pixelData } = dataset;
  if (pixelData === null) return fail('no-pixel-data', 'The run holds no picture.', 'Choose the run itself, not a report about it.');
  const samplesPerPixel = readUint16(values, 'x00280002') ?? 1;
  const photometric = readText(values, 'x00280004')?.toUpperCase() ?? 'MONOCHROME2';
  if (samplesPerPixel !== 1 || !photometric.startsWith('MONOCHROME')) return fail('not-greyscale', 'The run is not grey.', 'Export the original run, not a screen copy.', { samplesPerPixel });
  const [rows, columns] = [readUint16(values, 'x00280010') ?? 0, readUint16(values, 'x00280011') ?? 0];
  if (!(rows >= 16 && columns >= 16 && rows <= MAX_SIDE && columns <= MAX_SIDE)) return fail('image-size-invalid', `The header states ${rows} rows and ${columns} columns.`, 'Export the run again from its source.', { rows, columns });
  const bitsAllocated = readUint16(values, 'x00280100') ?? 0;
  const bitsStored = readUint16(values, 'x00280101') ?? bitsAllocated;
  const highBit = readUint16(values, 'x00280102') ?? bitsStored - 1;
  const pixelRepresentation = readUint16(values, 'x00280103') ?? 0;
  const isSound = (bitsAllocated === 8 || bitsAllocated === 16) && bitsStored >= 8 && bitsStored <= bitsAllocated && highBit >= bitsStored - 1 && highBit < bitsAllocated && pixelRepresentation <= 1;
  // Eight-bit words of a big-endian file are swapped or not by the VR that the writer chose: nobody can tell.
  if (!isSound || (bitsAllocated === 8 && dataset.transferSyntaxUid === EXPLICIT_BIG)) {
    return fail('pixel-format-unsupported', `Pixels of ${bitsStored} bits in ${bitsAllocated} are not read; 8 to 16 bits in 8 or 16 are.`, 'Export the original run again.', { bitsAllocated, bitsStored, highBit });
  }
  const frameCount = readDecimal(values, 'x00280008') ?? 1;
  const room = pixelData.length === null ? Math.floor(dataset.fileLength / 8) : Math.floor(pixelData.length / (rows * columns * (bitsAllocated / 8)));
  if (!(Number.isInteger(frameCount) && frameCount >= 1 && frameCount <= MAX_FRAMES && frameCount <= room)) {
    return fail('too-many-frames', `The header states ${frameCount} frames; there is room for ${room}.`, 'Export the run again from its source.', { frames: frameCount, room });
  }
  return succeed({
    transferSyntaxUid: dataset.transferSyntaxUid, rows, columns, frameCount, samplesPerPixel, photometric, bitsAllocated, bitsStored, highBit,
    isSigned: pixelRepresentation === 1, paddingStored: null, paddingLimitStored: null, pixelData,
  });
}
