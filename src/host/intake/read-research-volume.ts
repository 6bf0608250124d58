import type { InputFile } from './intake-types.ts';
import type { VolumeSample } from './make-scan-report.ts';
import { fail, type Result } from '../../core/result.ts';
import type { LoadedVolume, LoadFailureCode, ScanSeries, ScanVolume } from './scan-types.ts';

export function describeResearch(_input: InputFile, _format: 'nifti' | 'nrrd', _key: string, _sample: VolumeSample | null): { volume: ScanVolume | null; series: ScanSeries } {
  return { volume: null, series: { seriesUid: null, seriesNumber: null, modality: 'not stated', description: null, files: 1, frames: 0, parts: [] } };
}

export async function loadResearchVolume(_described: ScanVolume): Promise<Result<Pick<LoadedVolume, 'volume' | 'findings' | 'inputs'>, LoadFailureCode>> {
  return fail('file-broken', '', '', {});
}
