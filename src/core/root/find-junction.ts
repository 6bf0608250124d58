import { makeCornerFitter } from './fit-wall-corner.ts';
import { findNarrowest } from './find-narrowest.ts';
import { measureRing, smoothRing } from './measure-ring.ts';

/** Radii by height and azimuth in the basal frame; index h * azimuths + a, height lowMm + h * stepMm. */
export interface WallTable {
  readonly radiusMm: Float64Array;
  readonly heights: number;
  readonly azimuths: number;
  readonly lowMm: number;
  readonly stepMm: number;
  /** How far each radius was taken outward where the wall hides behind a leaflet; absent when none was. */
  readonly openedMm?: Float64Array;
  /** How far each radius was bent outward where the wall turns into the sinus; absent when none was. */
  readonly bentMm?: Float64Array;
}

export interface Junction {
  readonly heightMm: number;
  readonly heightSdMm: number;
  /** Height at each azimuth of the table: the mean and a tilt. */
  readonly heightsMm: Float64Array;
  readonly widestHeightMm: number;
  readonly isNarrowing: boolean;
}

/** Gaussian smoothing of one series, SD in samples; ends reflect. */
export function smoothSeries(values: ArrayLike<number>, sd: number): Float64Array {
  const n = values.length;
  const reach = Math.ceil(3 * sd);
  const out = new Float64Array(n);
  const weights = Array.from({ length: 2 * reach + 1 }, (_, i) => Math.exp(-0.5 * ((i - reach) / sd) ** 2));
  const total = weights.reduce((a, b) => a + b, 0);
  for (let i = 0; i < n; i++) {
    let sum = 0;
    for (let k = -reach; k <= reach; k++) {
      let j = i + k;
      if (j < 0) j = -j;
      if (j >= n) j = 2 * n - 2 - j;
      sum += values[Math.max(0, Math.min(n - 1, j))]! * weights[k + reach]!;
    }
    out[i] = sum / total;
  }
  return out;
}

/** A sinus ends where the wall stops narrowing upward: slope above this (mm per mm), or above a third of the steepest fall. */
const SETTLED_SLOPE = -0.1;
const LEAST_FALL = -0.025;

/** First height above `from` where the falling series levels off, interpolated; NaN when it never does. */
function findLevelling(series: Float64Array, from: number, to: number, stepMm: number): number {
  const slopeAt = (i: number): number => (series[i + 1]! - series[i - 1]!) / (2 * stepMm);
  let steepest = 0;
  for (let i = from + 1; i < to; i++) {
    const slope = slopeAt(i);
    if (slope < steepest) steepest = slope;
    if (steepest > LEAST_FALL) continue;
    const settled = Math.max(SETTLED_SLOPE, steepest / 3);
    if (slope >= settled) {
      const before = slopeAt(i - 1);
      const share = slope > before ? (settled - before) / (slope - before) : 1;
      return i - 1 + Math.max(0, Math.min(1, share));
    }
  }
  return NaN;
}

/** The wall from this far below to this far above the first guess is looked at, and the corner is sought this far around it. */
const BELOW_MM = 10;
const ABOVE_MM = 6;
const SEARCH_MM = 4;
const CORNER_STEP_MM = 0.25;
/** Every third column, each the mean of three. */
const COLUMN_STEP = 3;
/** Columns about 30 degrees apart are independent: the wall is a mean over seven columns, and its errors reach farther. */
const COLUMNS_PER_FACT = 8;
/** One column may not say more than this against a height (in squared SDs); beyond it grows slowly. */
const LARGEST_SAY = 9;
/** SD of the tilt of a junction against the basal plane, as the height it adds at one side, mm. */
const TILT_SD_MM = 1;
/** What the shape of the model leaves open. */
const MODEL_SD_MM = 0.2;
/** From this rise of the radius above its least value on the narrowest section begins to count; from the second on it alone does. */
const NO_WAIST_MM = 0.1;
const WAIST_MM = 0.3;
/** Narrowest section and corner of the wall are two readings of one word: this share of their distance is doubt. */
const MEANING_SHARE = 0.35;
/** Without a waist the sinus runs out into the tube over some millimetres, and any of them may be called its end. */
const RUN_OUT_SD_MM = 0.4;
/** Sections from this far below to this far above the corner are looked at for the narrowest. */
const NARROW_BELOW_MM = 3;
const NARROW_ABOVE_MM = 7;
const SEEN_ABOVE_MM = 12;

