import { fail, succeed, type Result } from '../../core/result.ts';
import { decodeRle } from './decode-rle.ts';
import type {
  DecodedFrame,
  DecodeFailureCode,
  FrameCodecs,
  PixelEncoding,
  StoredValues,
} from './dicom-types.ts';
import { findFrameBytes } from './find-frame-bytes.ts';
import { inflateBounded } from '../inflate/inflate-bounded.ts';
import { findBodyStart, prependHead } from './parse-part10.ts';
import { hasCodestreamEnd, readCodestreamShape } from './read-codestream-shape.ts';
import { findSyntaxRule } from './transfer-syntaxes.ts';

/** What decoding needs of a header: a CT slice's (CtSliceHeader) or that of a frame of an angiographic run. */
export interface FrameHeader {
  readonly encoding: PixelEncoding;
  readonly frameIndex: number;
}

/** The machines this runs on are little endian; a view instead of a copy is only right there. */
const IS_LITTLE_ENDIAN = new Uint8Array(Uint16Array.of(1).buffer)[0] === 1;

/**
 * Stored values of one frame (header.frameIndex) out of the bytes of the whole file.
 *
 * Shape     rows x columns values of 8 or 16 bits, row by row, sign-extended from bitsStored; Int16Array when the header
 *           says signed
 * Memory    uncompressed frames are a view into `fileBytes` (no copy) when its address is even: do not
 *           write into the answer, and drop it before reusing the buffer
 * Fails     transfer-syntax-unsupported, transfer-syntax-lossy, pixel-data-truncated, frame-missing,
 *           frame-size-differs, fragments-broken, rle-broken, deflate-broken, pixel-data-too-large,
 *           codestream-unreadable, codec-missing
 * Source    DICOM PS3.5 sections 8.1-8.2, A, G; docs/methods/dicom-intake.md
 * Accuracy  bit-exact for the lossless syntaxes
 */
export function decodeFrame(
  fileBytes: Uint8Array,
  header: FrameHeader,
  codecs: FrameCodecs,
): Result<StoredValues, DecodeFailureCode> {
  const bytes = openPixelBytes(fileBytes, header.encoding);
  return bytes.ok ? decodeFrameIn(bytes.value, header, codecs) : bytes;
}

/**
 * The bytes that pixel offsets count in: the file itself, or the file with its deflated body inflated (only as far as
 * its pixels reach). For a multi-frame deflated file: open once, then decodeFrameIn for each frame.
 */
export function openPixelBytes(
  fileBytes: Uint8Array,
  encoding: PixelEncoding,
): Result<Uint8Array, DecodeFailureCode> {
  const { isDeflated, offset, length } = encoding.pixelData;
  if (!isDeflated) return succeed(fileBytes);
  const frameBytes = encoding.rows * encoding.columns * (encoding.bitsAllocated / 8);
  const bodyStart = findBodyStart(fileBytes);
  const end = offset - bodyStart + Math.min(length ?? Infinity, frameBytes * encoding.frameCount);
  const inflated = inflateBounded(fileBytes.subarray(bodyStart), {
    kind: 'raw',
    maxBytes: end,
    atBound: 'stop',
  });
  if (!inflated.ok)
    return fail(
      'deflate-broken',
      inflated.failure.message,
      inflated.failure.nextStep,
      inflated.failure.evidence,
    );
  return succeed(prependHead(fileBytes, bodyStart, inflated.value));
}

