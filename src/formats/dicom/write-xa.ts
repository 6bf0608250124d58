import type { FluoroscopyCamera } from '../../core/phantom/draw-fluoroscopy.ts';
import { decimals, type WritableElement } from './write-elements.ts';
import { makeDerivedUid } from './write-derived-uid.ts';
import { EXPLICIT_LITTLE, TRAINING_NAME, TRAINING_NOTE } from './write-ct-slice.ts';
import { writePart10, type WriteSyntax } from './write-part10.ts';

const XA_IMAGE = '1.2.840.10008.5.1.4.1.1.12.1';

/** What the header of a drawn run says beyond its geometry. All of it is invented. */
export interface XaLabels {
  /** Patient follows from it, as for the CT of the same seed. */
  readonly seed: number;
  readonly runNumber: number;
  readonly frameTimeMs: number;
  readonly description: string;
}

/**
 * A drawn run as an X-Ray Angiographic Image Storage file: 12 bit in 16, or 8 in 8 when `pixels` holds bytes.
 * Shape     `pixels` holds all frames after another; one angle for the run
 * Source    PS3.3 A.14, C.8.7
 */
export function writeXa(pixels: Uint16Array | Uint8Array, camera: FluoroscopyCamera, labels: XaLabels, syntax: WriteSyntax = EXPLICIT_LITTLE): Uint8Array {
  const frames = pixels.length / (camera.rows * camera.columns);
  const isByte = pixels instanceof Uint8Array;
  const [bits, stored] = isByte ? [8, 8] : [16, 12];
  const sopInstanceUid = makeDerivedUid('xa', labels.seed, labels.runNumber);
  const dataset: WritableElement[] = [
    { tag: 0x00080005, vr: 'CS', value: 'ISO_IR 100' },
    { tag: 0x00080008, vr: 'CS', value: 'ORIGINAL\\PRIMARY\\SINGLE PLANE' },
    { tag: 0x00080016, vr: 'UI', value: XA_IMAGE },
    { tag: 0x00080018, vr: 'UI', value: sopInstanceUid },
    { tag: 0x00080020, vr: 'DA', value: '20200102' },
    { tag: 0x00080021, vr: 'DA', value: '20200102' },
    { tag: 0x00080023, vr: 'DA', value: '20200102' },
    { tag: 0x00080030, vr: 'TM', value: '120000' },
    { tag: 0x00080031, vr: 'TM', value: '120000' },
    { tag: 0x00080033, vr: 'TM', value: '120000' },
    { tag: 0x00080050, vr: 'SH', value: '' },
    { tag: 0x00080060, vr: 'CS', value: 'XA' },
    { tag: 0x00080070, vr: 'LO', value: 'Trinadir training data' },
    { tag: 0x00080090, vr: 'PN', value: '' },
    { tag: 0x0008103e, vr: 'LO', value: labels.description.slice(0, 64) },
    { tag: 0x00081090, vr: 'LO', value: 'Analytic phantom' },
    { tag: 0x00100010, vr: 'PN', value: TRAINING_NAME },
    { tag: 0x00100020, vr: 'LO', value: `TRAINING-${labels.seed}` },
    { tag: 0x00100030, vr: 'DA', value: '' },
    { tag: 0x00100040, vr: 'CS', value: 'O' },
    { tag: 0x00180015, vr: 'CS', value: 'HEART' },
    { tag: 0x00180060, vr: 'DS', value: 80 },
    { tag: 0x00181110, vr: 'DS', value: camera.sourceToImageMm },
    { tag: 0x00181111, vr: 'DS', value: camera.sourceToPatientMm },
    { tag: 0x00181114, vr: 'DS', value: camera.sourceToImageMm / camera.sourceToPatientMm },
    { tag: 0x00181152, vr: 'IS', value: 1 },
    { tag: 0x00181155, vr: 'CS', value: 'SC' },
    { tag: 0x00181164, vr: 'DS', value: decimals([camera.pixelMm, camera.pixelMm]) },
    { tag: 0x00181510, vr: 'DS', value: camera.primaryDeg },
    { tag: 0x00181511, vr: 'DS', value: camera.secondaryDeg },
    { tag: 0x00185100, vr: 'CS', value: 'HFS' },
    { tag: 0x0020000d, vr: 'UI', value: makeDerivedUid('xa-study', labels.seed) },
    { tag: 0x0020000e, vr: 'UI', value: makeDerivedUid('xa-series', labels.seed, labels.runNumber) },
    { tag: 0x00200010, vr: 'SH', value: '2' },
    { tag: 0x00200011, vr: 'IS', value: labels.runNumber },
    { tag: 0x00200013, vr: 'IS', value: labels.runNumber },
    { tag: 0x00200020, vr: 'CS', value: '' },
    { tag: 0x00204000, vr: 'LT', value: TRAINING_NOTE },
    { tag: 0x00280002, vr: 'US', value: 1 },
    { tag: 0x00280004, vr: 'CS', value: 'MONOCHROME2' },
    { tag: 0x00280010, vr: 'US', value: camera.rows },
    { tag: 0x00280011, vr: 'US', value: camera.columns },
    { tag: 0x00280100, vr: 'US', value: bits },
    { tag: 0x00280101, vr: 'US', value: stored },
    { tag: 0x00280102, vr: 'US', value: stored - 1 },
    { tag: 0x00280103, vr: 'US', value: 0 },
    { tag: 0x00281040, vr: 'CS', value: 'LIN' },
    { tag: 0x00281050, vr: 'DS', value: isByte ? 128 : 1600 },
    { tag: 0x00281051, vr: 'DS', value: isByte ? 256 : 3200 },
    { tag: 0x00282110, vr: 'CS', value: '00' },
  ];
  if (frames > 1) {
    dataset.push(
      { tag: 0x00181063, vr: 'DS', value: labels.frameTimeMs },
      { tag: 0x00181500, vr: 'CS', value: 'STATIC' },
      { tag: 0x00280008, vr: 'IS', value: frames },
      { tag: 0x00280009, vr: 'AT', value: 0x00181063 },
    );
  }
  return writePart10(dataset, pixels, frames, { sopClassUid: XA_IMAGE, sopInstanceUid }, syntax);
}
