import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { lpsPoint, lpsVector } from '../units/frames.ts';
import type { SliceRecord } from './group-slices-types.ts';
import { groupSlices } from './group-slices.ts';

const PLAIN: SliceRecord = {
  sopClassUid: '1.2.840.10008.5.1.4.1.1.2', sopInstanceUid: null, studyUid: '1.1', seriesUid: '1.2', frameOfReferenceUid: '1.3',
  modality: 'CT', imageType: ['ORIGINAL', 'PRIMARY', 'AXIAL'], patientKey: 'A', patientPosition: 'HFS', frameIndex: 0,
  rows: 64, columns: 64, pixelSpacingMm: [0.5, 0.5], sliceThicknessMm: 0.6, positionLps: lpsPoint(0, 0, 0),
  rowDirLps: lpsVector(1, 0, 0), columnDirLps: lpsVector(0, 1, 0), phasePercent: null, triggerTimeMs: null,
  temporalPositionIndex: null, acquisitionNumber: null, acquisitionTime: null, instanceNumber: null, seriesNumber: 1,
  seriesDescription: null, kernel: null,
};
const at = (zMm: number, extra: Partial<SliceRecord> = {}): SliceRecord => ({ ...PLAIN, positionLps: lpsPoint(0, 0, zMm), sopInstanceUid: `9.${zMm}`, ...extra });
const stack = (n: number, extra: Partial<SliceRecord> = {}): SliceRecord[] => Array.from({ length: n }, (_, k) => at(k * 0.5, extra));
const volumesOf = (records: readonly SliceRecord[]) =>
  groupSlices(records).series.flatMap((s) => s.groups.filter((g) => g.role === 'volume'));
const heights = (records: readonly SliceRecord[], members: readonly number[]): number[] => members.map((i) => records[i]!.positionLps![2]);

describe(`groupSlices (seed ${seed})`, () => {
  test('orders one stack along its normal, whatever the order of the files', () => {
    const sorted = stack(12);
    fc.assert(fc.property(fc.shuffledSubarray(sorted, { minLength: 12 }), (records) => {
      const volumes = volumesOf(records);
      expect(volumes).toHaveLength(1);
      expect(heights(records, volumes[0]!.members)).toEqual(sorted.map((s) => s.positionLps![2]));
    }), replay);
  });
  test('orders a stack whose normal points to the feet toward the feet', () => {
    const records = stack(5).map((s) => ({ ...s, columnDirLps: lpsVector(0, -1, 0) }));
    expect(heights(records, volumesOf(records)[0]!.members)).toEqual([2, 1.5, 1, 0.5, 0]);
  });
  test('keeps the phases of a gated series apart, also where they do not overlap', () => {
    const records = [...stack(6, { phasePercent: 30 }), ...stack(6, { phasePercent: 70 }).map((s) => ({ ...s, positionLps: lpsPoint(0, 0, s.positionLps![2] + 100) }))];
    expect(volumesOf(records).map((g) => [g.phasePercent, g.members.length])).toEqual([[30, 6], [70, 6]]);
  });
  test('tells two volumes at the same places apart by what differs, without tearing slabs', () => {
    // Two phases in two slabs: each slab has its own trigger time, so trigger time alone makes four parts.
    const slab = (acquisitionNumber: number, from: number, triggerTimeMs: number): SliceRecord[] =>
      Array.from({ length: 4 }, (_, k) => at((from + k) * 0.5, { acquisitionNumber, triggerTimeMs, sopInstanceUid: `${acquisitionNumber}.${from + k}` }));
    const records = [...slab(1, 0, 100), ...slab(1, 4, 110), ...slab(2, 0, 400), ...slab(2, 4, 410)];
    const volumes = volumesOf(records);
    expect(volumes.map((g) => g.members.length)).toEqual([8, 8]);
    expect(volumes[0]!.splitBy).toEqual(['acquisition']);
  });
  test('does not split by a property that differs without need', () => {
    const records = stack(8).map((s, i) => ({ ...s, acquisitionNumber: i, triggerTimeMs: i * 10 }));
    expect(volumesOf(records).map((g) => g.members.length)).toEqual([8]);
  });
  test('leaves out copies at one place and counts them', () => {
    const records = [...stack(5), at(1, { sopInstanceUid: '9.9' })];
    const [volume] = volumesOf(records);
    expect([volume!.members.length, volume!.duplicates.length]).toEqual([5, 1]);
  });
  test('sets localisers, captures, other modalities and unplaced pictures apart', () => {
    const records = [
      ...stack(4),
      at(0, { imageType: ['ORIGINAL', 'PRIMARY', 'LOCALIZER'], rowDirLps: lpsVector(0, 1, 0), columnDirLps: lpsVector(0, 0, -1) }),
      at(0, { sopClassUid: '1.2.840.10008.5.1.4.1.1.7' }),
      at(0, { modality: 'MR', seriesUid: '1.9' }),
      at(0, { positionLps: null }),
    ];
    const roles = groupSlices(records).series.flatMap((s) => s.groups.map((g) => g.role)).sort();
    expect(roles).toEqual(['capture', 'localiser', 'other-modality', 'unplaced', 'volume']);
  });
  test('splits by frame of reference, but not when every slice names its own', () => {
    expect(volumesOf([...stack(6), ...stack(6, { frameOfReferenceUid: '1.4' })])).toHaveLength(2);
    const scattered = groupSlices(stack(6).map((s, i) => ({ ...s, frameOfReferenceUid: `1.${i}` }))).series[0]!;
    expect([scattered.groups.length, scattered.framesOfReference, scattered.isFrameIgnored]).toEqual([1, 6, true]);
  });
  test('counts patients, and those who are not named not at all', () => {
    expect(groupSlices([...stack(2), ...stack(2, { patientKey: 'B' }), ...stack(2, { patientKey: null })]).patients).toBe(2);
  });
});
