import { createHash, type Hash } from 'node:crypto';
import { open, type FileHandle } from 'node:fs/promises';
import { fail, succeed, type Result } from '../../core/result.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { makeTarEnd, padOf, parseTarHeader, TAR_BLOCK, writeTarHeader, type TarEntry } from '../../formats/tar/tar-header.ts';

/**
 * The file of a backup: a tar archive whose last entry holds the SHA-256 of everything before it, so that one that was cut
 * off or damaged is told from a whole one before anything is restored from it.
 */
export type BackupFailureCode = 'backup-unreadable' | 'backup-broken';
const SEAL = 'seal.json';
const PART = 1 << 20;
const failBroken = (what: string) => fail('backup-broken' as const, STORE_EN.backupBroken, STORE_EN.backupBrokenNext, { what });

export interface BackupWriter {
  add(name: string, content: Uint8Array): Promise<void>;
  /** A file of known length; its content must have the hash. False: it has not, the archive is of no use. */
  addFile(name: string, path: string, sha256: string): Promise<boolean>;
  /** Writes the seal and flushes. */
  end(): Promise<{ readonly bytes: number }>;
  close(): Promise<void>;
}

export async function openBackupWriter(path: string, seconds: number): Promise<BackupWriter> {
  const file = await open(path, 'wx', 0o600); // it holds names of patients
  const hash = createHash('sha256');
  let [bytes, entries] = [0, 0];
  const write = async (part: Uint8Array): Promise<void> => {
    hash.update(part);
    bytes += part.length;
    await file.writeFile(part); // behind what was written before
  };
  const add = async (name: string, content: Uint8Array): Promise<void> => {
    await write(writeTarHeader({ name, bytes: content.length }, seconds));
    await write(content);
    await write(new Uint8Array(padOf(content.length)));
    entries++;
  };
  return {
    add,
    async addFile(name, from, sha256) {
      const source = await open(from, 'r').catch(() => null);
      if (!source) return false;
      try {
        const { size } = await source.stat();
        await write(writeTarHeader({ name, bytes: size }, seconds));
        const own = createHash('sha256');
        for (let at = 0; at < size; ) {
          const { bytesRead, buffer } = await source.read(Buffer.alloc(Math.min(PART, size - at)), 0, Math.min(PART, size - at), at);
          if (bytesRead === 0) return false;
          own.update(buffer.subarray(0, bytesRead));
          await write(buffer.subarray(0, bytesRead));
          at += bytesRead;
        }
        await write(new Uint8Array(padOf(size)));
        entries++;
        return own.digest('hex') === sha256;
      } finally {
        await source.close();
      }
    },
    async end() {
      const seal = new TextEncoder().encode(JSON.stringify({ entries, sha256: hash.copy().digest('hex') }));
      await add(SEAL, seal);
      await write(makeTarEnd());
      await file.sync();
      return { bytes };
    },
    close: () => file.close(),
  };
}

/** What to do with one entry; the content comes in parts that are valid until the next one. */
export type TakeEntry = (entry: TarEntry, content: AsyncIterable<Uint8Array>) => Promise<Result<null, string>>;

/**
 * Reads a backup from front to back. With `take` null it is only checked.
 * Fails     backup-unreadable, backup-broken, and as `take`
 */
export async function readBackup(path: string, take: TakeEntry | null): Promise<Result<{ readonly entries: number }, BackupFailureCode | (string & {})>> {
  const file = await open(path, 'r').catch(() => null);
  if (!file || !(await file.stat()).isFile()) {
    await file?.close();
    return fail('backup-unreadable', STORE_EN.backupUnreadable, STORE_EN.backupUnreadableNext);
  }
  try {
    return await readEntries(file, take);
  } finally {
    await file.close();
  }
}

async function readEntries(file: FileHandle, take: TakeEntry | null): Promise<Result<{ readonly entries: number }, BackupFailureCode | (string & {})>> {
  const { size } = await file.stat();
  const hash = createHash('sha256');
  let entries = 0;
  for (let at = 0; ; entries++) {
    const block = await readExactly(file, at, TAR_BLOCK);
    const header = block ? parseTarHeader(block) : null;
    if (!header?.ok || header.value === null) return failBroken('no seal at the end');
    const entry = header.value;
    if (at + TAR_BLOCK + entry.bytes + padOf(entry.bytes) > size) return failBroken('cut off');
    if (entry.name === SEAL) return checkSeal(await readExactly(file, at + TAR_BLOCK, Math.min(entry.bytes, PART)), entries, hash);
    hash.update(block!);
    at += TAR_BLOCK;
    const seen = readParts(file, at, entry.bytes, hash);
    const taken = take ? await take(entry, seen) : succeed(null);
    if (!taken.ok) return taken;
    for await (const _rest of seen) { /* what was not taken is hashed all the same */ }
    const padding = await readExactly(file, at + entry.bytes, padOf(entry.bytes));
    hash.update(padding!);
    at += entry.bytes + padOf(entry.bytes);
  }
}

async function* readParts(file: FileHandle, from: number, bytes: number, hash: Hash): AsyncGenerator<Uint8Array> {
  for (let at = 0; at < bytes; ) {
    const part = await readExactly(file, from + at, Math.min(PART, bytes - at));
    if (!part) return;
    hash.update(part);
    at += part.length;
    yield part;
  }
}

function checkSeal(content: Uint8Array | null, entries: number, hash: Hash): Result<{ readonly entries: number }, BackupFailureCode> {
  try {
    const seal = JSON.parse(new TextDecoder().decode(content ?? new Uint8Array())) as { entries?: number; sha256?: string };
    return seal.entries === entries && seal.sha256 === hash.digest('hex') ? succeed({ entries }) : failBroken('its content has changed');
  } catch {
    return failBroken('its seal is damaged');
  }
}

async function readExactly(file: FileHandle, at: number, bytes: number): Promise<Uint8Array | null> {
  const buffer = Buffer.alloc(bytes);
  for (let got = 0; got < bytes; ) {
    const { bytesRead } = await file.read(buffer, got, bytes - got, at + got);
    if (bytesRead === 0) return null;
    got += bytesRead;
  }
  return buffer;
}
