import { closeSync, openSync, readSync } from 'node:fs';
import { fail, succeed, type Result } from '../../core/result.ts';
import { listZipEntries } from '../../formats/zip/read-zip.ts';
import type { ByteSource } from '../../formats/zip/zip-types.ts';
import type { InputFile, InputListing, ListFailureCode } from './intake-types.ts';

/**
 * The files in a zip archive; nothing is unpacked. An archive with one entry that leads outside is refused whole:
 * whoever made it meant harm or made a mistake, and neither should be measured on.
 *
 * Fails   zip-broken, zip-bomb, zip-path-outside, too-many-files
 */
export function listZip(path: string, bytes: number): Result<InputListing, ListFailureCode> {
  let handle: number;
  try {
    handle = openSync(path, 'r');
  } catch {
    return fail('input-not-readable', 'The system does not let the file be read.', 'Check the rights of the file.', {});
  }
  try {
    const listed = listZipEntries(makeFileSource(handle, bytes));
    if (!listed.ok) {
      const { code, message, nextStep, evidence } = listed.failure;
      const own = code === 'zip-too-many-entries' ? 'too-many-files' : code === 'zip-bomb' ? 'zip-bomb' : 'zip-broken';
      return fail(own, message, nextStep, evidence);
    }
    const { entries, skipped } = listed.value;
    const outside = skipped.filter((entry) => entry.code === 'name-unsafe');
    if (outside.length > 0) {
      return fail('zip-path-outside', `The archive holds ${outside.length} ${outside.length === 1 ? 'entry' : 'entries'} whose name leads outside of it. Nothing was unpacked.`,
        'Do not trust this archive; ask its sender.', { entries: outside.length });
    }
    const files = entries.map((entry): InputFile => ({
      kind: 'zip-entry', label: entry.path, path, bytes: entry.bytes, packedBytes: entry.packedBytes,
      headerOffset: entry.headerOffset, method: entry.method, crc32: entry.crc32,
    }));
    // Names of left-out entries are not repeated: they were not judged safe to show.
    const unreadable = skipped.map((entry) => ({ label: `entry ${entry.index + 1}`, code: entry.code }));
    return succeed({ kind: 'zip', files, unreadable });
  } finally {
    closeSync(handle);
  }
}

function makeFileSource(handle: number, size: number): ByteSource {
  return {
    size,
    read(offset, length) {
      if (!(offset >= 0 && length >= 0 && offset + length <= size)) return null;
      const bytes = Buffer.allocUnsafe(length);
      try {
        let at = 0;
        while (at < length) {
          const count = readSync(handle, bytes, at, length - at, offset + at);
          if (count === 0) return null;
          at += count;
        }
        return bytes;
      } catch {
        return null;
      }
    },
  };
}
