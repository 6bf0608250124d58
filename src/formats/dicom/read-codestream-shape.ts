/** What a compressed frame says of itself, read before a decoder may allocate for it. */
export interface CodestreamShape {
  readonly rows: number;
  readonly columns: number;
  readonly samplesPerPixel: number;
  readonly bitsPerSample: number;
  /** null: this kind of codestream does not say. */
  readonly isSigned: boolean | null;
}

/**
 * Size and depth from the frame header (JPEG, JPEG-LS: SOF) or the SIZ segment (JPEG 2000, HTJ2K); null when there is none.
 * Source  ITU-T T.81 B.2.2; T.87 C.2.2; T.800 A.5.1
 */
export function readCodestreamShape(codestream: Uint8Array): CodestreamShape | null {
  if (codestream[0] !== 0xff) return null;
  if (codestream[1] === 0xd8) return readJpegShape(codestream);
  return codestream[1] === 0x4f ? readJpeg2000Shape(codestream) : null;
}

/**
 * True when the codestream ends with its end marker (FF D9: EOI of JPEG and JPEG-LS, EOC of JPEG 2000), padding apart.
 * Decoders fill what a cut frame lacks with zeros and say nothing, so the end has to be seen here.
 */
export function hasCodestreamEnd(codestream: Uint8Array): boolean {
  let end = codestream.length;
  const least = Math.max(2, end - MAX_PADDING_BYTES);
  while (end > least && codestream[end - 1] === 0) end--;
  return end >= 2 && codestream[end - 1] === 0xd9 && codestream[end - 2] === 0xff;
}
/** Fragments are padded to even length; some writers pad more. */
const MAX_PADDING_BYTES = 4096;

function readUint16(bytes: Uint8Array, at: number): number {
  return (bytes[at]! << 8) | bytes[at + 1]!;
}
function readUint32(bytes: Uint8Array, at: number): number {
  return readUint16(bytes, at) * 65536 + readUint16(bytes, at + 2);
}

function readJpegShape(bytes: Uint8Array): CodestreamShape | null {
  let at = 2;
  // Each pass takes 2 bytes or more.
  while (at + 9 < bytes.length) {
    if (bytes[at] !== 0xff) return null;
    const marker = bytes[at + 1]!;
    if (marker === 0xff) {
      at += 1; // fill byte
      continue;
    }
    const isFrameHeader =
      marker === 0xf7 ||
      (marker >= 0xc0 && marker <= 0xcf && marker !== 0xc4 && marker !== 0xc8 && marker !== 0xcc);
    if (isFrameHeader) {
      return {
        bitsPerSample: bytes[at + 4]!,
        rows: readUint16(bytes, at + 5),
        columns: readUint16(bytes, at + 7),
        samplesPerPixel: bytes[at + 9]!,
        isSigned: null,
      };
    }
    at += 2 + Math.max(readUint16(bytes, at + 2), 2);
  }
  return null;
}

function readJpeg2000Shape(bytes: Uint8Array): CodestreamShape | null {
  if (bytes.length < 43 || readUint16(bytes, 2) !== 0xff51) return null;
  const depth = bytes[42]!;
  return {
    columns: readUint32(bytes, 8) - readUint32(bytes, 16),
    rows: readUint32(bytes, 12) - readUint32(bytes, 20),
    samplesPerPixel: readUint16(bytes, 40),
    bitsPerSample: (depth & 0x7f) + 1,
    isSigned: depth >= 0x80,
  };
}
