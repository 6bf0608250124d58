import type { FileHandle } from 'node:fs/promises';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { InputFile, ListFailureCode, UnreadableFile } from './intake-types.ts';

export const MAX_ZIP_ENTRIES = 200_000;
/** One CT file: an enhanced object of 2,000 frames of 512 x 512 is 1 GB. */
const MAX_ENTRY_BYTES = 2 ** 31 - 1;
/** Pixels deflate by 2 to 10; a bomb by hundreds and more. Small entries may pack well and do no harm. */
const MAX_RATIO = 200;
const SMALL_ENTRY_BYTES = 4 << 20;
const MAX_TOTAL_BYTES = 64 * 2 ** 30;
const MAX_DIRECTORY_BYTES = 128 << 20;
const END_SIGNATURE = 0x06054b50;
const END64_LOCATOR_SIGNATURE = 0x07064b50;
const END64_SIGNATURE = 0x06064b50;
const ENTRY_SIGNATURE = 0x02014b50;

export interface ZipDirectory {
  readonly files: readonly InputFile[];
  readonly unreadable: readonly UnreadableFile[];
}

/**
 * The list of files in a zip archive, from its central directory; nothing is unpacked. Entries that are encrypted or
 * packed by another method than deflate are listed as unreadable.
 *
 * Fails   zip-broken, zip-too-large (bomb), zip-path-outside ('..', absolute or drive path), too-many-files
 * Source  APPNOTE.TXT 6.3, sections 4.3.12, 4.3.14-4.3.16 [M]
 */
export async function readZipDirectory(handle: FileHandle, path: string, fileBytes: number): Promise<Result<ZipDirectory, ListFailureCode>> {
  const end = await findEnd(handle, fileBytes);
  if (!end) return failBroken('its directory is missing');
  if (end.entries > MAX_ZIP_ENTRIES) return fail('too-many-files', `The archive lists ${end.entries} files; ${MAX_ZIP_ENTRIES} are the most.`, 'Split the archive and give one study.', { files: end.entries });
  if (end.size > MAX_DIRECTORY_BYTES || end.offset + end.size > fileBytes) return failBroken('its directory lies outside the file');
  const directory = Buffer.alloc(end.size);
  const { bytesRead } = await handle.read(directory, 0, end.size, end.offset);
  if (bytesRead !== end.size) return failBroken('its directory ends early');

  const files: InputFile[] = [];
  const unreadable: UnreadableFile[] = [];
  let totalBytes = 0;
  let at = 0;
  for (let n = 0; n < end.entries; n++) {
    if (at + 46 > directory.length || directory.readUInt32LE(at) !== ENTRY_SIGNATURE) return failBroken('an entry of its directory is damaged');
    const flags = directory.readUInt16LE(at + 8);
    const method = directory.readUInt16LE(at + 10);
    const nameLength = directory.readUInt16LE(at + 28);
    const extraLength = directory.readUInt16LE(at + 30);
    const next = at + 46 + nameLength + extraLength + directory.readUInt16LE(at + 32);
    if (next > directory.length) return failBroken('an entry of its directory is damaged');
    const name = directory.toString((flags & 0x800) !== 0 ? 'utf8' : 'latin1', at + 46, at + 46 + nameLength).replaceAll('\\', '/');
    const sizes = readSizes(directory, at, at + 46 + nameLength, extraLength);
    at = next;
    if (name.endsWith('/')) continue;
    if (isOutside(name)) {
      return fail('zip-path-outside', 'An entry of the archive points outside of it. Nothing was unpacked.', 'Do not trust this archive; ask its sender.', { entry: n });
    }
    if (isBomb(sizes.packedBytes, sizes.bytes, fileBytes)) return failBomb(n, sizes.bytes);
    totalBytes += sizes.bytes;
    if (totalBytes > MAX_TOTAL_BYTES) return failBomb(n, totalBytes);
    if ((flags & 1) !== 0) unreadable.push({ label: name, code: 'zip-entry-encrypted' });
    else if (method !== 0 && method !== 8) unreadable.push({ label: name, code: 'zip-method-unsupported' });
    else if (sizes.headerOffset + 30 > fileBytes) unreadable.push({ label: name, code: 'zip-entry-broken' });
    else files.push({ kind: 'zip-entry', label: name, path, ...sizes, method: method === 0 ? 'stored' : 'deflated' });
  }
  return succeed({ files, unreadable });
}

