import { fail, succeed, type Result } from '../../core/result.ts';

const HEADER_BYTES = 64;

/**
 * One RLE frame: one PackBits segment for samples of 8 bits, two for 16, most significant byte first.
 *
 * Fails   rle-broken (segment count, offset or length does not fit)
 * Source  DICOM PS3.5 annex G
 */
export function decodeRle(packed: Uint8Array, pixelCount: number, sampleBytes: 1 | 2 = 2): Result<Uint16Array, 'rle-broken'> {
  if (packed.length < HEADER_BYTES) return failRle('it is shorter than its header', packed.length);
  const header = new DataView(packed.buffer, packed.byteOffset, HEADER_BYTES);
  const segments = header.getUint32(0, true);
  if (segments !== sampleBytes) return failRle(`it has ${segments} segments, ${sampleBytes} are needed for ${8 * sampleBytes} bits`, packed.length);
  if (sampleBytes === 1) {
    const only = header.getUint32(4, true);
    if (!(only >= HEADER_BYTES && only <= packed.length)) return failRle('its segment offset does not fit', packed.length);
    const bytes = new Uint16Array(pixelCount);
    return unpackSegment(packed, only, packed.length, bytes, 0) ? succeed(bytes) : failRle('a segment ends before the last pixel', packed.length);
  }
  const high = header.getUint32(4, true);
  const low = header.getUint32(8, true);
  if (!(high >= HEADER_BYTES && high <= low && low <= packed.length))
    return failRle('its segment offsets do not fit', packed.length);
  const samples = new Uint16Array(pixelCount);
  const isWhole =
    unpackSegment(packed, high, low, samples, 8) && unpackSegment(packed, low, packed.length, samples, 0);
  return isWhole ? succeed(samples) : failRle('a segment ends before the last pixel', packed.length);
}

/** ORs the bytes of one segment into the samples, shifted; false when it ends early. Every pass takes input. */
function unpackSegment(
  packed: Uint8Array,
  from: number,
  to: number,
  samples: Uint16Array,
  shift: number,
): boolean {
  const count = samples.length;
  let at = from;
  let out = 0;
  while (out < count && at < to) {
    const control = packed[at++]!;
    if (control < 128) {
      const end = Math.min(out + control + 1, count);
      if (at + (end - out) > to) return false;
      while (out < end) samples[out++]! |= packed[at++]! << shift;
    } else if (control > 128) {
      if (at >= to) return false;
      const value = packed[at++]! << shift;
      const end = Math.min(out + 257 - control, count);
      while (out < end) samples[out++]! |= value;
    }
  }
  return out === count;
}

function failRle(why: string, bytes: number): Result<never, 'rle-broken'> {
  return fail(
    'rle-broken',
    `The RLE frame cannot be unpacked: ${why}.`,
    'Export the file again from its source.',
    { bytes },
  );
}
