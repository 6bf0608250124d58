import { zlibSync } from 'fflate';
import { fail, succeed, type Result } from '../../core/result.ts';

export type PngFailureCode = 'picture-size-wrong';

const SIGNATURE = [137, 80, 78, 71, 13, 10, 26, 10];
const CRC_TABLE = makeCrcTable();

/**
 * PNG bytes of an 8-bit grey picture, the same bytes each time.
 *
 * Shape     greyLevels[row * widthPx + column], one byte each, 0 black to 255 white, top row first
 * Fails     picture-size-wrong: no pixel, or not widthPx x heightPx of them
 * Source    PNG specification (ISO/IEC 15948), colour type 0, bit depth 8; each row takes the filter (none, sub, up,
 *           Paeth) with the smallest sum of absolute differences, the specification's own rule of thumb
 */
export function encodeGreyPng(
  greyLevels: Uint8Array, widthPx: number, heightPx: number,
): Result<Uint8Array, PngFailureCode> {
  if (!(widthPx >= 1 && heightPx >= 1 && greyLevels.length === widthPx * heightPx)) {
    return fail('picture-size-wrong', `A picture of ${widthPx} x ${heightPx} pixels came with ${greyLevels.length} grey levels.`,
      'Report this as a defect: the picture was made with a wrong size.', { widthPx, heightPx, levels: greyLevels.length });
  }
  const header = new Uint8Array(13);
  writeUint32(header, 0, widthPx);
  writeUint32(header, 4, heightPx);
  header[8] = 8;
  const rows = filterRows(greyLevels, widthPx, heightPx);
  return succeed(joinBytes([
    Uint8Array.from(SIGNATURE),
    makeChunk('IHDR', header),
    makeChunk('IDAT', zlibSync(rows, { level: 9 })),
    makeChunk('IEND', new Uint8Array(0)),
  ]));
}

const FILTERS = [0, 1, 2, 4];

function filterRows(grey: Uint8Array, width: number, height: number): Uint8Array {
  const out = new Uint8Array((width + 1) * height);
  const trial = new Uint8Array(width);
  for (let row = 0; row < height; row++) {
    let best = Infinity;
    for (const filter of FILTERS) {
      let sum = 0;
      for (let x = 0; x < width; x++) {
        const at = row * width + x;
        const left = x > 0 ? grey[at - 1]! : 0;
        const up = row > 0 ? grey[at - width]! : 0;
        const corner = x > 0 && row > 0 ? grey[at - width - 1]! : 0;
        const guess = filter === 0 ? 0 : filter === 1 ? left : filter === 2 ? up : predictPaeth(left, up, corner);
        const difference = (grey[at]! - guess) & 255;
        trial[x] = difference;
        sum += difference < 128 ? difference : 256 - difference;
      }
      if (sum >= best) continue;
      best = sum;
      out[row * (width + 1)] = filter;
      out.set(trial, row * (width + 1) + 1);
    }
  }
  return out;
}

function predictPaeth(left: number, up: number, corner: number): number {
  const guess = left + up - corner;
  const toLeft = Math.abs(guess - left);
  const toUp = Math.abs(guess - up);
  const toCorner = Math.abs(guess - corner);
  if (toLeft <= toUp && toLeft <= toCorner) return left;
  return toUp <= toCorner ? up : corner;
}

function makeChunk(kind: string, data: Uint8Array): Uint8Array {
  const chunk = new Uint8Array(12 + data.length);
  writeUint32(chunk, 0, data.length);
  for (let i = 0; i < 4; i++) chunk[4 + i] = kind.charCodeAt(i);
  chunk.set(data, 8);
  writeUint32(chunk, 8 + data.length, computeCrc32(chunk.subarray(4, 8 + data.length)));
  return chunk;
}

function writeUint32(bytes: Uint8Array, at: number, value: number): void {
  for (let i = 0; i < 4; i++) bytes[at + i] = (value >>> (24 - 8 * i)) & 255;
}

function makeCrcTable(): Uint32Array {
  const table = new Uint32Array(256);
  for (let n = 0; n < 256; n++) {
    let c = n;
    for (let bit = 0; bit < 8; bit++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
    table[n] = c >>> 0;
  }
  return table;
}

function computeCrc32(bytes: Uint8Array): number {
  let c = 0xffffffff;
  for (const byte of bytes) c = CRC_TABLE[(c ^ byte) & 255]! ^ (c >>> 8);
  return (c ^ 0xffffffff) >>> 0;
}

function joinBytes(parts: readonly Uint8Array[]): Uint8Array {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}