interface End {
  readonly entries: number;
  readonly size: number;
  readonly offset: number;
}

async function findEnd(handle: FileHandle, fileBytes: number): Promise<End | null> {
  const length = Math.min(fileBytes, 65_557);
  const tail = Buffer.alloc(length);
  await handle.read(tail, 0, length, fileBytes - length);
  for (let at = length - 22; at >= 0; at--) {
    if (tail.readUInt32LE(at) !== END_SIGNATURE || at + 22 + tail.readUInt16LE(at + 20) > length) continue;
    const end = { entries: tail.readUInt16LE(at + 10), size: tail.readUInt32LE(at + 12), offset: tail.readUInt32LE(at + 16) };
    const isZip64 = end.entries === 0xffff || end.size === 0xffffffff || end.offset === 0xffffffff;
    if (!isZip64) return end;
    return at >= 20 && tail.readUInt32LE(at - 20) === END64_LOCATOR_SIGNATURE ? readEnd64(handle, Number(tail.readBigUInt64LE(at - 12))) : end;
  }
  return null;
}

async function readEnd64(handle: FileHandle, offset: number): Promise<End | null> {
  const block = Buffer.alloc(56);
  const { bytesRead } = await handle.read(block, 0, 56, offset);
  if (bytesRead !== 56 || block.readUInt32LE(0) !== END64_SIGNATURE) return null;
  return { entries: Number(block.readBigUInt64LE(32)), size: Number(block.readBigUInt64LE(40)), offset: Number(block.readBigUInt64LE(48)) };
}

/** Sizes and offset, from the zip64 extra field where the 32-bit fields are full. */
function readSizes(directory: Buffer, at: number, extraAt: number, extraLength: number): { packedBytes: number; bytes: number; headerOffset: number } {
  let packedBytes = directory.readUInt32LE(at + 20);
  let bytes = directory.readUInt32LE(at + 24);
  let headerOffset = directory.readUInt32LE(at + 42);
  for (let e = extraAt; e + 4 <= extraAt + extraLength; e += 4 + directory.readUInt16LE(e + 2)) {
    if (directory.readUInt16LE(e) !== 1) continue;
    let from = e + 4;
    const end = Math.min(from + directory.readUInt16LE(e + 2), extraAt + extraLength);
    const take = (): number | null => {
      if (from + 8 > end) return null;
      from += 8;
      return Number(directory.readBigUInt64LE(from - 8));
    };
    if (bytes === 0xffffffff) bytes = take() ?? bytes;
    if (packedBytes === 0xffffffff) packedBytes = take() ?? packedBytes;
    if (headerOffset === 0xffffffff) headerOffset = take() ?? headerOffset;
  }
  return { packedBytes, bytes, headerOffset };
}

function isOutside(name: string): boolean {
  return name.startsWith('/') || /^[a-z]:/i.test(name) || name.includes('\0') || name.split('/').includes('..');
}

function isBomb(packedBytes: number, bytes: number, fileBytes: number): boolean {
  if (bytes > MAX_ENTRY_BYTES || packedBytes > fileBytes) return true;
  return bytes > SMALL_ENTRY_BYTES && bytes > MAX_RATIO * packedBytes;
}

function failBroken(what: string) {
  return fail('zip-broken' as const, `The zip archive cannot be read: ${what}.`, 'Copy or export the archive again.', {});
}
function failBomb(entry: number, bytes: number) {
  return fail('zip-too-large' as const, `An entry of the archive would unpack to ${bytes} bytes, far beyond what pictures do. Nothing was unpacked.`,
    'Do not trust this archive; ask its sender.', { entry, bytes });
}
