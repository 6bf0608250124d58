import { Gunzip, Inflate } from 'fflate';
import { fail, succeed, type Result } from '../../core/result.ts';

export type InflateFailureCode = 'deflate-broken' | 'inflates-too-large';

/**
 * Deflate expands at most 1032 : 1 (zlib technical notes), so small chunks keep what comes out beyond the bound small.
 * Real pictures expand 2 to 5 : 1 and may take large ones, which are three times as fast.
 */
const SMALL_CHUNK_BYTES = 1024;
const LARGE_CHUNK_BYTES = 32768;
const PICTURE_EXPANSION = 32;
const MAX_EXPANSION = 1032;

interface InflateOptions {
  readonly kind: 'raw' | 'gzip';
  /** The answer never holds more than this; what happens at the bound is `atBound`. */
  readonly maxBytes: number;
  /** 'refuse': more output than the bound is a failure. 'stop': give the first maxBytes (reading a head). */
  readonly atBound: 'refuse' | 'stop';
  /** The input may stop early (the head of a file): give what came out so far. */
  readonly isPartial?: boolean;
  /** maxBytes is what will come out: write straight into one buffer of that size (no second copy of a volume). */
  readonly isSizeKnown?: boolean;
}

/**
 * Inflates with a bound on the output, so that a small file cannot ask for unbounded memory.
 *
 * Fails  deflate-broken (not a deflate stream, or it ends early), inflates-too-large
 */
export function inflateBounded(
  packed: Uint8Array,
  options: InflateOptions,
): Result<Uint8Array, InflateFailureCode> {
  if (options.isSizeKnown === true && options.maxBytes > packed.length * MAX_EXPANSION) {
    return fail(
      'deflate-broken',
      `${packed.length} compressed bytes cannot hold the ${options.maxBytes} that the header states.`,
      'Copy or export the file again from its source.',
      { packedBytes: packed.length, statedBytes: options.maxBytes },
    );
  }
  const whole = options.isSizeKnown === true ? new Uint8Array(options.maxBytes) : null;
  const chunks: Uint8Array[] = [];
  let total = 0;
  let hasEnded = false;
  const onChunk = (chunk: Uint8Array, isFinal: boolean): void => {
    // A gzip file may hold several members; each of them reports an end.
    if (whole === null) chunks.push(chunk);
    else if (total < whole.length) whole.set(chunk.subarray(0, whole.length - total), total);
    total += chunk.length;
    if (isFinal) hasEnded = true;
  };
  const stream = options.kind === 'raw' ? new Inflate(onChunk) : new Gunzip(onChunk);
  try {
    let chunkBytes = SMALL_CHUNK_BYTES;
    let at = 0;
    while (at < packed.length && total <= options.maxBytes) {
      const end = Math.min(at + chunkBytes, packed.length);
      const before = total;
      stream.push(packed.subarray(at, end), end === packed.length && options.isPartial !== true);
      if (hasEnded || (options.atBound === 'stop' && total >= options.maxBytes)) break;
      chunkBytes = total - before > (end - at) * PICTURE_EXPANSION ? SMALL_CHUNK_BYTES : LARGE_CHUNK_BYTES;
      at = end;
    }
  } catch {
    if (!(options.isPartial === true && total > 0)) {
      return fail(
        'deflate-broken',
        `The compressed stream breaks after ${total} bytes of output.`,
        'Copy or export the file again from its source.',
        { packedBytes: packed.length, bytesOut: total },
      );
    }
  }
  if (total > options.maxBytes && options.atBound === 'refuse') {
    return fail(
      'inflates-too-large',
      `The compressed stream gives more than the ${options.maxBytes} bytes its header allows.`,
      'Do not use this file; export it again from its source.',
      { packedBytes: packed.length, maxBytes: options.maxBytes },
    );
  }
  if (whole !== null && total < whole.length) {
    return fail(
      'deflate-broken',
      `The compressed stream gives ${total} bytes of the ${whole.length} its header states.`,
      'Copy or export the file again from its source.',
      { packedBytes: packed.length, bytesOut: total },
    );
  }
  if (!hasEnded && options.isPartial !== true && total < options.maxBytes) {
    return fail(
      'deflate-broken',
      `The compressed stream ends early, after ${total} bytes of output.`,
      'Copy or export the file again from its source.',
      { packedBytes: packed.length, bytesOut: total },
    );
  }
  return succeed(whole ?? joinChunks(chunks, Math.min(total, options.maxBytes)));
}

function joinChunks(chunks: readonly Uint8Array[], length: number): Uint8Array {
  if (chunks.length === 1 && chunks[0]!.length === length) return chunks[0]!;
  const whole = new Uint8Array(length);
  let at = 0;
  for (const chunk of chunks) {
    const part = chunk.subarray(0, length - at);
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}
