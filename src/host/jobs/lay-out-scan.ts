import { copyFile, link, mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { fail, succeed, type Result } from '../../core/result.ts';
import { JOBS_EN } from '../../core/text/jobs-en.ts';
import type { BlobStore } from '../storage/store-types.ts';
import type { ScanManifest } from './scan-manifest.ts';

/**
 * Puts the stored files of a scan into a folder as the intake reads them: hard links, so that nothing is copied. Gives
 * the path to scan: the folder, or the file itself when there is one only (a zip archive, a volume).
 * Fails     scan-file-missing
 */
export async function layOutScan(manifest: Pick<ScanManifest, 'files'>, blobs: Pick<BlobStore, 'pathOf'>, folder: string): Promise<Result<string, 'scan-file-missing'>> {
  await mkdir(folder, { recursive: true });
  for (const { name, sha256 } of manifest.files) {
    try {
      await linkOrCopy(blobs.pathOf(sha256), join(folder, name));
    } catch (problem) {
      if ((problem as { code?: string }).code !== 'ENOENT') throw problem;
      return fail('scan-file-missing', JOBS_EN.fileMissing, JOBS_EN.fileMissingNext, { sha256 });
    }
  }
  return succeed(manifest.files.length === 1 ? join(folder, manifest.files[0]!.name) : folder);
}

/** Another file system, or one without hard links, or a file with too many of them: a copy does. */
export async function linkOrCopy(from: string, to: string): Promise<void> {
  try {
    await link(from, to);
  } catch (problem) {
    if (!['EXDEV', 'EPERM', 'EMLINK', 'ENOTSUP', 'EOPNOTSUPP'].includes((problem as { code?: string }).code ?? '')) throw problem;
    await copyFile(from, to);
  }
}
