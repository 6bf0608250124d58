import type { WfdbStorage } from './wfdb-types.ts';

/** What the format writes where there is no sample. */
const INVALID: Readonly<Record<WfdbStorage, number | null>> = {
  8: null, 16: -32768, 24: -8388608, 32: -2147483648, 61: -32768, 80: -128, 160: -32768, 212: -2048, 310: -512, 311: -512,
};
export const getInvalidSample = (storage: WfdbStorage): number | null => INVALID[storage];

/** Whole samples that `bytes` bytes hold. */
export function countWfdbSamples(storage: WfdbStorage, bytes: number): number {
  switch (storage) {
    case 8:
    case 80: return bytes;
    case 16:
    case 61:
    case 160: return Math.floor(bytes / 2);
    case 24: return Math.floor(bytes / 3);
    case 32: return Math.floor(bytes / 4);
    case 212: return Math.floor(bytes / 3) * 2 + (bytes % 3 === 2 ? 1 : 0);
    case 310: return Math.floor(bytes / 4) * 3 + (bytes % 4 >= 2 ? 1 : 0);
    case 311: return Math.floor(bytes / 4) * 3 + Math.max(0, (bytes % 4) - 1);
  }
}

/**
 * Converter values of a signal file, in the order of the file; `count` must not exceed countWfdbSamples. Format 8 gives the
 * differences as they are stored.
 * Source    signal(5) of the WFDB Applications Guide, https://physionet.org/physiotools/wag/signal-5.htm [M]; docs/methods/recordings.md
 */
export function decodeWfdbSamples(bytes: Uint8Array, storage: WfdbStorage, count: number): Int32Array {
  const out = new Int32Array(count);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  switch (storage) {
    case 8:
      for (let i = 0; i < count; i++) out[i] = view.getInt8(i);
      break;
    case 80:
      for (let i = 0; i < count; i++) out[i] = bytes[i]! - 128;
      break;
    case 16:
      for (let i = 0; i < count; i++) out[i] = view.getInt16(2 * i, true);
      break;
    case 61:
      for (let i = 0; i < count; i++) out[i] = view.getInt16(2 * i, false);
      break;
    case 160:
      for (let i = 0; i < count; i++) out[i] = view.getUint16(2 * i, true) - 32768;
      break;
    case 24:
      for (let i = 0; i < count; i++) out[i] = bytes[3 * i]! | (bytes[3 * i + 1]! << 8) | (view.getInt8(3 * i + 2) << 16);
      break;
    case 32:
      for (let i = 0; i < count; i++) out[i] = view.getInt32(4 * i, true);
      break;
    case 212:
      for (let i = 0, at = 0; i < count; i += 2, at += 3) {
        const shared = bytes[at + 1]!;
        out[i] = ((bytes[at]! | ((shared & 15) << 8)) << 20) >> 20;
        if (i + 1 < count) out[i + 1] = ((bytes[at + 2]! | ((shared & 240) << 4)) << 20) >> 20;
      }
      break;
    case 310:
      for (let i = 0, at = 0; i < count; i += 3, at += 4) {
        const [low, high] = [bytes[at]! | (bytes[at + 1]! << 8), (bytes[at + 2] ?? 0) | ((bytes[at + 3] ?? 0) << 8)];
        out[i] = signTen(low >> 1);
        if (i + 1 < count) out[i + 1] = signTen(high >> 1);
        if (i + 2 < count) out[i + 2] = signTen((low >> 11) | ((high >> 11) << 5));
      }
      break;
    case 311:
      for (let i = 0, at = 0; i < count; i += 3, at += 4) {
        const word = bytes[at]! | (bytes[at + 1]! << 8) | ((bytes[at + 2] ?? 0) << 16) | ((bytes[at + 3] ?? 0) << 24);
        out[i] = signTen(word);
        if (i + 1 < count) out[i + 1] = signTen(word >> 10);
        if (i + 2 < count) out[i + 2] = signTen(word >> 20);
      }
      break;
  }
  return out;
}

const signTen = (value: number): number => (value << 22) >> 22;
