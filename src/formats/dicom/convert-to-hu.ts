import type { CtSliceHeader, StoredValues } from './dicom-types.ts';

/** How stored values of one frame become HU; taken from a CtSliceHeader by readHuScale. */
export interface HuScale {
  readonly slope: number;
  readonly intercept: number;
  /** Stored values low..high (inclusive) are padding and become paddingHu; null when the frame declares none. */
  readonly padding: Padding | null;
}
interface Padding {
  readonly low: number;
  readonly high: number;
  readonly hu: number;
}

export interface HuConversion {
  readonly paddingCount: number;
  /** Values outside what 16 bits hold, moved to the nearest end. */
  readonly clippedCount: number;
}

const LOWEST = -32768;
const HIGHEST = 32767;

/** `paddingHu` is what the volume writes where the scanner had no data. */
export function readHuScale(header: CtSliceHeader, paddingHu: number): HuScale {
  const { paddingStored, paddingLimitStored } = header.encoding;
  const limit = paddingLimitStored ?? paddingStored;
  return {
    slope: header.rescaleSlope,
    intercept: header.rescaleIntercept,
    padding:
      paddingStored === null || limit === null
        ? null
        : { low: Math.min(paddingStored, limit), high: Math.max(paddingStored, limit), hu: paddingHu },
  };
}

/**
 * HU = round(slope x stored + intercept), clipped to 16 bits, padding apart; written to out[0 .. stored.length).
 *
 * Units     stored values in, HU out
 * Needs     out.length >= stored.length (the caller sizes both)
 * Source    DICOM PS3.3 C.11.1.1.2 (rescale), C.7.5.1.1.2 (padding)
 * Accuracy  exact for slope 1 and a whole intercept; else within 0.5 HU
 */
export function convertToHu(stored: StoredValues, scale: HuScale, out: Int16Array): HuConversion {
  const { slope, intercept, padding } = scale;
  const isShift = slope === 1 && Number.isInteger(intercept) && Math.abs(intercept) <= MAX_SHIFT;
  if (isShift && padding === null && intercept === 0 && stored instanceof Int16Array) {
    out.set(stored);
    return { paddingCount: 0, clippedCount: 0 };
  }
  if (isShift && padding === null && shiftToHu(stored, intercept, out))
    return { paddingCount: 0, clippedCount: 0 };
  if (isShift && padding !== null) {
    const paddingCount = shiftPaddedToHu(stored, intercept, padding, out);
    if (paddingCount !== null) return { paddingCount, clippedCount: 0 };
  }
  return scaleToHu(stored, scale, out);
}

/** Above this an int32 sum could not be told from an overflow. */
const MAX_SHIFT = 1 << 20;

/** The usual case: one addition per pixel, no branch. False (and `out` spoiled) when a value left 16 bits. */
function shiftToHu(stored: StoredValues, shift: number, out: Int16Array): boolean {
  let seen = 0;
  for (let i = 0; i < stored.length; i++) {
    const hu = (stored[i]! + shift) | 0;
    seen |= hu + 32768; // outside 16 bits exactly when a higher bit is set
    out[i] = hu;
  }
  return seen >>> 16 === 0;
}

/**
 * The quickest way for words as they lie in a file: cut to `bits`, sign and rescale in one pass over them.
 *
 * Fails     null (and `out` spoiled) where it takes more than one addition: bits set above `bits`, values that leave
 *           16 bits, another slope, padding in fewer than 16 bits; then the decoder has to look at the words first
 * Accuracy  exact; the same answer as decodeFrame followed by convertToHu
 */
export function convertWordsToHu(
  words: StoredValues,
  bits: number,
  scale: HuScale,
  out: Int16Array,
): HuConversion | null {
  if (bits === 16) return convertToHu(words, scale, out);
  const { slope, intercept, padding } = scale;
  if (!(slope === 1 && Number.isInteger(intercept) && Math.abs(intercept) <= MAX_SHIFT && padding === null))
    return null;
  const shift = intercept | 0;
  const bias = words instanceof Int16Array ? 1 << (bits - 1) : 0;
  let seen = 0;
  let stored = 0;
  for (let i = 0; i < words.length; i++) {
    const value = words[i]! | 0;
    const hu = (value + shift) | 0;
    stored |= value + bias; // a word is clean when this fits `bits`
    seen |= hu + 32768;
    out[i] = hu;
  }
  return stored >>> bits === 0 && seen >>> 16 === 0 ? { paddingCount: 0, clippedCount: 0 } : null;
}

/** As shiftToHu, padding apart; null (and `out` spoiled) when a value left 16 bits. */
function shiftPaddedToHu(
  stored: StoredValues,
  shift: number,
  padding: Padding,
  out: Int16Array,
): number | null {
  const low = padding.low | 0;
  const span = (padding.high - low) | 0;
  const paddingHu = padding.hu | 0;
  let seen = 0;
  let paddingCount = 0;
  for (let i = 0; i < stored.length; i++) {
    const value = stored[i]! | 0;
    if ((value - low) >>> 0 <= span) {
      out[i] = paddingHu;
      paddingCount++;
    } else {
      const hu = (value + shift) | 0;
      seen |= hu + 32768;
      out[i] = hu;
    }
  }
  return seen >>> 16 === 0 ? paddingCount : null;
}

/** Any slope and intercept, with clipping: the clear version, which the fast ones must agree with. */
export function scaleToHu(stored: StoredValues, scale: HuScale, out: Int16Array): HuConversion {
  const { slope, intercept, padding } = scale;
  let paddingCount = 0;
  let clippedCount = 0;
  for (let i = 0; i < stored.length; i++) {
    const value = stored[i]!;
    if (padding !== null && value >= padding.low && value <= padding.high) {
      out[i] = padding.hu;
      paddingCount++;
      continue;
    }
    const hu = Math.round(slope * value + intercept);
    if (hu > HIGHEST || hu < LOWEST) clippedCount++;
    out[i] = hu > HIGHEST ? HIGHEST : hu < LOWEST ? LOWEST : hu;
  }
  return { paddingCount, clippedCount };
}
