import { open, type FileHandle } from 'node:fs/promises';
import type { Readable } from 'node:stream';

/** Enough at once that the disk and not the call is what takes time; few enough pieces for one call of the system. */
const BATCH_BYTES = 4 * 1024 * 1024;
const BATCH_PIECES = 512;

/** How an arriving file ended: all that came is on disk in each case. */
export interface Arrived {
  readonly offset: number;
  readonly end: 'whole' | 'cut' | 'too-long';
}

/**
 * Writes what arrives on a connection into a file that exists, from `offset`, up to `mostBytes` in all. While one piece is
 * written the next is read. Straight from the connection: decision 0015 has what streams of streams cost.
 * Fails     throws what the disk throws (ENOSPC); what had arrived before is kept
 */
export async function writeArriving(incoming: Readable, path: string, offset: number, mostBytes: number): Promise<Arrived> {
  const file = await open(path, 'r+');
  let writing: Promise<void> = Promise.resolve();
  let [parts, held, at]: [Buffer[], number, number] = [[], 0, offset];
  const flush = async (): Promise<void> => {
    await writing;
    if (held === 0) return;
    writing = writeAll(file, parts, at);
    writing.catch(() => {}); // met by the next await
    at += held;
    [parts, held] = [[], 0];
  };
  let end: Arrived['end'] = 'whole';
  try {
    try {
      for await (const piece of incoming as AsyncIterable<Buffer>) {
        if (at + held + piece.byteLength > mostBytes) {
          end = 'too-long';
          break;
        }
        parts.push(piece);
        held += piece.byteLength;
        if (held >= BATCH_BYTES || parts.length >= BATCH_PIECES) await flush();
      }
    } catch (problem) {
      if (isOfDisk(problem)) throw problem;
      end = 'cut';
    }
    await flush();
    await writing;
    return { offset: at, end };
  } finally {
    await writing.catch(() => {});
    await file.close();
  }
}

const isOfDisk = (problem: unknown): boolean => /^(ENOSPC|EDQUOT|EIO|EROFS|EFBIG|EBADF)$/.test((problem as { code?: string }).code ?? '');

async function writeAll(file: FileHandle, parts: readonly Buffer[], position: number): Promise<void> {
  const total = parts.reduce((sum, each) => sum + each.byteLength, 0);
  let { bytesWritten: done } = await file.writev(parts, position);
  if (done === total) return;
  const whole = Buffer.concat(parts); // the system took a part of it
  while (done < total) done += (await file.write(whole, done, total - done, position + done)).bytesWritten;
}
