import { closeSync, openSync, readSync } from 'node:fs';
import * as zlib from 'node:zlib';
import { fail, succeed, type Result } from '../../core/result.ts';
import { computeCrc32 } from '../../formats/zip/read-zip.ts';
import type { InputFile } from './intake-types.ts';

export type ReadFailureCode = 'file-not-readable' | 'file-too-large' | 'file-shrunk' | 'zip-entry-broken';

/** No single input is read whole beyond this (Node's own limit for one read is 2 GB). */
export const MAX_INPUT_BYTES = 2 ** 31 - 1;
const LOCAL_SIGNATURE = 0x04034b50;

/**
 * The first `bytes` bytes of an input, fewer when it is shorter. A packed entry is inflated up to there; a plain file
 * is read into `into` when that is given.
 * Fails   file-not-readable, zip-entry-broken
 */
export function readInputHead(input: InputFile, bytes: number, into?: Uint8Array): Result<Uint8Array, ReadFailureCode> {
  if (input.kind === 'file') return readPart(input.path, 0, Math.min(bytes, input.bytes), into);
  // Deflate of headers gains little; with 1 kB more the packed part nearly always holds what is asked for.
  const packed = readPacked(input, input.method === 'stored' ? bytes : bytes + 1024);
  if (!packed.ok) return packed;
  if (input.method === 'stored') return succeed(packed.value.subarray(0, Math.min(bytes, input.bytes)));
  return inflate(packed.value, bytes, input, false);
}

/**
 * All bytes of an input.
 * Fails   file-not-readable, file-too-large, file-shrunk (changed since it was listed), zip-entry-broken
 */
export function readInput(input: InputFile): Result<Uint8Array, ReadFailureCode> {
  if (input.bytes > MAX_INPUT_BYTES) {
    return fail('file-too-large', `The file has ${input.bytes} bytes; ${MAX_INPUT_BYTES} are the most.`, 'Export the series as one file per slice.', { bytes: input.bytes });
  }
  if (input.kind === 'file') return checkLength(readPart(input.path, 0, input.bytes), input);
  const packed = readPacked(input, input.packedBytes);
  if (!packed.ok) return packed;
  const whole = checkLength(input.method === 'stored' ? packed : inflate(packed.value, input.bytes, input, true), input);
  return whole.ok && computeCrc(whole.value) !== input.crc32 ? failEntry() : whole;
}

/** Node's own is ten times as fast, and there from Node 20.15 on. */
const computeCrc: (bytes: Uint8Array) => number = zlib.crc32 ?? computeCrc32;

/** Bytes `from` to `from + length` of a plain file, fewer when it ends before; into `into` when that is given. */
export function readPart(path: string, from: number, length: number, into?: Uint8Array): Result<Uint8Array, ReadFailureCode> {
  let handle: number | null = null;
  try {
    handle = openSync(path, 'r');
    const bytes = into ? into.subarray(0, length) : Buffer.allocUnsafeSlow(length);
    let at = 0;
    while (at < length) {
      const count = readSync(handle, bytes, at, length - at, from + at);
      if (count === 0) break;
      at += count;
    }
    return succeed(at === length ? bytes : bytes.subarray(0, at));
  } catch (problem) {
    const code = (problem as NodeJS.ErrnoException).code ?? 'unknown';
    return fail('file-not-readable', `The system does not let the file be read (${code}).`, 'Check the rights of the folder.', { system: code });
  } finally {
    if (handle !== null) closeSync(handle);
  }
}

function readPacked(input: InputFile & { kind: 'zip-entry' }, bytes: number): Result<Uint8Array, ReadFailureCode> {
  const local = readPart(input.path, input.headerOffset, 30);
  if (!local.ok) return local;
  const view = Buffer.from(local.value.buffer, local.value.byteOffset, local.value.length);
  if (view.length < 30 || view.readUInt32LE(0) !== LOCAL_SIGNATURE) return failEntry();
  const from = input.headerOffset + 30 + view.readUInt16LE(26) + view.readUInt16LE(28);
  return readPart(input.path, from, Math.min(bytes, input.packedBytes));
}

function inflate(packed: Uint8Array, bytes: number, input: InputFile, isWhole: boolean): Result<Uint8Array, ReadFailureCode> {
  // zlib's own bound stops a lying entry: it may not grow beyond what the directory states.
  try {
    if (isWhole) return succeed(zlib.inflateRawSync(packed, { maxOutputLength: Math.max(1, input.bytes) }));
    const part = zlib.inflateRawSync(packed, { finishFlush: zlib.constants.Z_SYNC_FLUSH, maxOutputLength: Math.max(1, input.bytes) });
    return succeed(part.subarray(0, Math.min(bytes, input.bytes)));
  } catch {
    return failEntry();
  }
}

function checkLength(read: Result<Uint8Array, ReadFailureCode>, input: InputFile): Result<Uint8Array, ReadFailureCode> {
  if (!read.ok || read.value.length === input.bytes) return read;
  return fail('file-shrunk', `The file gave ${read.value.length} of ${input.bytes} bytes; it changed while it was read, or is damaged.`,
    'Wait until the export has ended and try again.', { bytes: read.value.length, stated: input.bytes });
}

function failEntry() {
  return fail('zip-entry-broken' as const, 'An entry of the archive is damaged.', 'Copy or export the archive again.', {});
}
