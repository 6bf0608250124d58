import { assembleGrid, type VolumeGrid } from '../../core/volume/assemble-volume.ts';
import { assessGeometry, type GeometryContext } from '../../core/volume/assess-scan-geometry.ts';
import { rankVolumes, type ProposalCandidate } from '../../core/volume/assess-scan-proposal.ts';
import { decideVerdict, makeFinding } from '../../core/volume/assess-scan.ts';
import { groupSlices } from '../../core/volume/group-slices.ts';
import type { SliceGroup, SliceSeries } from '../../core/volume/group-slices-types.ts';
import type { Finding, ScanHeader } from '../../core/volume/volume-types.ts';
import type { FoundHeads, ScanReport, ScanSeries, ScanVolume, SliceSource, VolumeSample, VolumeSource } from './scan-types.ts';

/** Groups, grids, findings, ranking: everything that follows from heads (and samples, where taken). */
export function makeScanReport(found: FoundHeads, samples: ReadonlyMap<string, VolumeSample>): ScanReport {
  const records = found.slices.map(({ header }) => header);
  const { series } = groupSlices(records);
  const volumes: ScanVolume[] = [];
  const listed: ScanSeries[] = [];
  for (const one of series) {
    const name = one.seriesUid ?? 'series-without-uid';
    const taken = new Set(volumes.map((volume) => volume.key));
    let number = 1;
    const parts = one.groups.map((group) => {
      if (group.role !== 'volume') return { role: group.role, frames: group.members.length, volumeKey: null };
      while (taken.has(`${name}#${number}`)) number++;
      const key = `${name}#${number++}`;
      volumes.push(makeVolume(key, one, group, found.slices, samples.get(key) ?? null));
      return { role: group.role, frames: group.members.length + group.duplicates.length, volumeKey: key };
    });
    const frames = one.groups.reduce((sum, g) => sum + g.members.length + g.duplicates.length, 0);
    listed.push({
      seriesUid: one.seriesUid, seriesNumber: one.seriesNumber, modality: one.modality ?? 'CT', description: one.description,
      files: countFiles(one, found.slices), frames, parts,
    });
  }
  for (const { series, volume } of found.research) {
    if (volume) volumes.push(volume);
    listed.push(series);
  }
  listed.push(...listOtherObjects(found));
  const ranking = rankVolumes(volumes.map((volume) => makeCandidate(volume, samples.get(volume.key) ?? null)));
  const proposed = ranking.find((ranked) => ranked.isEligible)?.key ?? null;
  return {
    input: {
      kind: found.listing.kind, files: found.listing.files.length,
      bytes: found.listing.files.reduce((sum, file) => sum + file.bytes, 0), otherFiles: found.otherFiles,
    },
    series: listed, volumes, ranking, proposed, unreadable: found.unreadable,
    verdict: volumes.find((volume) => volume.key === proposed)?.verdict ?? 'not fit',
  };
}

function countFiles(series: SliceSeries, slices: readonly SliceSource[]): number {
  const labels = new Set<string>();
  for (const group of series.groups) for (const i of [...group.members, ...group.duplicates]) labels.add(slices[i]!.input.label);
  return labels.size;
}

function makeVolume(key: string, series: SliceSeries, group: SliceGroup, all: readonly SliceSource[], sample: VolumeSample | null): ScanVolume {
  const slices = group.members.map((i) => all[i]!);
  const headers = slices.map(({ header }) => header);
  const first = headers[0]!;
  const header = makeScanHeader(slices, group);
  const source: DicomSource = {
    kind: 'dicom', slices, duplicates: group.duplicates.length,
    framesOfReference: series.framesOfReference, isFrameIgnored: series.isFrameIgnored,
  };
  const grid = assembleGrid(headers);
  const findings = grid.ok
    ? assessSlices(grid.value, source)
    : [makeFinding(grid.failure.code, 'stop', grid.failure.message, grid.failure.nextStep)];
  return {
    key, seriesUid: series.seriesUid, header, splitBy: group.splitBy,
    ...measureExtent(grid.ok ? grid.value : null, first.columns, first.rows, slices.length, first.pixelSpacingMm),
    sampledContrastHu: sample?.contrastHu ?? null, sampledNoiseHu: sample?.noiseHu ?? null,
    findings, verdict: decideVerdict(findings),
    source,
  };
}

