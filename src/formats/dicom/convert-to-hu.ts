import type { CtSliceHeader, StoredValues } from './dicom-types.ts';

/** How stored values of one frame become HU; taken from a CtSliceHeader by readHuScale. */
export interface HuScale {
  readonly slope: number;
  readonly intercept: number;
  /** Stored values low..high (inclusive) are padding and become paddingHu; null when the frame declares none. */
  readonly padding: { readonly low: number; readonly high: number; readonly hu: number } | null;
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
  if (padding !== null) return convertPadded(stored, scale, padding, out);
  if (slope === 1 && Number.isInteger(intercept)) return shiftToHu(stored, intercept, out);
  let clippedCount = 0;
  for (let i = 0; i < stored.length; i++) {
    const hu = Math.round(slope * stored[i]! + intercept);
    if (hu > HIGHEST || hu < LOWEST) clippedCount++;
    out[i] = hu > HIGHEST ? HIGHEST : hu < LOWEST ? LOWEST : hu;
  }
  return { paddingCount: 0, clippedCount };
}

/** The usual case: one integer addition per pixel. */
function shiftToHu(stored: StoredValues, intercept: number, out: Int16Array): HuConversion {
  if (intercept === 0 && stored instanceof Int16Array) {
    out.set(stored);
    return { paddingCount: 0, clippedCount: 0 };
  }
  const count = stored.length;
  const shift = Math.max(-131072, Math.min(131072, intercept)) | 0;
  let clippedCount = 0;
  for (let i = 0; i < count; i++) {
    const hu = (stored[i]! + shift) | 0;
    const short = (hu << 16) >> 16;
    if (short === hu) out[i] = hu;
    else {
      out[i] = hu > 0 ? HIGHEST : LOWEST;
      clippedCount++;
    }
  }
  return { paddingCount: 0, clippedCount };
}

function convertPadded(stored: StoredValues, scale: HuScale, padding: NonNullable<HuScale['padding']>, out: Int16Array): HuConversion {
  const { slope, intercept } = scale;
  const { low, high, hu: paddingHu } = padding;
  let paddingCount = 0;
  let clippedCount = 0;
  for (let i = 0; i < stored.length; i++) {
    const value = stored[i]!;
    if (value >= low && value <= high) {
      out[i] = paddingHu;
      paddingCount++;
      continue;
    }
    const hu = Math.round(slope * value + intercept);
    if (hu > HIGHEST || hu < LOWEST) clippedCount++;
    out[i] = hu > HIGHEST ? HIGHEST : hu < LOWEST ? LOWEST : hu;
  }
  return { paddingCount, clippedCount };
}
