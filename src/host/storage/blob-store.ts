import { createHash, randomBytes } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { access, mkdir, open, readdir, readFile, rename, rm, stat } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { fail, succeed, type Result } from '../../core/result.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { flushFolder } from '../cli/write-whole.ts';
import { failUnwritable } from './data-lock.ts';
import type { BlobStore, StoreFailureCode } from './store-types.ts';

const SHA256 = /^[0-9a-f]{64}$/;

/**
 * Clears what a killed process left beside (`incoming/`), then as makeBlobStore.
 * Fails     folder-not-writable, store-full
 */
export async function openBlobStore(dataFolder: string): Promise<Result<BlobStore, StoreFailureCode>> {
  const incoming = join(dataFolder, 'pixels', 'incoming');
  try {
    await rm(incoming, { recursive: true, force: true });
    await mkdir(incoming, { recursive: true });
  } catch (problem) {
    return failUnwritable(problem);
  }
  return succeed(makeBlobStore(dataFolder));
}

/**
 * Files by content below `<dataFolder>/pixels`: `ab/abcdef...`. A file is written beside, flushed and renamed, so that
 * any number of processes may keep files at the same time.
 */
export function makeBlobStore(dataFolder: string): BlobStore {
  const top = join(dataFolder, 'pixels');
  const incoming = join(top, 'incoming');
  const pathOf = (sha256: string): string => {
    if (!SHA256.test(sha256)) throw new Error('Not the hash of a stored file.'); // a defect: hashes are checked at the border
    return join(top, sha256.slice(0, 2), sha256);
  };
  const settle = async (beside: string, sha256: string): Promise<void> => {
    const place = pathOf(sha256);
    await mkdir(dirname(place), { recursive: true });
    await rename(beside, place);
    await flushFolder(dirname(place));
  };
  return {
    async put(content) {
      const beside = join(incoming, randomBytes(12).toString('hex'));
      try {
        const written = await writeFlushed(beside, content);
        await settle(beside, written.sha256);
        return succeed(written);
      } catch (problem) {
        await rm(beside, { force: true }).catch(() => {});
        return failUnwritable(problem);
      }
    },
    async adopt(path) {
      try {
        const { sha256, bytes } = await hashFile(path);
        const file = await open(path, 'r');
        await file.sync().finally(() => file.close());
        await settle(path, sha256);
        return succeed({ sha256, bytes });
      } catch (problem) {
        return failUnwritable(problem);
      }
    },
    has: (sha256) => SHA256.test(sha256) ? access(pathOf(sha256)).then(() => true, () => false) : Promise.resolve(false),
    pathOf,
    async read(sha256) {
      const bytes = SHA256.test(sha256) ? await readFile(pathOf(sha256)).catch(() => null) : null;
      if (!bytes) return fail('blob-unknown', STORE_EN.blobUnknown, STORE_EN.blobUnknownNext);
      if (createHash('sha256').update(bytes).digest('hex') !== sha256) return fail('blob-damaged', STORE_EN.blobDamaged, STORE_EN.blobDamagedNext, { sha256 });
      return succeed(bytes);
    },
    async verify(wanted) {
      const problems: { sha256: string; problem: 'missing' | 'damaged' }[] = [];
      for (const sha256 of wanted) {
        const found = await hashFile(pathOf(sha256)).catch(() => null);
        if (found?.sha256 !== sha256) problems.push({ sha256, problem: found ? 'damaged' : 'missing' });
      }
      return problems;
    },
  };
}

/** Hashes of all stored files, sorted. */
export async function listBlobs(dataFolder: string): Promise<readonly string[]> {
  const top = join(dataFolder, 'pixels');
  const folders = (await readdir(top).catch(() => [])).filter((name) => /^[0-9a-f]{2}$/.test(name)).sort();
  const names = await Promise.all(folders.map(async (folder) => (await readdir(join(top, folder))).filter((name) => SHA256.test(name)).sort()));
  return names.flat();
}

async function writeFlushed(path: string, content: AsyncIterable<Uint8Array> | Iterable<Uint8Array>): Promise<{ readonly sha256: string; readonly bytes: number }> {
  const hash = createHash('sha256');
  let bytes = 0;
  const file = await open(path, 'wx');
  try {
    for await (const part of content) {
      hash.update(part);
      bytes += part.length;
      await file.writeFile(part); // at the file's own position: one part behind the other
    }
    await file.sync();
  } finally {
    await file.close();
  }
  return { sha256: hash.digest('hex'), bytes };
}

async function hashFile(path: string): Promise<{ readonly sha256: string; readonly bytes: number }> {
  const hash = createHash('sha256');
  for await (const part of createReadStream(path, { highWaterMark: 1 << 20 })) hash.update(part as Uint8Array);
  return { sha256: hash.digest('hex'), bytes: (await stat(path)).size };
}
