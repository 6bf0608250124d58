import { join } from 'node:path';
import { fail, succeed, type Result } from '../../core/result.ts';
import { JOBS_EN } from '../../core/text/jobs-en.ts';
import { cropAroundBall } from '../../core/volume/crop-volume.ts';
import { downsampleVolume } from '../../core/volume/downsample-volume.ts';
import { roundGrid } from '../../core/volume/round-grid.ts';
import type { CtVolume } from '../../core/volume/volume-types.ts';
import { loadVolume } from '../intake/load-volume.ts';
import { scanPath } from '../intake/scan-path.ts';
import type { LoadedVolume } from '../intake/scan-types.ts';
import { makeBlobStore } from '../storage/blob-store.ts';
import type { BlobStore } from '../storage/store-types.ts';
import { layOutScan } from './lay-out-scan.ts';
import type { BlockAnswer, BlockAsk, KeptBlock, TellProgress } from './process-messages.ts';

/** Ring, sinuses, both ostia and the beginning of the ascending aorta, with room to tilt a cut. */
const BALL_MM = 60;
/** Of a scan without a root: what a browser holds beside the rest, 2 bytes each. */
const MOST_SAMPLES = 24e6;

/**
 * One volume of a scan for looking at.
 * Fails     as layOutScan, scanPath and loadVolume; store-full
 */
export async function readBlock(ask: BlockAsk, tell: TellProgress): Promise<Result<BlockAnswer>> {
  const blobs = makeBlobStore(ask.dataFolder);
  tell(JOBS_EN.layingOut, 0);
  const path = await layOutScan(ask.manifest, blobs, join(ask.workFolder, 'ct'));
  if (!path.ok) return path;
  const report = await scanPath(path.value, { onProgress: (ratio) => tell(JOBS_EN.looking, 0.3 * ratio) });
  if (!report.ok) return report;
  const loaded = await loadVolume(report.value, ask.volumeKey, { onProgress: (ratio) => tell(JOBS_EN.blockReading, 0.3 + 0.65 * ratio) });
  if (!loaded.ok) return loaded;
  const block = await keepBlock({ ...loaded.value, volume: roundGrid(loaded.value.volume) }, ask.centreLps, blobs);
  return block.ok ? succeed({ kind: 'block', block: block.value }) : block;
}

/** Cuts a block out of a volume and keeps it in the pixel store. Without a centre, or when it lies elsewhere: all of it, coarser. */
export async function keepBlock({ volume, key }: Pick<LoadedVolume, 'volume' | 'key'>, centreLps: readonly [number, number, number] | null, blobs: BlobStore): Promise<Result<KeptBlock>> {
  const part = (centreLps && cropAroundBall(volume, centreLps, BALL_MM)) ?? coarsen(volume);
  if (part.dims.some((n) => n < 2)) return fail('block-too-thin', JOBS_EN.scanUnfit, JOBS_EN.noScanNext);
  const { samplesHu, dims, lpsFromVoxel, paddingHu } = part;
  // A copy: samples may lie in memory shared with worker threads, which no file call takes.
  const bytes = new Uint8Array(samplesHu.length * 2);
  new Int16Array(bytes.buffer).set(samplesHu);
  const kept = await blobs.put([bytes]);
  return kept.ok ? succeed({ sha256: kept.value.sha256, volumeKey: key, dims, lpsFromVoxel: lpsFromVoxel.rows, paddingHu }) : kept;
}

/** Means of blocks, equal along all axes, until it is small enough. */
function coarsen(volume: CtVolume): CtVolume {
  const samples = volume.dims.reduce((product, n) => product * n, 1);
  const factor = Math.ceil(Math.cbrt(samples / MOST_SAMPLES) - 1e-9);
  return factor <= 1 ? volume : downsampleVolume(volume, [factor, factor, factor]);
}