function measureExtent(grid: VolumeGrid | null, columns: number, rows: number, slices: number, spacing: readonly [number, number] | null) {
  if (grid) return { dims: grid.dims, spacingMm: grid.spacingMm, stepMm: grid.stepMm, coverageMm: grid.coverageMm };
  const spacingMm: [number, number, number] = [spacing?.[1] ?? 0, spacing?.[0] ?? 0, 0];
  return { dims: [columns, rows, slices] as const, spacingMm, stepMm: 0, coverageMm: 0 };
}

/** Findings of a DICOM volume from its grid; `slices` are those the grid was made of, before a run was chosen. */
export function assessSlices(grid: VolumeGrid, source: DicomSource): readonly Finding[] {
  return assessGeometry(grid, makeContext(source));
}

type DicomSource = Extract<VolumeSource, { kind: 'dicom' }>;

function makeContext(source: DicomSource): GeometryContext {
  const headers = source.slices.map(({ header }) => header);
  const first = headers[0]!;
  const type = first.imageType.map((word) => word.toUpperCase());
  return {
    origin: 'dicom', slicesGiven: headers.length, duplicates: source.duplicates,
    sliceThicknessMm: headers.reduce<number | null>((most, h) => (h.sliceThicknessMm === null ? most : Math.max(most ?? 0, h.sliceThicknessMm)), null),
    patientPosition: first.patientPosition, phasePercent: first.phasePercent,
    hasTriggerTime: headers.some((h) => h.triggerTimeMs !== null),
    hasPadding: headers.some((h) => h.encoding.paddingStored !== null),
    isDerived: type.includes('DERIVED'), framesOfReference: source.framesOfReference, isFrameIgnored: source.isFrameIgnored,
    isRescaleMissing: headers.some((h) => h.gaps.includes('rescale-missing') || h.gaps.includes('rescale-not-hu')),
    isLossy: headers.some((h) => h.isLossyCompressed === true),
  };
}

/** Description texts stay out of it where they are long: they are the place where names are mistyped. */
function makeScanHeader(slices: readonly SliceSource[], group: SliceGroup): ScanHeader {
  const { header } = slices[0]!;
  return {
    studyUid: header.studyUid, seriesUid: header.seriesUid, frameOfReferenceUid: header.frameOfReferenceUid,
    modality: header.modality ?? 'CT', patientPosition: header.patientPosition, sliceThicknessMm: header.sliceThicknessMm,
    kernel: header.kernel, phasePercent: group.phasePercent, kvp: header.kvp, patientSex: header.patientSex,
    isContrastDeclared: header.isContrastDeclared, seriesDescription: header.seriesDescription,
  };
}

function makeCandidate(volume: ScanVolume, sample: VolumeSample | null): ProposalCandidate {
  return {
    key: volume.key, hasStop: volume.verdict === 'not fit',
    contrastHu: sample?.contrastHu ?? null, isContrastAbsent: sample !== null && sample.contrastHu === null,
    isContrastDeclared: volume.header.isContrastDeclared, noiseHu: sample?.noiseHu ?? null,
    coverageMm: volume.coverageMm, sliceMm: Math.max(volume.stepMm, volume.header.sliceThicknessMm ?? 0),
    phasePercent: volume.header.phasePercent, isDerived: volume.findings.some((f) => f.code === 'series-derived'),
  };
}

function listOtherObjects(found: FoundHeads): ScanSeries[] {
  const bySeries = new Map<string, { modality: string; seriesUid: string | null; count: number }>();
  for (const { modality, seriesUid } of found.otherObjects) {
    const key = `${modality}|${seriesUid ?? ''}`;
    const entry = bySeries.get(key) ?? { modality, seriesUid, count: 0 };
    entry.count++;
    bySeries.set(key, entry);
  }
  return [...bySeries.keys()].sort().map((key) => {
    const { modality, seriesUid, count } = bySeries.get(key)!;
    return {
      seriesUid, seriesNumber: null, modality, description: null, files: count, frames: count,
      parts: [{ role: 'other-modality' as const, frames: count, volumeKey: null }],
    };
  });
}
