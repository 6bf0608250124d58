import type { CtVolume } from '../../core/volume/volume-types.ts';
import { decimals, type WritableElement } from './write-elements.ts';
import { makeDerivedUid } from './write-derived-uid.ts';
import { describeGrid, describeTrainingStudy, storePixels, EXPLICIT_LITTLE, type CtSeriesLabels } from './write-ct-slice.ts';
import { writePart10, type WriteSyntax } from './write-part10.ts';

const ENHANCED_CT = '1.2.840.10008.5.1.4.1.1.2.1';

const code = (value: string, scheme: string, meaning: string): readonly WritableElement[] => [
  { tag: 0x00080100, vr: 'SH', value },
  { tag: 0x00080102, vr: 'SH', value: scheme },
  { tag: 0x00080104, vr: 'LO', value: meaning },
];

/**
 * A whole drawn volume as one Enhanced CT Image Storage file, one frame per slice. It is declared DERIVED: no scanner
 * took it, so the acquisition groups that an original needs are rightly absent.
 * Frame     positions per frame from the volume's affine, LPS mm
 * Source    PS3.3 A.38, C.7.6.16 (multi-frame functional groups), C.8.15 (enhanced CT)
 */
export function writeEnhancedCt(volume: CtVolume, labels: CtSeriesLabels, syntax: WriteSyntax = EXPLICIT_LITTLE): Uint8Array {
  const [nx, ny, nz] = volume.dims;
  const grid = describeGrid(volume);
  const { pixels, intercept, describe } = storePixels(volume.samplesHu, labels.stored);
  const sopInstanceUid = makeDerivedUid('enhanced', labels.seed, labels.seriesNumber);
  const dimensionUid = makeDerivedUid('dimension', labels.seed, labels.seriesNumber);
  const [downMm, rowMm] = grid.pixelSpacing.split('\\').map(Number) as [number, number];
  const frameType = 'DERIVED\\PRIMARY\\VOLUME\\NONE';
  const describeFrame: readonly WritableElement[] = [
    { tag: 0x00089205, vr: 'CS', value: 'MONOCHROME' },
    { tag: 0x00089206, vr: 'CS', value: 'VOLUME' },
    { tag: 0x00089207, vr: 'CS', value: 'NONE' },
  ];
  const shared: WritableElement[] = [
    { tag: 0x00289110, vr: 'SQ', value: [[
      { tag: 0x00180050, vr: 'DS', value: labels.sliceThicknessMm },
      { tag: 0x00280030, vr: 'DS', value: decimals([downMm, rowMm]) },
    ]] },
    { tag: 0x00209116, vr: 'SQ', value: [[{ tag: 0x00200037, vr: 'DS', value: grid.orientation }]] },
    { tag: 0x00209071, vr: 'SQ', value: [[
      { tag: 0x00082218, vr: 'SQ', value: [code('80891009', 'SCT', 'Heart')] },
      { tag: 0x00209072, vr: 'CS', value: 'U' },
    ]] },
    { tag: 0x00189329, vr: 'SQ', value: [[{ tag: 0x00089007, vr: 'CS', value: frameType }, ...describeFrame]] },
    { tag: 0x00189477, vr: 'SQ', value: [[{ tag: 0x00083010, vr: 'UI', value: makeDerivedUid('exposure', labels.seed) }]] },
    { tag: 0x00289145, vr: 'SQ', value: [[
      { tag: 0x00281052, vr: 'DS', value: intercept },
      { tag: 0x00281053, vr: 'DS', value: 1 },
      { tag: 0x00281054, vr: 'LO', value: 'HU' },
    ]] },
    { tag: 0x00289132, vr: 'SQ', value: [[
      { tag: 0x00281050, vr: 'DS', value: 200 },
      { tag: 0x00281051, vr: 'DS', value: 800 },
    ]] },
  ];
  if (labels.phasePercent !== null) {
    shared.push({ tag: 0x00189118, vr: 'SQ', value: [[
      { tag: 0x00209241, vr: 'FL', value: labels.phasePercent },
      { tag: 0x00209153, vr: 'FD', value: 9.5 * labels.phasePercent },
      { tag: 0x00209252, vr: 'FD', value: 0 },
      { tag: 0x00209251, vr: 'FD', value: 950 },
    ]] });
  }
  const perFrame = Array.from({ length: nz }, (_, k): readonly WritableElement[] => [
    { tag: 0x00209111, vr: 'SQ', value: [[
      { tag: 0x00209056, vr: 'SH', value: '1' },
      { tag: 0x00209057, vr: 'UL', value: k + 1 },
      { tag: 0x00209157, vr: 'UL', value: k + 1 },
    ]] },
    { tag: 0x00209113, vr: 'SQ', value: [[{ tag: 0x00200032, vr: 'DS', value: grid.positionOf(k) }]] },
  ]);
  const dataset: WritableElement[] = [
    ...describeTrainingStudy(labels).filter((e) => e.tag !== 0x00180015), // the region stands in the frame anatomy
    ...describe,
    ...describeFrame,
    { tag: 0x00080008, vr: 'CS', value: frameType },
    { tag: 0x00080016, vr: 'UI', value: ENHANCED_CT },
    { tag: 0x00080018, vr: 'UI', value: sopInstanceUid },
    { tag: 0x0008002a, vr: 'DT', value: '20200101120000' },
    { tag: 0x00181000, vr: 'LO', value: '1' },
    { tag: 0x00189004, vr: 'CS', value: 'RESEARCH' },
    { tag: 0x00400555, vr: 'SQ', value: [] },
    { tag: 0x00181020, vr: 'LO', value: '1' },
    { tag: 0x00200013, vr: 'IS', value: 1 },
    { tag: 0x00209221, vr: 'SQ', value: [[{ tag: 0x00209164, vr: 'UI', value: dimensionUid }]] },
    { tag: 0x00209222, vr: 'SQ', value: [[
      { tag: 0x00209164, vr: 'UI', value: dimensionUid },
      { tag: 0x00209165, vr: 'AT', value: 0x00209057 },
      { tag: 0x00209167, vr: 'AT', value: 0x00209111 },
    ]] },
    { tag: 0x00280002, vr: 'US', value: 1 },
    { tag: 0x00280004, vr: 'CS', value: 'MONOCHROME2' },
    { tag: 0x00280008, vr: 'IS', value: nz },
    { tag: 0x00280010, vr: 'US', value: ny },
    { tag: 0x00280011, vr: 'US', value: nx },
    { tag: 0x00280301, vr: 'CS', value: 'NO' },
    { tag: 0x00282110, vr: 'CS', value: '00' },
    { tag: 0x20500020, vr: 'CS', value: 'IDENTITY' },
    { tag: 0x52009229, vr: 'SQ', value: [shared] },
    { tag: 0x52009230, vr: 'SQ', value: perFrame },
  ];
  return writePart10(dataset, pixels, nz, { sopClassUid: ENHANCED_CT, sopInstanceUid }, syntax);
}
