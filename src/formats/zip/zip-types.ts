/** Bytes of a file by position; the host reads from disk, tests from memory. */
export interface ByteSource {
  readonly size: number;
  /** Exactly `length` bytes, or null when they are not there. Never throws. */
  read(offset: number, length: number): Uint8Array | null;
}

export interface ZipEntry {
  /** Relative, '/'-separated, with no part that leads outside. */
  readonly path: string;
  readonly packedBytes: number;
  readonly bytes: number;
  readonly method: 'stored' | 'deflated';
  readonly crc32: number;
  readonly headerOffset: number;
}

export interface ZipListing {
  readonly entries: readonly ZipEntry[];
  /** Entries left out, with the reason and their place in the directory (names may be hostile). */
  readonly skipped: readonly { readonly index: number; readonly code: ZipSkipCode }[];
}

export type ZipSkipCode =
  'name-unsafe' | 'entry-encrypted' | 'method-unsupported' | 'entry-too-large' | 'entry-broken';
export type ZipFailureCode =
  'not-zip' | 'zip-broken' | 'zip-too-many-entries' | 'zip-bomb' | 'entry-broken' | 'entry-too-large';

export function sourceOfBytes(bytes: Uint8Array): ByteSource {
  return {
    size: bytes.length,
    read: (offset, length) =>
      offset >= 0 && length >= 0 && offset + length <= bytes.length
        ? bytes.subarray(offset, offset + length)
        : null,
  };
}
