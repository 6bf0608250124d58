import { cross } from '../../core/math/vec3.ts';
import type { CalciumSeries } from '../../core/root/score-calcium-series.ts';
import { chooseCalciumSeries, type CalciumCandidate } from '../../core/volume/choose-calcium-series.ts';
import { loadVolume } from './load-volume.ts';
import type { LoadedVolume, ScanReport, ScanVolume } from './scan-types.ts';

/** Calcium-scoring series beside the measured volume: how many lie in its frame of reference, best first, and elsewhere. */
export interface SeriesBeside {
  readonly count: number;
  readonly elsewhere: number;
  /** Reads the n-th of them; null when it cannot be read. */
  load(n: number): Promise<{ readonly series: CalciumSeries; readonly patientSex: 'F' | 'M' | 'O' | null } | null>;
}

/** Findings that say whether a root can be measured, not whether calcium can be scored. */
const OTHER_QUESTION: ReadonlySet<string> = new Set([
  'slices-thick', 'slices-gapped', 'contrast-none', 'contrast-low', 'coverage-too-short', 'field-cropped', 'too-few-slices', 'noise-high',
  'not-gated', 'phase-unknown', 'phase-diastolic', 'phase-early',
]);

export function findCalciumSeries(report: ScanReport, measured: LoadedVolume): SeriesBeside {
  const { keys, elsewhere } = chooseCalciumSeries(report.volumes.map(describe), { key: measured.key, frameOfReferenceUid: measured.header.frameOfReferenceUid });
  return {
    count: keys.length, elsewhere,
    async load(n) {
      const loaded = await loadVolume(report, keys[n] ?? '');
      return loaded.ok ? { series: makeSeries(loaded.value), patientSex: loaded.value.header.patientSex } : null;
    },
  };
}

function describe(volume: ScanVolume): CalciumCandidate {
  const { header, source } = volume;
  const first = source.kind === 'dicom' ? source.slices[0]?.header : undefined;
  const up = first?.rowDirLps && first.columnDirLps ? Math.abs(cross(first.rowDirLps, first.columnDirLps)[2]) : 0;
  return {
    key: volume.key, frameOfReferenceUid: header.frameOfReferenceUid, isContrastDeclared: header.isContrastDeclared,
    sliceThicknessMm: header.sliceThicknessMm, stepMm: volume.stepMm, slices: volume.dims[2],
    leanDeg: (Math.acos(Math.min(1, up)) * 180) / Math.PI, isGated: isGated(volume), kvp: header.kvp,
  };
}

/** The header names a phase or a trigger time; which one does not matter for a score. */
function isGated({ findings, header }: Pick<ScanVolume, 'findings' | 'header'>): boolean {
  return header.phasePercent !== null || !findings.some((f) => f.code === 'not-gated');
}

function makeSeries(loaded: LoadedVolume): CalciumSeries {
  const { header, findings } = loaded;
  return {
    volume: loaded.volume, seriesUid: header.seriesUid, sha256: loaded.inputs.sha256, sliceThicknessMm: header.sliceThicknessMm,
    isContrastDeclared: header.isContrastDeclared, isGated: isGated(loaded), kvp: header.kvp, phasePercent: header.phasePercent,
    doubts: findings.filter((f) => f.severity !== 'note' && !OTHER_QUESTION.has(f.code)).map(({ code, text, next }) => ({ code, text, next })),
  };
}
