import { zipSync } from 'fflate';
import { describe, expect, test } from 'vitest';
import { cleanEntryPath, computeCrc32, listZipEntries, readZipEntry } from './read-zip.ts';
import { sourceOfBytes, type ZipListing } from './zip-types.ts';

const text = (value: string): Uint8Array => new TextEncoder().encode(value);
const slices = { 'study/a/1.dcm': text('first'.repeat(100)), 'study/b/2.dcm': text('second') };
const archive = zipSync({ ...slices, 'study/empty/': new Uint8Array(0) });

function listed(bytes: Uint8Array): ZipListing {
  const result = listZipEntries(sourceOfBytes(bytes));
  if (!result.ok) throw new Error(result.failure.message);
  return result.value;
}
function codeOf(bytes: Uint8Array): string {
  const result = listZipEntries(sourceOfBytes(bytes));
  return result.ok ? 'ok' : result.failure.code;
}
/** Where the n-th central directory record of an archive begins. */
function recordAt(bytes: Uint8Array, n: number): number {
  for (let at = 0, seen = 0; at + 4 <= bytes.length; at++) {
    const isRecord =
      bytes[at] === 0x50 && bytes[at + 1] === 0x4b && bytes[at + 2] === 1 && bytes[at + 3] === 2;
    if (isRecord && seen++ === n) return at;
  }
  throw new Error('no such record');
}
function changed(at: number, values: readonly number[], from: Uint8Array = archive): Uint8Array {
  const copy = from.slice();
  copy.set(values, at);
  return copy;
}
const first = recordAt(archive, 0);

