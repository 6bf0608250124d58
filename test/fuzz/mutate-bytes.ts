import { uniformAt } from '../../src/core/math/random.ts';

const EXTREMES = [0, 1, 2, 0x7f, 0x80, 0xff, 0xfffe, 0xffff, 0x7fffffff, 0x80000000, 0xfffffffe, 0xffffffff];

/** Draws whole numbers below `limit` from (seed, index): the same file for the same pair, in any order. */
export function makeDraw(seed: number, index: number): (limit: number) => number {
  let variable = 0;
  return (limit) => Math.floor(uniformAt(seed, index, variable++) * Math.max(limit, 1));
}

/**
 * One damaged copy: bit flips, extreme numbers written over fields, cut, doubled, zeroed or swapped parts, one to four
 * of them. `hotBytes` is where headers lie; half of the damage goes there.
 */
export function mutateBytes(
  original: Uint8Array,
  draw: (limit: number) => number,
  hotBytes = original.length,
): Uint8Array {
  let bytes = original.slice();
  const place = (): number => draw(draw(2) === 0 ? Math.min(hotBytes, bytes.length) : bytes.length);
  for (let rounds = 1 + draw(4); rounds > 0 && bytes.length > 0; rounds--) {
    const at = place();
    const span = Math.min(1 + draw(64), bytes.length - at);
    switch (draw(8)) {
      case 0:
      case 1:
        for (let flips = 1 + draw(8); flips > 0; flips--) {
          const where = place();
          bytes[where]! ^= 1 << draw(8);
        }
        break;
      case 2: {
        const value = EXTREMES[draw(EXTREMES.length)]!;
        const width = draw(2) === 0 ? 2 : 4;
        for (let i = 0; i < width && at + i < bytes.length; i++) bytes[at + i] = (value >>> (8 * i)) & 255;
        break;
      }
      case 3:
        bytes = bytes.slice(0, at);
        break;
      case 4: {
        const longer = new Uint8Array(bytes.length + span);
        longer.set(bytes.subarray(0, at + span));
        longer.set(bytes.subarray(at), at + span);
        bytes = longer;
        break;
      }
      case 5: {
        const shorter = new Uint8Array(bytes.length - span);
        shorter.set(bytes.subarray(0, at));
        shorter.set(bytes.subarray(at + span), at);
        bytes = shorter;
        break;
      }
      case 6:
        bytes.fill(draw(256), at, at + span);
        break;
      default: {
        const from = place();
        bytes.set(
          bytes.slice(from, Math.min(from + span, bytes.length)),
          Math.min(at, Math.max(0, bytes.length - span)),
        );
      }
    }
  }
  return bytes;
}

/** Resident memory above what the process had, MB: sampled while fuzzing, against a bound. */
export function makeMemoryWatch(): { sample(): void; peakMb(): number } {
  const start = process.memoryUsage.rss();
  let peak = start;
  return {
    sample: () => {
      peak = Math.max(peak, process.memoryUsage.rss());
    },
    peakMb: () => (peak - start) / 2 ** 20,
  };
}
