import { fail, succeed, type Result } from '../../core/result.ts';
import { inflateBounded } from '../inflate/inflate-bounded.ts';
import type { ByteSource, ZipEntry, ZipFailureCode, ZipListing, ZipSkipCode } from './zip-types.ts';

const END_BYTES = 22;
const MAX_COMMENT = 65535;
const MAX_ENTRIES = 200_000;
const MAX_DIRECTORY_BYTES = 1 << 27;
const MAX_ENTRY_BYTES = 2 ** 32;
/** Stored CT compresses 2-4 : 1 and an empty phantom some 100 : 1; bombs live far above. */
const MAX_TOTAL_RATIO = 250;
/** Below this total, no ratio does harm. */
const HARMLESS_TOTAL_BYTES = 2 ** 30;
const LOCAL_BYTES = 30;

/**
 * Lists a zip archive from its central directory (zip64 included) without unpacking anything.
 *
 * Fails   not-zip, zip-broken, zip-too-many-entries, zip-bomb (announced ratio, or entries that share bytes)
 * Skips   entries that are encrypted, oddly packed, too large, or whose name leads outside the folder
 * Source  APPNOTE 6.3.10 sections 4.3, 4.4, 4.5.3; docs/methods/dicom-intake.md
 */
export function listZipEntries(source: ByteSource): Result<ZipListing, ZipFailureCode> {
  const directory = findDirectory(source);
  if (directory === null)
    return fail('not-zip', 'The file has no zip directory.', 'Unpack it elsewhere or copy it again.', {
      bytes: source.size,
    });
  const { count, offset, length } = directory;
  if (count > MAX_ENTRIES || length > MAX_DIRECTORY_BYTES) {
    return fail(
      'zip-too-many-entries',
      `The archive lists ${count} entries; ${MAX_ENTRIES} are the limit.`,
      'Unpack only the CT series and give its folder.',
      { entries: count },
    );
  }
  const bytes = source.read(offset, length);
  if (bytes === null) return failZip(`its directory of ${length} bytes is not there`);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const entries: ZipEntry[] = [];
  const skipped: { index: number; code: ZipSkipCode }[] = [];
  let at = 0;
  for (let index = 0; index < count; index++) {
    if (at + 46 > bytes.length || view.getUint32(at, true) !== 0x02014b50)
      return failZip(`its directory breaks at entry ${index + 1} of ${count}`);
    const nameLength = view.getUint16(at + 28, true);
    const extraLength = view.getUint16(at + 30, true);
    const next = at + 46 + nameLength + extraLength + view.getUint16(at + 32, true);
    if (next > bytes.length) return failZip(`its directory breaks at entry ${index + 1} of ${count}`);
    const read = readEntry(bytes, view, at, nameLength, extraLength);
    if (typeof read === 'string') skipped.push({ index, code: read });
    else if (read !== null) entries.push(read);
    at = next;
  }
  const bomb = findBomb(entries, source.size);
  return bomb === null ? succeed({ entries, skipped }) : bomb;
}

function failZip(why: string): Result<never, ZipFailureCode> {
  return fail('zip-broken', `The archive cannot be listed: ${why}.`, 'Copy or pack the archive again.', {});
}

function findDirectory(source: ByteSource): { count: number; offset: number; length: number } | null {
  const tailLength = Math.min(source.size, END_BYTES + MAX_COMMENT);
  const tail = tailLength < END_BYTES ? null : source.read(source.size - tailLength, tailLength);
  if (tail === null) return null;
  const view = new DataView(tail.buffer, tail.byteOffset, tail.length);
  for (let at = tail.length - END_BYTES; at >= 0; at--) {
    if (view.getUint32(at, true) !== 0x06054b50) continue;
    const short = {
      count: view.getUint16(at + 10, true),
      length: view.getUint32(at + 12, true),
      offset: view.getUint32(at + 16, true),
    };
    const isZip64 = short.count === 0xffff || short.length === 0xffffffff || short.offset === 0xffffffff;
    return (isZip64 ? findZip64Directory(source, source.size - tailLength + at) : null) ?? short;
  }
  return null;
}