/** As decodeFrame, on bytes from openPixelBytes. */
export function decodeFrameIn(
  bytes: Uint8Array,
  header: FrameHeader,
  codecs: FrameCodecs,
): Result<StoredValues, DecodeFailureCode> {
  const { encoding, frameIndex } = header;
  const rule = findSyntaxRule(encoding.transferSyntaxUid);
  if (rule === null) {
    return fail(
      'transfer-syntax-unsupported',
      `Transfer syntax ${encoding.transferSyntaxUid} is not one of those read here.`,
      'Export the series uncompressed or with a lossless compression.',
      { transferSyntaxUid: encoding.transferSyntaxUid },
    );
  }
  if (rule.kind === 'refused') {
    return fail(
      'transfer-syntax-lossy',
      `The pixels are stored as ${rule.name}: not good enough to measure on.`,
      'Export the series uncompressed or with a lossless compression.',
      { transferSyntaxUid: encoding.transferSyntaxUid },
    );
  }
  const pixelCount = encoding.rows * encoding.columns;
  if (!encoding.pixelData.isEncapsulated) {
    return rule.kind === 'native'
      ? readNative(bytes, encoding, frameIndex, pixelCount, rule.isBigEndian)
      : fail(
          'fragments-broken',
          'A compressed transfer syntax is stated, but the pixels are not in fragments.',
          'Export the file again from its source.',
          {
            transferSyntaxUid: encoding.transferSyntaxUid,
          },
        );
  }
  if (rule.kind === 'native') {
    return fail(
      'fragments-broken',
      'The pixels are in fragments, but the transfer syntax states none.',
      'Export the file again from its source.',
      { transferSyntaxUid: encoding.transferSyntaxUid },
    );
  }
  const packed = findFrameBytes(bytes, encoding, frameIndex);
  if (!packed.ok) return packed;
  if (rule.kind === 'rle') {
    const unpacked = decodeRle(packed.value, pixelCount, encoding.bitsAllocated === 8 ? 1 : 2);
    return unpacked.ok ? succeed(extendSign(unpacked.value, encoding, encoding.bitsStored)) : unpacked;
  }
  const shape = readCodestreamShape(packed.value);
  if (shape === null) {
    return fail(
      'codestream-unreadable',
      'The compressed frame has no frame header.',
      'Export the file again from its source.',
      { bytes: packed.value.length },
    );
  }
  // Checked before the decoder allocates: the picture inside must be the one the header announces.
  if (
    shape.rows !== encoding.rows ||
    shape.columns !== encoding.columns ||
    shape.samplesPerPixel !== 1 ||
    shape.bitsPerSample > 16
  ) {
    return failSize(encoding, shape.rows, shape.columns);
  }
  if (!hasCodestreamEnd(packed.value)) {
    return fail(
      'pixel-data-truncated',
      `The compressed frame ${frameIndex + 1} has no end marker: it is cut.`,
      'Copy or export the file again from its source.',
      { frame: frameIndex + 1, bytes: packed.value.length },
    );
  }
  const decoded = codecs[rule.codec](packed.value);
  if (!decoded.ok) return decoded;
  return unpackDecoded(decoded.value, encoding, shape.isSigned === true, shape.bitsPerSample, pixelCount);
}

function failSize(encoding: PixelEncoding, rows: number, columns: number): Result<never, DecodeFailureCode> {
  return fail(
    'frame-size-differs',
    `The compressed frame is ${columns} x ${rows}, the header says ${encoding.columns} x ${encoding.rows}.`,
    'Export the file again from its source.',
    { rows, columns, headerRows: encoding.rows, headerColumns: encoding.columns },
  );
}

function readNative(
  bytes: Uint8Array,
  encoding: PixelEncoding,
  frameIndex: number,
  pixelCount: number,
  isBigEndian: boolean,
): Result<StoredValues, DecodeFailureCode> {
  const { offset, length } = encoding.pixelData;
  const frameBytes = pixelCount * (encoding.bitsAllocated / 8);
  const start = offset + frameIndex * frameBytes;
  const end = start + frameBytes;
  if (end > bytes.length || end > offset + (length ?? 0)) {
    return fail(
      'pixel-data-truncated',
      `Frame ${frameIndex + 1} needs ${frameBytes} bytes; ${Math.max(0, Math.min(bytes.length, offset + (length ?? 0)) - start)} are there.`,
      'Copy or export the file again from its source.',
      { frame: frameIndex + 1, needBytes: frameBytes },
    );
  }
  const words = encoding.bitsAllocated === 8 ? widenBytes(bytes.subarray(start, end), pixelCount, false) : readWords(bytes, start, pixelCount, isBigEndian);
  return succeed(extendSign(words, encoding, bitsInUse(encoding)));
}

/** A view where possible, else one copy. */
function readWords(bytes: Uint8Array, start: number, count: number, isBigEndian: boolean): Uint16Array {
  const address = bytes.byteOffset + start;
  if (isBigEndian !== IS_LITTLE_ENDIAN) {
    if (address % 2 === 0) return new Uint16Array(bytes.buffer, address, count);
    return new Uint16Array(bytes.slice(start, start + count * 2).buffer);
  }
  const words = new Uint16Array(count);
  const [high, low] = isBigEndian ? [0, 1] : [1, 0];
  for (let i = 0, at = start; i < count; i++, at += 2) words[i] = (bytes[at + high]! << 8) | bytes[at + low]!;
  return words;
}