/**
 * Sinotubular junction: the narrowest section above the sinuses; where the wall goes on without a waist, the bend in
 * which the sinuses end. Its tilt is that of the corner of the wall: every column says how well a corner at each height
 * explains it, and the plane with the best sum wins, so deep sinuses speak loudly and commissures hardly at all.
 * Source    definition as in docs/methods/root-survey.md, "Junction"
 */
export function findJunction(table: WallTable): Junction | null {
  const { heights, lowMm, stepMm } = table;
  const guess = guessJunction(table);
  if (!guess) return null;
  const { levelMm, widestMm, mean, plainMm } = guess;
  const rowOf = (mm: number): number => Math.max(0, Math.min(heights - 1, Math.round((mm - lowMm) / stepMm)));
  const corner = findCornerPlane(table, levelMm);
  const from = rowOf(widestMm - NARROW_BELOW_MM);
  const ring = findNarrowest(plainMm.slice(from, rowOf(corner.heightMm + SEEN_ABOVE_MM) + 1), lowMm + from * stepMm, stepMm, corner.heightMm - NARROW_BELOW_MM, corner.heightMm + NARROW_ABOVE_MM);
  const waist = ring ? Math.max(0, Math.min(1, (ring.riseMm - NO_WAIST_MM) / (WAIST_MM - NO_WAIST_MM))) : 0;
  const heightMm = ring ? waist * ring.narrowestMm + (1 - waist) * ring.bendMm : corner.heightMm;
  const meaning = MEANING_SHARE * Math.abs(heightMm - corner.heightMm);
  const row = rowOf(heightMm);
  return {
    heightMm,
    heightSdMm: Math.min(3, Math.hypot(MODEL_SD_MM, meaning, (1 - waist) * RUN_OUT_SD_MM)),
    heightsMm: corner.heightsMm.map((mm) => mm + heightMm - corner.heightMm),
    widestHeightMm: widestMm,
    isNarrowing: mean[Math.min(heights - 1, row + Math.round(4 / stepMm))]! > mean[row]!,
  };
}