function findZip64Directory(
  source: ByteSource,
  endAt: number,
): { count: number; offset: number; length: number } | null {
  const locator = endAt < 20 ? null : source.read(endAt - 20, 20);
  if (locator === null || readUint32(locator, 0) !== 0x07064b50) return null;
  const record = source.read(readUint64(locator, 8), 56);
  if (record === null || readUint32(record, 0) !== 0x06064b50) return null;
  return { count: readUint64(record, 32), length: readUint64(record, 40), offset: readUint64(record, 48) };
}

function readUint32(bytes: Uint8Array, at: number): number {
  return new DataView(bytes.buffer, bytes.byteOffset).getUint32(at, true);
}
function readUint64(bytes: Uint8Array, at: number): number {
  return readUint32(bytes, at) + readUint32(bytes, at + 4) * 4294967296;
}

/** null for a folder; a code for an entry that is left out. */
function readEntry(
  bytes: Uint8Array,
  view: DataView,
  at: number,
  nameLength: number,
  extraLength: number,
): ZipEntry | ZipSkipCode | null {
  const flags = view.getUint16(at + 8, true);
  const method = view.getUint16(at + 10, true);
  const nameBytes = bytes.subarray(at + 46, at + 46 + nameLength);
  const name =
    (flags & 0x800) !== 0 ? new TextDecoder('utf-8').decode(nameBytes) : String.fromCharCode(...nameBytes);
  const path = cleanEntryPath(name);
  if (path === null) return 'name-unsafe';
  if (/[/\\]$/.test(name)) return null;
  if ((flags & 0x2041) !== 0) return 'entry-encrypted'; // encrypted, strongly encrypted or with a masked directory
  if (method !== 0 && method !== 8) return 'method-unsupported';
  const extra = bytes.subarray(at + 46 + nameLength, at + 46 + nameLength + extraLength);
  const sizes = readSizes(view, at, extra);
  if (sizes === null || (method === 0 && sizes.packedBytes !== sizes.bytes)) return 'entry-broken';
  if (sizes.bytes > MAX_ENTRY_BYTES) return 'entry-too-large';
  return {
    path,
    ...sizes,
    method: method === 0 ? 'stored' : 'deflated',
    crc32: view.getUint32(at + 16, true),
  };
}

/** Sizes and place; where the 32-bit field is full, the zip64 extra field holds them in this order (4.5.3). */
function readSizes(
  view: DataView,
  at: number,
  extra: Uint8Array,
): Pick<ZipEntry, 'packedBytes' | 'bytes' | 'headerOffset'> | null {
  const fields = [
    view.getUint32(at + 24, true),
    view.getUint32(at + 20, true),
    view.getUint32(at + 42, true),
  ];
  if (fields.some((field) => field === 0xffffffff)) {
    const wide = findExtra(extra, 1);
    let from = 0;
    for (const [i, field] of fields.entries()) {
      if (field !== 0xffffffff) continue;
      if (wide === null || from + 8 > wide.length) return null;
      fields[i] = readUint64(wide, from);
      from += 8;
    }
  }
  return { bytes: fields[0]!, packedBytes: fields[1]!, headerOffset: fields[2]! };
}

function findExtra(extra: Uint8Array, id: number): Uint8Array | null {
  for (let at = 0; at + 4 <= extra.length;) {
    const length = extra[at + 2]! | (extra[at + 3]! << 8);
    if ((extra[at]! | (extra[at + 1]! << 8)) === id)
      return extra.subarray(at + 4, Math.min(at + 4 + length, extra.length));
    at += 4 + length;
  }
  return null;
}

/**
 * A path that stays inside the folder it is unpacked to, or null: absolute paths, drive letters, '..' parts, control
 * characters and empty names are refused whole, not repaired.
 */