/**
 * Bits that carry the value in uncompressed data. A padding value that does not fit BitsStored shows a writer that uses
 * the whole word for it; cutting to BitsStored would turn the padding into tissue.
 */
function bitsInUse(encoding: PixelEncoding): number {
  const { bitsStored, paddingStored, isSigned } = encoding;
  if (paddingStored === null || bitsStored === 16 || encoding.bitsAllocated === 8) return bitsStored;
  const span = 2 ** bitsStored;
  const isOutside = isSigned ? paddingStored < -span / 2 || paddingStored >= span / 2 : paddingStored >= span;
  return isOutside ? 16 : bitsStored;
}

/**
 * Cuts to the bits from highBit down (PS3.5 8.1.1) and extends the sign. Most writers leave clean words: then there is
 * nothing to do and the same memory is given back.
 */
function extendSign(words: Uint16Array, encoding: PixelEncoding, bits: number): StoredValues {
  const { isSigned, highBit } = encoding;
  if (bits === 16 || (highBit === bits - 1 && areWordsClean(words, bits, isSigned))) {
    return isSigned ? new Int16Array(words.buffer, words.byteOffset, words.length) : words;
  }
  const up = 31 - highBit;
  const down = 32 - bits;
  if (isSigned) {
    const values = new Int16Array(words.length);
    for (let i = 0; i < values.length; i++) values[i] = (words[i]! << up) >> down;
    return values;
  }
  const values = new Uint16Array(words.length);
  for (let i = 0; i < values.length; i++) values[i] = (words[i]! << up) >>> down;
  return values;
}

/**
 * True when every word already holds its value: no bit above `bits` (unsigned), or all of them like the sign bit
 * (signed, where v ^ (v << 1) then has none). Two words at a time; the bit that spills from one word into the next
 * lands below the bits looked at.
 */
function areWordsClean(words: Uint16Array, bits: number, isSigned: boolean): boolean {
  const lead = words.byteOffset % 4 === 0 ? 0 : 1;
  const pairCount = (words.length - lead) >> 1;
  const pairs = new Uint32Array(words.buffer, words.byteOffset + lead * 2, pairCount);
  const first = words[0]!;
  const last = words[words.length - 1]!;
  let seen = isSigned ? (first ^ (first << 1)) | (last ^ (last << 1)) : first | last;
  if (isSigned) for (let i = 0; i < pairCount; i++) seen |= pairs[i]! ^ (pairs[i]! << 1);
  else for (let i = 0; i < pairCount; i++) seen |= pairs[i]!;
  const above = 0xffff & ~((1 << bits) - 1);
  return (seen & (above | (above << 16))) === 0;
}

/**
 * A codestream gives whole values, low bits first, so highBit plays no part. Where codestream and header disagree on
 * the sign (seen in JPEG 2000), the bits are the same and the header says how to read them.
 */
function unpackDecoded(
  frame: DecodedFrame,
  encoding: PixelEncoding,
  isCodestreamSigned: boolean,
  bitsPerSample: number,
  pixelCount: number,
): Result<StoredValues, DecodeFailureCode> {
  const width = bitsPerSample <= 8 ? 1 : 2;
  if (
    frame.rows !== encoding.rows ||
    frame.columns !== encoding.columns ||
    frame.bytes.length < pixelCount * width
  ) {
    return failSize(encoding, frame.rows, frame.columns);
  }
  const words =
    width === 2
      ? readWords(frame.bytes, 0, pixelCount, false)
      : widenBytes(frame.bytes, pixelCount, isCodestreamSigned);
  // A signed codestream is already extended to 16 bits, at its own depth, which may be below bitsStored.
  const bits = isCodestreamSigned && encoding.isSigned ? 16 : encoding.bitsStored;
  return succeed(extendSign(words, { ...encoding, highBit: bits - 1 }, bits));
}

function widenBytes(bytes: Uint8Array, count: number, isSigned: boolean): Uint16Array {
  const words = new Uint16Array(count);
  for (let i = 0; i < count; i++) words[i] = isSigned ? (bytes[i]! << 24) >> 24 : bytes[i]!;
  return words;
}
