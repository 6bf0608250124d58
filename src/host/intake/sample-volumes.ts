import { measureCtStatistics } from '../../core/volume/ct-statistics.ts';
import { loadSlices } from './load-slices-job.ts';
import type { ScanReport, ScanVolume, VolumeSample } from './scan-types.ts';

/** Where in the stack a heart most likely lies, whatever the scan range. */
const PLACES = [0.2, 0.35, 0.5, 0.65, 0.8];
/** More candidates than a gated scan has phases are not looked into. */
const MAX_VOLUMES = 24;

/**
 * Contrast and noise of each volume that could be measured, from five slices, so that the best can be proposed.
 * Nothing is read where there is no choice.
 */
export async function sampleVolumes(report: ScanReport): Promise<ReadonlyMap<string, VolumeSample>> {
  const samples = new Map<string, VolumeSample>();
  const open = report.ranking.filter((ranked) => ranked.isEligible).slice(0, MAX_VOLUMES);
  if (open.length < 2) return samples;
  for (const { key } of open) {
    const volume = report.volumes.find((one) => one.key === key)!;
    const sample = await sampleVolume(volume);
    if (sample) samples.set(key, sample);
  }
  return samples;
}

async function sampleVolume(volume: ScanVolume): Promise<VolumeSample | null> {
  if (volume.source.kind !== 'dicom') return null;
  const [nx, ny] = volume.dims;
  const { slices } = volume.source;
  const samplesHu = new Int16Array(nx * ny);
  const contrasts: number[] = [];
  const noises: number[] = [];
  let read = 0;
  for (const place of PLACES) {
    const source = slices[Math.floor(place * slices.length)]!;
    const loaded = await loadSlices({ samplesHu, slices: [{ k: 0, source }], wantsHashes: false });
    if (loaded.failures.length > 0) continue;
    read++;
    const statistics = measureCtStatistics({
      samplesHu, dims: [nx, ny, 1], spacingMm: [volume.spacingMm[0], volume.spacingMm[1], 1], paddingHu: null,
      lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0] },
    });
    if (statistics.contrastHu) contrasts.push(statistics.contrastHu.valueHu);
    if (statistics.noiseHu) noises.push(statistics.noiseHu.valueHu);
  }
  if (read === 0) return null;
  return { contrastHu: findMedian(contrasts), noiseHu: findMedian(noises) };
}

function findMedian(values: readonly number[]): number | null {
  if (values.length === 0) return null;
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor((sorted.length - 1) / 2)]!;
}
