import { fail, succeed, type Result } from '../../core/result.ts';
import { decodeFrameIn, openPixelBytes } from './decode-frame.ts';
import { decodeRle } from './decode-rle.ts';
import type { DecodeFailureCode, FrameCodecs, PixelEncoding } from './dicom-types.ts';
import { findFrameBytes } from './find-frame-bytes.ts';
import { readCodestreamShape } from './read-codestream-shape.ts';
import type { UltrasoundRun } from './read-ultrasound.ts';
import { findSyntaxRule } from './transfer-syntaxes.ts';

/**
 * One frame to be shown. Marks are set on it by a person; nothing is read off its pixels, so that a lossy picture may be shown.
 * `jpeg`: the picture as a baseline JPEG, which the page draws itself.
 */
export type UltrasoundFrame =
  | { readonly kind: 'grey'; readonly rows: number; readonly columns: number; readonly levels: Uint8Array }
  | { readonly kind: 'rgb'; readonly rows: number; readonly columns: number; readonly levels: Uint8Array }
  | { readonly kind: 'jpeg'; readonly rows: number; readonly columns: number; readonly bytes: Uint8Array };
export type UltrasoundFrameFailureCode = DecodeFailureCode | 'frame-number-invalid' | 'pixel-format-unsupported';

const BASELINE_JPEG = '1.2.840.10008.1.2.4.50';

/**
 * Frame `frameNumber` (from 1) out of the bytes of the whole file.
 * Shape     rows x columns of one byte (grey) or three (rgb), row by row
 * Fails     UltrasoundFrameFailureCode
 * Source    PS3.5 8.2, G; PS3.3 C.7.6.3.1.2
 */
export function decodeUltrasoundFrame(fileBytes: Uint8Array, run: UltrasoundRun, frameNumber: number, codecs: FrameCodecs): Result<UltrasoundFrame, UltrasoundFrameFailureCode> {
  const { rows, columns, encoding } = run;
  if (!Number.isInteger(frameNumber) || frameNumber < 1 || frameNumber > run.frameCount) return fail('frame-number-invalid', `The loop has ${run.frameCount} frames.`, 'Choose one of its frames.', { frames: run.frameCount });
  const opened = openPixelBytes(fileBytes, { ...encoding, bitsAllocated: encoding.bitsAllocated * encoding.samplesPerPixel });
  if (!opened.ok) return opened;
  const frameIndex = frameNumber - 1;
  if (encoding.transferSyntaxUid === BASELINE_JPEG) {
    const packed = findFrameBytes(opened.value, encoding, frameIndex);
    if (!packed.ok) return packed;
    const shape = readCodestreamShape(packed.value);
    if (shape === null || shape.rows !== rows || shape.columns !== columns) return fail('frame-size-differs', 'The JPEG inside is not of the size that the header says.', 'Export the picture again from its source.', { rows, columns });
    return succeed({ kind: 'jpeg', rows, columns, bytes: packed.value });
  }
  if (encoding.samplesPerPixel === 3) return decodeColour(opened.value, run, frameIndex, codecs);
  const stored = decodeFrameIn(opened.value, { encoding, frameIndex }, codecs);
  if (!stored.ok) return stored;
  if (run.palette !== null) {
    const { first, rgb } = run.palette;
    const levels = new Uint8Array(3 * rows * columns);
    const last = rgb.length / 3 - 1;
    for (let i = 0; i < rows * columns; i++) {
      const entry = 3 * Math.min(last, Math.max(0, stored.value[i]! - first));
      for (const k of [0, 1, 2]) levels[3 * i + k] = rgb[entry + k]!;
    }
    return succeed({ kind: 'rgb', rows, columns, levels });
  }
  const isInverted = encoding.photometric === 'MONOCHROME1';
  return succeed({ kind: 'grey', rows, columns, levels: Uint8Array.from(stored.value, (v) => (isInverted ? 255 - v : v)) });
}

function decodeColour(bytes: Uint8Array, run: UltrasoundRun, frameIndex: number, codecs: FrameCodecs): Result<UltrasoundFrame, UltrasoundFrameFailureCode> {
  const { rows, columns, encoding } = run;
  const pixels = rows * columns;
  const planes = readPlanes(bytes, encoding, frameIndex, pixels, run.isInterleaved, codecs);
  if (!planes.ok) return planes;
  const { samples, isDone } = planes.value;
  const levels = encoding.photometric === 'YBR_FULL' && !isDone ? toRgb(samples) : samples;
  return succeed({ kind: 'rgb', rows, columns, levels });
}

interface Planes {
  /** Three bytes each pixel. */
  readonly samples: Uint8Array;
  /** The codec turned the colours already. */
  readonly isDone: boolean;
}