export function cleanEntryPath(name: string): string | null {
  const path = name.replaceAll('\\', '/');
  // eslint-disable-next-line no-control-regex
  if (
    path === '' ||
    path.length > 4096 ||
    path.startsWith('/') ||
    /^[a-zA-Z]:/.test(path) ||
    /[\u0000-\u001f\u007f]/.test(path)
  )
    return null;
  const parts = path.split('/').filter((part) => part !== '' && part !== '.');
  return parts.length === 0 || parts.includes('..') ? null : parts.join('/');
}

function findBomb(entries: readonly ZipEntry[], archiveBytes: number): Result<never, ZipFailureCode> | null {
  const total = entries.reduce((sum, entry) => sum + entry.bytes, 0);
  if (total > HARMLESS_TOTAL_BYTES && total > archiveBytes * MAX_TOTAL_RATIO) {
    return fail(
      'zip-bomb',
      `The archive of ${archiveBytes} bytes announces ${total} bytes of content.`,
      'Do not unpack it; ask for the series again.',
      { archiveBytes, totalBytes: total },
    );
  }
  const byPlace = [...entries].sort((a, b) => a.headerOffset - b.headerOffset);
  for (let i = 1; i < byPlace.length; i++) {
    const before = byPlace[i - 1]!;
    if (before.headerOffset + LOCAL_BYTES + before.packedBytes > byPlace[i]!.headerOffset) {
      return fail(
        'zip-bomb',
        'Entries of the archive share the same bytes.',
        'Do not unpack it; ask for the series again.',
        { entries: entries.length },
      );
    }
  }
  return null;
}

/**
 * Unpacks one entry and checks its size and CRC-32; at most entry.bytes are ever held.
 *
 * Fails   entry-broken, entry-too-large (beyond maxBytes)
 */
export function readZipEntry(
  source: ByteSource,
  entry: ZipEntry,
  maxBytes = MAX_ENTRY_BYTES,
): Result<Uint8Array, ZipFailureCode> {
  if (entry.bytes > maxBytes) {
    return fail(
      'entry-too-large',
      `The entry unpacks to ${entry.bytes} bytes; ${maxBytes} are the limit.`,
      'Unpack only the CT series and give its folder.',
      { bytes: entry.bytes, maxBytes },
    );
  }
  const local = source.read(entry.headerOffset, LOCAL_BYTES);
  if (local === null || readUint32(local, 0) !== 0x04034b50)
    return failEntry('its header is not where the directory says');
  const dataAt =
    entry.headerOffset + LOCAL_BYTES + (local[26]! | (local[27]! << 8)) + (local[28]! | (local[29]! << 8));
  const packed = source.read(dataAt, entry.packedBytes);
  if (packed === null) return failEntry('its data reach beyond the archive');
  let bytes = packed;
  if (entry.method === 'deflated') {
    const inflated = inflateBounded(packed, {
      kind: 'raw',
      maxBytes: entry.bytes,
      atBound: 'refuse',
      isSizeKnown: true,
    });
    if (!inflated.ok)
      return failEntry(
        inflated.failure.code === 'inflates-too-large'
          ? 'it unpacks to more than announced'
          : 'its data cannot be unpacked',
      );
    bytes = inflated.value;
  }
  return computeCrc32(bytes) === entry.crc32 ? succeed(bytes) : failEntry('its checksum differs');
}

function failEntry(why: string): Result<never, ZipFailureCode> {
  return fail(
    'entry-broken',
    `An entry of the archive cannot be read: ${why}.`,
    'Copy or pack the archive again.',
    {},
  );
}

const CRC_TABLE = Int32Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k++) c = (c & 1) !== 0 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c;
});

/** CRC-32 of APPNOTE 4.4.7 (ISO 3309, reflected 0x04C11DB7). */
export function computeCrc32(bytes: Uint8Array): number {
  let crc = -1;
  for (let i = 0; i < bytes.length; i++) crc = CRC_TABLE[(crc ^ bytes[i]!) & 255]! ^ (crc >>> 8);
  return (crc ^ -1) >>> 0;
}