/** The plane through the corners of all columns around a first guess. */
function findCornerPlane(table: WallTable, levelMm: number): { readonly heightMm: number; readonly heightsMm: Float64Array } {
  const { radiusMm, heights, azimuths, lowMm, stepMm } = table;
  const rowOf = (mm: number): number => Math.max(0, Math.min(heights - 1, Math.round((mm - lowMm) / stepMm)));
  const first = rowOf(levelMm - BELOW_MM);
  const count = rowOf(levelMm + ABOVE_MM) - first + 1;
  const rowsMm = Array.from({ length: count }, (_, i) => lowMm + (first + i) * stepMm);
  const cornersMm = Array.from({ length: Math.round((2 * SEARCH_MM) / CORNER_STEP_MM) + 1 }, (_, i) => levelMm - SEARCH_MM + i * CORNER_STEP_MM);
  const fit = makeCornerFitter(rowsMm, cornersMm);
  const columns = Array.from({ length: Math.ceil(azimuths / COLUMN_STEP) }, (_, i) => i * COLUMN_STEP);
  const costs = columns.map((a) =>
    fit(rowsMm.map((_, i) => [-1, 0, 1].reduce((sum, d) => sum + radiusMm[(first + i) * azimuths + ((a + d + azimuths) % azimuths)]! / 3, 0))).costMm2,
  );
  const least = costs.map((c) => Math.min(...c));
  const variance = Math.max(1e-4, [...least].sort((p, q) => p - q)[least.length >> 1]! / Math.max(1, count - 6));
  const says = costs.map((c, i) => c.map((v) => {
    const x = (v - least[i]!) / variance;
    return x < LARGEST_SAY ? x : LARGEST_SAY * (1 + Math.log(x / LARGEST_SAY));
  }));
  const sayAt = (i: number, mm: number): number => {
    const x = (mm - cornersMm[0]!) / CORNER_STEP_MM;
    const k = Math.max(0, Math.min(cornersMm.length - 2, Math.floor(x)));
    const f = Math.max(0, Math.min(1, x - k));
    return says[i]![k]! * (1 - f) + says[i]![k + 1]! * f + Math.abs(x - k - f);
  };
  const heightAt = (p: readonly number[], rad: number): number => p[0]! + p[1]! * Math.cos(rad) + p[2]! * Math.sin(rad);
  const total = (p: readonly number[]): number =>
    columns.reduce((sum, a, i) => sum + sayAt(i, heightAt(p, (2 * Math.PI * a) / azimuths)), 0) / COLUMNS_PER_FACT
    + (p[1]! ** 2 + p[2]! ** 2) / (2 * TILT_SD_MM ** 2);
  const best = searchPlane(total, levelMm);
  return { heightMm: best[0]!, heightsMm: Float64Array.from({ length: azimuths }, (_, a) => heightAt(best, (2 * Math.PI * a) / azimuths)) };
}

/** The shallowest sinuses drawn stand 0.3 mm out of the mean wall; its noise is a few hundredths. */
const CLEAR_FALL_MM = 0.12;

/** Where the mean radius, smoothed, stops falling past its first clear maximum: right to a millimetre or two. */
function guessJunction(table: WallTable): { readonly levelMm: number; readonly widestMm: number; readonly mean: Float64Array; readonly plainMm: Float64Array } | null {
  const { radiusMm, heights, azimuths, lowMm, stepMm } = table;
  const areas = Float64Array.from({ length: heights }, (_, h) => measureRing(smoothRing(radiusMm, azimuths, h * azimuths)).areaMm2);
  const row = (mm: number): number => Math.max(0, Math.min(heights - 1, Math.round((mm - lowMm) / stepMm)));
  const plainMm = areas.map((a) => Math.sqrt(a / Math.PI));
  const mean = smoothSeries(plainMm, 1.5);
  let widest = row(5);
  for (let h = row(5); h <= row(22); h++) {
    // The first clear maximum: above the junction the ascending aorta may be wider still.
    if (mean[h]! > mean[widest]! + 1e-9) widest = h;
    else if (mean[widest]! - mean[h]! > CLEAR_FALL_MM) break;
  }
  const level = findLevelling(mean, widest, heights - 3, stepMm);
  return level === level ? { levelMm: lowMm + level * stepMm, widestMm: lowMm + widest * stepMm, mean, plainMm } : null;
}

/** Mean height and tilt (cosine, sine) of least cost: level planes first, then steps along each coordinate. */
function searchPlane(cost: (p: readonly number[]) => number, startMm: number): readonly number[] {
  let best: readonly number[] = [startMm, 0, 0];
  let least = cost(best);
  const accept = (p: readonly number[]): boolean => {
    const c = cost(p);
    if (!(c < least - 1e-9)) return false;
    least = c;
    best = p;
    return true;
  };
  for (let d = -3; d <= 3; d += 0.25) accept([startMm + d, 0, 0]);
  for (const step of [1, 0.5, 0.25, 0.1, 0.05, 0.02]) {
    for (let round = 0; round < 8; round++) {
      const moved = [0, 1, 2].map((i) => accept(best.map((v, k) => (k === i ? v + step : v))) || accept(best.map((v, k) => (k === i ? v - step : v))));
      if (!moved.includes(true)) break;
    }
  }
  return best;
}
