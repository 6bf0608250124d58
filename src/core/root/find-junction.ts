import { solveSmall } from '../math/solve-small.ts';
import { measureRing, smoothRing } from './measure-ring.ts';

/** Radii by height and azimuth in the basal frame; index h * azimuths + a, height lowMm + h * stepMm. */
export interface WallTable {
  readonly radiusMm: Float64Array;
  readonly heights: number;
  readonly azimuths: number;
  readonly lowMm: number;
  readonly stepMm: number;
}

export interface Junction {
  readonly heightMm: number;
  readonly heightSdMm: number;
  /** Height at each azimuth of the table, harmonic up to the second wave. */
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

/**
 * Sinotubular junction: where the wall, followed upward past the widest sinus, stops narrowing.
 * Per azimuth first, then two waves of azimuth through the azimuths that show it (a tilted, slightly saddle ring).
 * Source    definition as in docs/methods/root-survey.md, "Junction"
 */
export function findJunction(table: WallTable): Junction | null {
  const { radiusMm, heights, azimuths, lowMm, stepMm } = table;
  const areas = Float64Array.from({ length: heights }, (_, h) => measureRing(smoothRing(radiusMm, azimuths, h * azimuths)).areaMm2);
  const row = (mm: number): number => Math.max(0, Math.min(heights - 1, Math.round((mm - lowMm) / stepMm)));
  const mean = smoothSeries(areas.map((a) => Math.sqrt(a / Math.PI)), 1.5);
  let widest = row(5);
  for (let h = row(5); h <= row(22); h++) {
    // The first clear maximum: above the junction the ascending aorta may be wider still.
    if (mean[h]! > mean[widest]! + 1e-9) widest = h;
    else if (mean[widest]! - mean[h]! > 0.25) break;
  }
  const level = findLevelling(mean, widest, Math.min(heights - 3, row(lowMm + heights * stepMm)), stepMm);
  if (!(level === level)) return null;
  const picked: { a: number; mm: number }[] = [];
  for (let a = 0; a < azimuths; a++) {
    const series = smoothSeries(
      Array.from({ length: heights }, (_, h) => {
        let sum = 0;
        for (let d = -2; d <= 2; d++) sum += radiusMm[h * azimuths + ((a + d + azimuths) % azimuths)]! / 5;
        return sum;
      }),
      1.5,
    );
    let top = Math.max(row(4), Math.round(level) - Math.round(14 / stepMm));
    const end = Math.round(level);
    for (let h = top; h <= end; h++) if (series[h]! > series[top]!) top = h;
    if (series[top]! - series[Math.min(heights - 1, end)]! < 0.4) continue;
    const at = findLevelling(series, top, Math.min(heights - 3, Math.round(level + 6 / stepMm)), stepMm);
    if (at === at && Math.abs(at - level) * stepMm < 5) picked.push({ a, mm: lowMm + at * stepMm });
  }
  const heightsMm = new Float64Array(azimuths).fill(lowMm + level * stepMm);
  let spread = 1;
  if (picked.length >= azimuths / 3) {
    const wave = fitWaves(picked.map((p) => [(2 * Math.PI * p.a) / azimuths, p.mm] as const));
    for (let a = 0; a < azimuths; a++) heightsMm[a] = wave((2 * Math.PI * a) / azimuths);
    const offs = picked.map((p) => Math.abs(p.mm - heightsMm[p.a]!)).sort((x, y) => x - y);
    spread = 1.4826 * offs[offs.length >> 1]!;
  }
  const meanMm = heightsMm.reduce((s, v) => s + v, 0) / azimuths;
  return {
    heightMm: meanMm,
    heightSdMm: Math.max(0.15, spread / Math.sqrt(Math.max(1, picked.length / 6))),
    heightsMm,
    widestHeightMm: lowMm + widest * stepMm,
    isNarrowing: mean[Math.min(heights - 1, Math.round(level) + Math.round(4 / stepMm))]! > mean[Math.round(level)]!,
  };
}

/** Mean plus first wave (a tilt), robust by two reweightings. */
function fitWaves(points: readonly (readonly [rad: number, mm: number])[]): (rad: number) => number {
  let weights = points.map(() => 1);
  let p: ArrayLike<number> = [0, 0, 0];
  for (let pass = 0; pass < 4; pass++) {
    const m = new Float64Array(9);
    const b = new Float64Array(3);
    points.forEach(([rad, mm], i) => {
      const f = [1, Math.cos(rad), Math.sin(rad)];
      for (let r = 0; r < 3; r++) {
        b[r]! += weights[i]! * f[r]! * mm;
        for (let c = 0; c < 3; c++) m[r * 3 + c]! += weights[i]! * f[r]! * f[c]!;
      }
    });
    // A ridge on the tilt keeps it finite when only one side shows the junction.
    m[4]! += 0.5;
    m[8]! += 0.5;
    p = solveSmall(m, b, 3) ?? p;
    weights = points.map(([rad, mm]) => 1 / (1 + ((mm - p[0]! - p[1]! * Math.cos(rad) - p[2]! * Math.sin(rad)) / 1) ** 2));
  }
  return (rad) => p[0]! + p[1]! * Math.cos(rad) + p[2]! * Math.sin(rad);
}
