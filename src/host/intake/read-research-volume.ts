import { createHash } from 'node:crypto';
import { fail, succeed, type Result } from '../../core/result.ts';
import { cross, dot, norm, unit, type Vec3 } from '../../core/math/vec3.ts';
import { FINDINGS_EN } from '../../core/text/findings-en.ts';
import type { VolumeGrid } from '../../core/volume/assemble-volume.ts';
import { assessGeometry } from '../../core/volume/assess-scan-geometry.ts';
import { decideVerdict, makeFinding } from '../../core/volume/assess-scan.ts';
import type { CtVolume, Finding, ScanHeader } from '../../core/volume/volume-types.ts';
import { parseNifti } from '../../formats/nifti/parse-nifti.ts';
import type { ResearchFailureCode, ResearchVolume } from '../../formats/nifti/research-volume.ts';
import { parseNrrd } from '../../formats/nrrd/parse-nrrd.ts';
import type { InputFile } from './intake-types.ts';
import { readInput, type ReadFailureCode } from './read-input.ts';
import type { DescribedResearch, LoadedVolume, LoadFailureCode, ScanSeries, ScanVolume } from './scan-types.ts';

type ResearchFormat = 'nifti' | 'nrrd';
/** Label maps and masks come in the same formats: without air they are not CT. */
const AIR_HU = -300;

const NOTHING_KNOWN: ScanHeader = {
  studyUid: null, seriesUid: null, frameOfReferenceUid: null, modality: null, patientPosition: null, sliceThicknessMm: null,
  kernel: null, phasePercent: null, kvp: null, patientSex: null, isContrastDeclared: null, seriesDescription: null,
};

/**
 * A NIfTI or NRRD file as a volume of the scan report. The file is unpacked for it, and let go again: these formats
 * have no head that could be trusted to hold CT numbers.
 */
export function describeResearch(input: InputFile, format: ResearchFormat, key: string): DescribedResearch {
  const series = (frames: number, volumeKey: string | null): ScanSeries => ({
    seriesUid: null, seriesNumber: null, modality: 'not stated', description: null, files: 1, frames,
    parts: [{ role: volumeKey === null ? 'other-modality' : 'volume', frames, volumeKey }],
  });
  const opened = openResearch(input, format);
  if (!opened.ok) return { series: series(0, null), volume: null, code: opened.failure.code };
  const { volume } = opened.value;
  if (!hasAir(volume)) return { series: series(volume.dims[2], null), volume: null, code: 'not-hounsfield' };
  const grid = makeGrid(volume);
  const findings = assessResearch(opened.value, grid);
  return {
    series: series(volume.dims[2], key), code: null,
    volume: {
      key, seriesUid: null, header: NOTHING_KNOWN, splitBy: [], dims: volume.dims, spacingMm: volume.spacingMm,
      stepMm: grid.stepMm, coverageMm: grid.coverageMm, sampledContrastHu: null, sampledNoiseHu: null,
      findings, verdict: decideVerdict(findings), source: { kind: 'research', input, format },
    },
  };
}

/**
 * The volume of a research file, in a shared buffer.
 * Fails   file-broken
 */
export function loadResearchVolume(described: ScanVolume): Result<Pick<LoadedVolume, 'volume' | 'findings' | 'inputs'>, LoadFailureCode> {
  if (described.source.kind !== 'research') return fail('volume-unknown', 'Not a research volume.', 'Scan again.', {});
  const { input, format } = described.source;
  const opened = openResearch(input, format);
  if (!opened.ok) return fail('file-broken', opened.failure.message, opened.failure.nextStep, { code: opened.failure.code });
  const own = opened.value.volume;
  const samplesHu = new Int16Array(new SharedArrayBuffer(own.samplesHu.length * 2));
  samplesHu.set(own.samplesHu);
  const volume: CtVolume = { ...own, samplesHu };
  const geometry = JSON.stringify([own.dims, own.lpsFromVoxel.rows]);
  const sha256 = createHash('sha256').update(geometry).update(new Uint8Array(samplesHu.buffer)).digest('hex');
  return succeed({ volume, findings: assessResearch(opened.value, makeGrid(volume)), inputs: { files: 1, bytes: input.bytes, sha256 } });
}

function openResearch(input: InputFile, format: ResearchFormat): Result<ResearchVolume, ResearchFailureCode | ReadFailureCode> {
  const bytes = readInput(input);
  if (!bytes.ok) return bytes;
  return format === 'nifti' ? parseNifti(bytes.value) : parseNrrd(bytes.value);
}

function hasAir(volume: CtVolume): boolean {
  const { samplesHu } = volume;
  const stride = Math.max(1, Math.floor(samplesHu.length / 200_000)) | 1;
  for (let i = 0; i < samplesHu.length; i += stride) if (samplesHu[i]! < AIR_HU) return true;
  return false;
}

/** A file's own grid, in the words of an assembled one. Its third axis need not lie along the body. */
function makeGrid(volume: CtVolume): VolumeGrid {
  const r = volume.lpsFromVoxel.rows;
  const column = (c: number): Vec3 => [r[c]!, r[4 + c]!, r[8 + c]!];
  const normal = unit(cross(column(0), column(1)));
  const stepMm = Math.abs(dot(column(2), normal));
  // Along the body: the largest extent in z of any axis.
  const coverageMm = Math.max(...[0, 1, 2].map((c) => Math.abs(column(c)[2]) * volume.dims[c]!));
  return {
    used: [], dims: volume.dims, lpsFromVoxel: volume.lpsFromVoxel, spacingMm: volume.spacingMm,
    stepMm: Math.max(...volume.spacingMm), coverageMm,
    shearDeg: (Math.acos(Math.min(1, stepMm / norm(column(2)))) * 180) / Math.PI,
    residualMm: 0, breaks: [], gapRangeMm: [stepMm, stepMm],
  };
}

function assessResearch(research: ResearchVolume, grid: VolumeGrid): readonly Finding[] {
  const findings = [...assessGeometry(grid, {
    origin: 'research', slicesGiven: grid.dims[2], duplicates: 0, sliceThicknessMm: null, patientPosition: null,
    phasePercent: null, hasTriggerTime: false, hasPadding: research.volume.paddingHu !== null, isDerived: false,
    framesOfReference: 1, isFrameIgnored: false, isRescaleMissing: false, isLossy: false,
  })];
  if (research.missing.includes('length-unit-missing')) {
    findings.push(makeFinding('length-unit-missing', 'note', FINDINGS_EN.lengthUnitMissing, FINDINGS_EN.lengthUnitMissingNext));
  }
  if (research.missing.includes('origin-missing')) {
    findings.push(makeFinding('origin-missing', 'note', FINDINGS_EN.originMissing, FINDINGS_EN.originMissingNext));
  }
  return findings;
}