function readPlanes(bytes: Uint8Array, encoding: PixelEncoding, frameIndex: number, pixels: number, isInterleaved: boolean, codecs: FrameCodecs): Result<Planes, UltrasoundFrameFailureCode> {
  const rule = findSyntaxRule(encoding.transferSyntaxUid);
  if (rule === null || rule.kind === 'refused') {
    const named = { transferSyntaxUid: encoding.transferSyntaxUid };
    return fail(rule === null ? 'transfer-syntax-unsupported' : 'transfer-syntax-lossy', 'The picture is compressed in a way that is not shown here.', 'Export it uncompressed or as baseline JPEG.', named);
  }
  if (rule.kind === 'native') {
    if (encoding.photometric !== 'RGB' && encoding.photometric !== 'YBR_FULL') return failColour(encoding);
    const { offset, length } = encoding.pixelData;
    const start = offset + frameIndex * pixels * 3;
    if (start + pixels * 3 > Math.min(bytes.length, offset + (length ?? 0))) return fail('pixel-data-truncated', `Frame ${frameIndex + 1} is cut.`, 'Copy or export the file again from its source.', { frame: frameIndex + 1 });
    const own = bytes.slice(start, start + pixels * 3);
    return succeed({ samples: isInterleaved ? own : interleave([0, 1, 2].map((k) => own.subarray(k * pixels, (k + 1) * pixels))), isDone: false });
  }
  const packed = findFrameBytes(bytes, encoding, frameIndex);
  if (!packed.ok) return packed;
  if (rule.kind === 'rle') return unpackRle(packed.value, pixels);
  const shape = readCodestreamShape(packed.value);
  if (shape === null || shape.rows !== encoding.rows || shape.columns !== encoding.columns || shape.samplesPerPixel !== 3 || shape.bitsPerSample !== 8) return failColour(encoding);
  const decoded = codecs[rule.codec](packed.value);
  if (!decoded.ok) return decoded;
  return decoded.value.samplesPerPixel === 3 && decoded.value.bytes.length >= pixels * 3 ? succeed({ samples: decoded.value.bytes.subarray(0, pixels * 3), isDone: rule.codec !== 'jpeg-ls' && rule.codec !== 'jpeg-lossless' }) : failColour(encoding);
}

const RLE_HEADER = 64;
/** Three segments, one for each colour (PS3.5 G.2). */
function unpackRle(packed: Uint8Array, pixels: number): Result<Planes, UltrasoundFrameFailureCode> {
  const failed = fail('rle-broken' as const, 'The run-length segments of the picture do not fit.', 'Export the picture again from its source.', { bytes: packed.length });
  if (packed.length < RLE_HEADER) return failed;
  const header = new DataView(packed.buffer, packed.byteOffset, RLE_HEADER);
  if (header.getUint32(0, true) !== 3) return failed;
  const ends = [4, 8, 12].map((at) => header.getUint32(at, true));
  const planes: Uint16Array[] = [];
  for (const [k, from] of ends.entries()) {
    const to = ends[k + 1] ?? packed.length;
    if (!(from >= RLE_HEADER && from <= to && to <= packed.length)) return failed;
    const one = new Uint8Array(RLE_HEADER + to - from);
    one.set([1, 0, 0, 0, RLE_HEADER, 0, 0, 0]);
    one.set(packed.subarray(from, to), RLE_HEADER);
    const plane = decodeRle(one, pixels, 1);
    if (!plane.ok) return plane;
    planes.push(plane.value);
  }
  return succeed({ samples: interleave(planes), isDone: false });
}

function interleave(planes: readonly ArrayLike<number>[]): Uint8Array {
  const pixels = planes[0]!.length;
  const out = new Uint8Array(3 * pixels);
  for (const [k, plane] of planes.entries()) for (let i = 0; i < pixels; i++) out[3 * i + k] = plane[i]!;
  return out;
}

/** YBR_FULL to RGB (PS3.3 C.7.6.3.1.2). */
function toRgb(ybr: Uint8Array): Uint8Array {
  const out = new Uint8Array(ybr.length);
  const clamp = (v: number): number => Math.min(255, Math.max(0, Math.round(v)));
  for (let i = 0; i + 2 < ybr.length; i += 3) {
    const [y, b, r] = [ybr[i]!, ybr[i + 1]! - 128, ybr[i + 2]! - 128];
    out[i] = clamp(y + 1.402 * r);
    out[i + 1] = clamp(y - 0.344136 * b - 0.714136 * r);
    out[i + 2] = clamp(y + 1.772 * b);
  }
  return out;
}

function failColour(encoding: PixelEncoding): Result<never, 'pixel-format-unsupported'> {
  return fail('pixel-format-unsupported', 'The colours of the picture are stored in a way that is not shown here.', 'Export it uncompressed, run-length coded or as baseline JPEG.', { transferSyntaxUid: encoding.transferSyntaxUid });
}