describe('listZipEntries and readZipEntry', () => {
  test('lists files, not folders, and gives back each entry', () => {
    const { entries, skipped } = listed(archive);
    expect(entries.map((entry) => entry.path)).toEqual(Object.keys(slices));
    expect(skipped).toEqual([]);
    for (const entry of entries) {
      const bytes = readZipEntry(sourceOfBytes(archive), entry);
      expect(bytes.ok && bytes.value).toEqual(slices[entry.path as keyof typeof slices]);
    }
  });

  test('reads stored entries and an archive with a comment or bytes after it', () => {
    const stored = zipSync(slices, { level: 0 });
    const { entries } = listed(stored);
    expect(entries[0]).toMatchObject({ method: 'stored', bytes: 500 });
    expect(readZipEntry(sourceOfBytes(stored), entries[0]!).ok).toBe(true);
    const withTail = new Uint8Array(archive.length + 100);
    withTail.set(archive);
    expect(listed(withTail).entries.length).toBe(2);
  });

  test('reads zip64 sizes and a zip64 directory', () => {
    const data = text('hello zip64');
    const crc = computeCrc32(data);
    const u16 = (v: number): number[] => [v & 255, v >>> 8];
    const u32 = (v: number): number[] => [v & 255, (v >>> 8) & 255, (v >>> 16) & 255, v >>> 24];
    const u64 = (v: number): number[] => [...u32(v), 0, 0, 0, 0];
    const full = [255, 255, 255, 255];
    const name = [...text('a.dcm')];
    const local = [
      ...u32(0x04034b50),
      ...u16(45),
      0,
      0,
      0,
      0,
      0,
      0,
      0,
      0,
      ...u32(crc),
      ...full,
      ...full,
      ...u16(5),
      0,
      0,
      ...name,
      ...data,
    ];
    const extra = [...u16(1), ...u16(24), ...u64(11), ...u64(11), ...u64(0)];
    const central = [
      ...u32(0x02014b50),
      0,
      0,
      ...u16(45),
      0,
      0,
      0,
      0,
      0,
      0,
      0,
      0,
      ...u32(crc),
      ...full,
      ...full,
      ...u16(5),
      ...u16(extra.length),
      ...new Array<number>(10).fill(0),
      ...full,
      ...name,
      ...extra,
    ];
    const end64At = local.length + central.length;
    const end64 = [
      ...u32(0x06064b50),
      ...u64(44),
      ...u16(45),
      ...u16(45),
      ...u32(0),
      ...u32(0),
      ...u64(1),
      ...u64(1),
      ...u64(central.length),
      ...u64(local.length),
    ];
    const locator = [...u32(0x07064b50), ...u32(0), ...u64(end64At), ...u32(1)];
    const end = [...u32(0x06054b50), 0, 0, 0, 0, 255, 255, 255, 255, ...full, ...full, 0, 0];
    const bytes = Uint8Array.from([...local, ...central, ...end64, ...locator, ...end]);
    const { entries } = listed(bytes);
    expect(entries).toMatchObject([{ path: 'a.dcm', bytes: 11, packedBytes: 11, headerOffset: 0 }]);
    const read = readZipEntry(sourceOfBytes(bytes), entries[0]!);
    expect(read.ok && read.value).toEqual(data);
  });

  test('leaves out encrypted and oddly packed entries by name of the reason', () => {
    expect(listed(changed(first + 8, [1, 0])).skipped).toEqual([{ index: 0, code: 'entry-encrypted' }]);
    expect(listed(changed(first + 10, [12, 0])).skipped).toEqual([{ index: 0, code: 'method-unsupported' }]);
  });

  test.each(['../x.dcm', 'a/../../x', '/etc/x', 'C:\\x', '..\\x', '\\\\host\\x', '', 'a\u0000b', '.', './'])(
    'refuses the path %j',
    (name) => {
      expect(cleanEntryPath(name)).toBeNull();
    },
  );

  test('cleans harmless paths, and leaves out hostile ones of an archive', () => {
    expect(cleanEntryPath('a\\b//./c.dcm')).toBe('a/b/c.dcm');
    expect(cleanEntryPath('..a/b..')).toBe('..a/b..');
    const { entries, skipped } = listed(zipSync({ '../../evil.dcm': text('x'), 'good.dcm': text('y') }));
    expect(entries.map((entry) => entry.path)).toEqual(['good.dcm']);
    expect(skipped).toEqual([{ index: 0, code: 'name-unsafe' }]);
  });

  test('refuses a wrong checksum, size or place of an entry', () => {
    const codeOfEntry = (bytes: Uint8Array): string => {
      const entry = listed(bytes).entries[0]!;
      const result = readZipEntry(sourceOfBytes(bytes), entry);
      return result.ok ? 'ok' : result.failure.code;
    };
    expect(codeOfEntry(changed(first + 16, [1, 2, 3, 4]))).toBe('entry-broken');
    expect(codeOfEntry(changed(first + 24, [0xf3, 1, 0, 0]))).toBe('entry-broken'); // one byte less than there is
    expect(codeOfEntry(changed(first + 24, [0xf5, 1, 0, 0]))).toBe('entry-broken'); // one byte more
    expect(codeOfEntry(changed(first + 42, [1, 0, 0, 0]))).toBe('entry-broken');
    const entry = listed(archive).entries[0]!;
    const bounded = readZipEntry(sourceOfBytes(archive), entry, 100);
    expect(bounded.ok ? 'ok' : bounded.failure.code).toBe('entry-too-large');
  });

  test('refuses a bomb by its announced size, by shared bytes, and by what really comes out', () => {
    const zeros = zipSync({ 'a.dcm': new Uint8Array(4 << 20) });
    const record = recordAt(zeros, 0);
    expect(codeOf(changed(record + 24, [0, 0, 0, 0x7f], zeros))).toBe('zip-bomb');
    const second = recordAt(archive, 1);
    expect(codeOf(changed(second + 42, [0, 0, 0, 0]))).toBe('zip-bomb');
    const lying = changed(record + 24, [16, 0, 0, 0], zeros);
    const result = readZipEntry(sourceOfBytes(lying), listed(lying).entries[0]!);
    expect(result.ok ? 'ok' : result.failure.code).toBe('entry-broken');
  });

  test('refuses what is no archive, and one cut in its directory', () => {
    expect(codeOf(new Uint8Array(0))).toBe('not-zip');
    expect(codeOf(text('PK not a zip'.repeat(10)))).toBe('not-zip');
    expect(codeOf(archive.subarray(0, archive.length - 30))).toBe('not-zip');
    expect(codeOf(changed(first, [0]))).toBe('zip-broken');
  });

  test('computes the CRC-32 check value of the standard', () => {
    expect(computeCrc32(text('123456789'))).toBe(0xcbf43926);
  });
});
