/**
 * Which samples of a row are bright (at or above a level), 32 to a word: bit i + frame of the row stands for sample i.
 * Three ways to the same bits: pairs of whole numbers, single whole numbers, real numbers.
 * Source  docs/methods/isosurface.md
 */

/**
 * The samples two by two, so that one comparison judges both; null where they cannot be seen so: real numbers, bytes, a
 * width that is no multiple of 32, memory that does not begin at a whole word.
 */
export function viewPairs(samples: Int16Array | Float32Array | Uint8Array, nx: number): Int32Array | null {
  if (!(samples instanceof Int16Array) || nx % 32 !== 0 || samples.byteOffset % 4 !== 0 || !IS_LOW_FIRST)
    return null;
  return new Int32Array(samples.buffer, samples.byteOffset, samples.length >> 1);
}
/** The first of a pair is the low half of its word: on every machine that Node is built for but one. */
const IS_LOW_FIRST = new Uint8Array(Uint16Array.of(1).buffer)[0] === 1;

/**
 * Bit i + frame of the row = sample i is at least `least`; `count` pairs from `from` on, a multiple of 16.
 * Gives whether one is.
 * Both halves at once: with the top bit of each half set, subtracting the lower 15 bits of `least` cannot borrow from
 * the neighbour, and the top bit left says whether the lower 15 bits reach. The signs decide the rest.
 */
export function markPairRow(
  pairs: Int32Array,
  from: number,
  count: number,
  frame: number,
  least: number,
  bits: Int32Array,
  row: number,
): number {
  if (least > 32767) return 0;
  const limit = Math.max(-32768, least) | 0;
  const lower = Math.imul(limit & 0x7fff, 0x00010001);
  let every = 0;
  let carry = 0;
  for (let at = from; at < from + count; at += 16, row++) {
    let v = 0;
    if (limit < 0) v = judgePairs(pairs, at, lower, -1);
    else {
      // Most runs of 32 samples are dark throughout; to see that is cheaper than to sort their answers.
      let some = 0;
      for (let p = at; p < at + 16; p += 4) {
        const a = pairs[p]!,
          b = pairs[p + 1]!,
          c = pairs[p + 2]!,
          d = pairs[p + 3]!;
        some |= ((a | TOPS) - lower) & ~a;
        some |= ((b | TOPS) - lower) & ~b;
        some |= ((c | TOPS) - lower) & ~c;
        some |= ((d | TOPS) - lower) & ~d;
      }
      if ((some & TOPS) !== 0) v = judgePairs(pairs, at, lower, 0);
    }
    const word = (v << frame) | carry;
    carry = frame === 0 ? 0 : v >>> 31;
    every |= v;
    if (word !== 0) bits[row] = word; // bits come as zeros: what stays dark is not touched
  }
  if (carry !== 0) bits[row] = carry;
  return every === 0 ? 0 : 1;
}
/** The answers of 16 pairs, in order. turn 0: bright = not negative and reaching; -1: not (negative and not reaching). */
function judgePairs(pairs: Int32Array, from: number, lower: number, turn: 0 | -1): number {
  const sign = ~turn;
  let v = 0; // after 16 steps bits 0-15 stand for the first of each pair, 16-31 for the second
  for (let p = from; p < from + 16; p++) {
    const a = pairs[p]!;
    v = (v >>> 1) | ((((a | TOPS) - lower) ^ turn) & (a ^ sign) & TOPS);
  }
  v ^= turn;
  return v === -1 ? v : interleaveHalves(v);
}
const TOPS = 0x80008000 | 0;

/** Bit k of the low half to bit 2 k, of the high half to bit 2 k + 1 (the perfect shuffle, by four swaps). */
function interleaveHalves(x: number): number {
  let t = (x ^ (x >>> 8)) & 0x0000ff00;
  x ^= t ^ (t << 8);
  t = (x ^ (x >>> 4)) & 0x00f000f0;
  x ^= t ^ (t << 4);
  t = (x ^ (x >>> 2)) & 0x0c0c0c0c;
  x ^= t ^ (t << 2);
  t = (x ^ (x >>> 1)) & 0x22222222;
  return x ^ t ^ (t << 1);
}

/** Bit i + frame of the row = sample i is bright. Without a branch: the sign of below - sample is the answer. */
export function markWholeRow(
  samples: Int16Array,
  from: number,
  nx: number,
  frame: number,
  below: number,
  bits: Int32Array,
  row: number,
): void {
  let word = 0;
  let shift = frame;
  let i = from;
  const stop = from + nx;
  for (; i + 8 <= stop; i += 8) {
    const eight =
      ((below - samples[i]!) >>> 31) |
      (((below - samples[i + 1]!) >>> 31) << 1) |
      (((below - samples[i + 2]!) >>> 31) << 2) |
      (((below - samples[i + 3]!) >>> 31) << 3) |
      (((below - samples[i + 4]!) >>> 31) << 4) |
      (((below - samples[i + 5]!) >>> 31) << 5) |
      (((below - samples[i + 6]!) >>> 31) << 6) |
      (((below - samples[i + 7]!) >>> 31) << 7);
    word |= eight << shift;
    shift += 8;
    if (shift < 32) continue;
    bits[row++] = word;
    shift -= 32;
    word = eight >>> (8 - shift);
  }
  for (; i < stop; i++) {
    word |= ((below - samples[i]!) >>> 31) << shift++;
    if (shift < 32) continue;
    bits[row++] = word;
    word = 0;
    shift = 0;
  }
  if (shift > 0) bits[row] = word;
}

export function markRealRow(
  samples: Float32Array | Int16Array | Uint8Array,
  from: number,
  nx: number,
  frame: number,
  level: number,
  bits: Int32Array,
  row: number,
): void {
  let word = 0;
  let shift = frame;
  for (let i = from; i < from + nx; i++) {
    if (samples[i]! >= level) word |= 1 << shift;
    if (++shift < 32) continue;
    bits[row++] = word;
    word = 0;
    shift = 0;
  }
  if (shift > 0) bits[row] = word;
}
