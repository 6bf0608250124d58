import { link, mkdir, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { compareIdentity } from '../../core/case/compare-identity.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { JOBS_EN } from '../../core/text/jobs-en.ts';
import { scanPath } from '../intake/scan-path.ts';
import { makeBlobStore } from '../storage/blob-store.ts';
import { layOutScan } from './lay-out-scan.ts';
import type { ImportAnswer, ImportAsk, TellProgress } from './process-messages.ts';
import { readScanIdentity } from './read-scan-identity.ts';
import { listManifestVolumes, nameNeutrally } from './scan-manifest.ts';

/** Hashing and flushing take most of the time; the rest is the look at the heads. */
const KEEPING_SHARE = 0.7;

/**
 * Takes uploaded files into the pixel store and looks at them. The uploads stay where they are until the scan has
 * joined its case, so that the job can be run again from any point.
 * Fails     upload-gone, store-full, and as scanPath
 */
export async function importFiles(ask: ImportAsk, tell: TellProgress): Promise<Result<ImportAnswer>> {
  const blobs = makeBlobStore(ask.dataFolder);
  await mkdir(ask.workFolder, { recursive: true });
  const total = ask.files.reduce((sum, { bytes }) => sum + bytes, 0);
  const files: { name: string; sha256: string; bytes: number }[] = [];
  let done = 0;
  for (const [k, { path, diskPath, bytes }] of ask.files.entries()) {
    tell(JOBS_EN.keeping, (KEEPING_SHARE * done) / Math.max(1, total));
    const beside = join(ask.workFolder, 'taken');
    try {
      await rm(beside, { force: true });
      await link(diskPath, beside); // the upload keeps its own name until the scan has joined
    } catch (problem) {
      if ((problem as { code?: string }).code !== 'ENOENT') throw problem;
      return fail('upload-gone', JOBS_EN.uploadGone, JOBS_EN.uploadGoneNext);
    }
    const kept = await blobs.adopt(beside);
    if (!kept.ok) return kept;
    if (kept.value.bytes !== bytes) return fail('upload-gone', JOBS_EN.uploadGone, JOBS_EN.uploadGoneNext, { bytes: kept.value.bytes });
    files.push({ name: nameNeutrally(path, k), ...kept.value });
    done += bytes;
  }
  const laid = await layOutScan({ files }, blobs, join(ask.workFolder, 'ct'));
  if (!laid.ok) return laid;
  tell(JOBS_EN.looking, KEEPING_SHARE);
  const report = await scanPath(laid.value, { onProgress: (ratio) => tell(JOBS_EN.looking, KEEPING_SHARE + (1 - KEEPING_SHARE) * ratio) });
  if (!report.ok) return report;
  const identity = compareIdentity(ask.entered, readScanIdentity(report.value));
  const manifest = { format: 'trinadir.manifest/1', scanId: ask.scanId, files, volumes: listManifestVolumes(report.value), proposed: report.value.proposed } as const;
  return succeed({ kind: 'import', manifest, identity, bytes: total });
}
