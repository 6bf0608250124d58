import { solveSmall } from '../math/solve-small.ts';

/**
 * Where a vessel is narrowest along its way, or, where it is narrowest nowhere, where its fall bends off.
 * Source    docs/methods/root-survey.md, "Junction"
 */
export interface Narrowest {
  /** Lowest section that no image could tell from the narrowest one: where the fall ends. */
  readonly narrowestMm: number;
  /** From there to the least value itself: how flat the floor is. */
  readonly floorMm: number;
  /** How far the series rises again above its least value, mm. */
  readonly riseMm: number;
  /** Middle of the bend in which the fall ends. */
  readonly bendMm: number;
}

/** The wall is a mean over seven rows of 0.5 mm: an SD of 1 mm along the wall, which is taken out again. */
const BLUR_MM = 1;
/** Weight of the third difference (rows of 0.5 mm) against the data. */
const STIFFNESS = 1;
/** Radii closer than this are the same: the noise of a mean over all azimuths. */
const SAME_MM = 0.01;
/** A bend is what bends at least this share of its sharpest place, within so many mm of it. */
const BEND_SHARE = 0.3;
const BEND_REACH_MM = 3;
const DIFFERENCE = [-1, 3, -3, 1] as const;

/**
 * The series whose blur by a Gaussian is the given one, as smooth as that allows.
 * Equation  least sum of (series - blur * f)^2 + stiffness * (third difference of f)^2
 */
export function sharpenSeries(series: ArrayLike<number>, blurRows: number, stiffness: number): Float64Array {
  const n = series.length;
  const reach = Math.ceil(3 * blurRows);
  const blur = Array.from({ length: n }, (_, i) => {
    const row = new Float64Array(n);
    let total = 0;
    for (let k = -reach; k <= reach; k++) {
      const w = blurRows > 0 ? Math.exp(-0.5 * (k / blurRows) ** 2) : 1;
      // Straight on beyond the ends would need more than is known there: the end value stays.
      row[Math.max(0, Math.min(n - 1, i + k))]! += w;
      total += w;
    }
    return row.map((w) => w / total);
  });
  const normal = new Float64Array(n * n);
  const right = new Float64Array(n);
  blur.forEach((row, k) => {
    const [from, to] = [Math.max(0, k - reach), Math.min(n - 1, k + reach)];
    for (let i = from; i <= to; i++) {
      right[i]! += row[i]! * series[k]!;
      for (let j = from; j <= to; j++) normal[i * n + j]! += row[i]! * row[j]!;
    }
  });
  for (let k = 0; k + 3 < n; k++) {
    DIFFERENCE.forEach((p, i) => DIFFERENCE.forEach((q, j) => (normal[(k + i) * n + k + j]! += stiffness * p * q)));
  }
  return solveSmall(normal, right, n) ?? Float64Array.from(series);
}

/**
 * Shape     one value per row, upward from lowMm; looked at from the widest row below fallMm up to topMm
 * Units     mm
 */
export function findNarrowest(radiusMm: ArrayLike<number>, lowMm: number, stepMm: number, fallMm: number, topMm: number): Narrowest | null {
  const f = sharpenSeries(radiusMm, BLUR_MM / stepMm, STIFFNESS);
  const n = f.length;
  const rowOf = (mm: number): number => Math.max(1, Math.min(n - 3, Math.round((mm - lowMm) / stepMm)));
  const top = rowOf(topMm);
  let widest = 0;
  for (let i = 0; i < rowOf(fallMm); i++) if (f[i]! > f[widest]!) widest = i;
  if (top - widest < 3) return null;
  let least = widest;
  for (let i = widest; i <= top; i++) if (f[i]! < f[least]!) least = i;
  let highest = f[least]!;
  for (let i = least; i < n - 2; i++) highest = Math.max(highest, f[i]!);
  let first = least;
  while (first > widest && f[first - 1]! < f[least]! + SAME_MM) first--;
  const step = first > widest ? Math.max(0, Math.min(1, (f[least]! + SAME_MM - f[first]!) / Math.max(1e-9, f[first - 1]! - f[first]!))) : 0;
  const narrowestMm = lowMm + (first - step) * stepMm;
  return { narrowestMm, floorMm: lowMm + least * stepMm - narrowestMm, riseMm: highest - f[least]!, bendMm: lowMm + findBend(f, widest, top, stepMm) * stepMm };
}

/** Mean row of the bend upward between two rows, weighted by what exceeds BEND_SHARE of its sharpest place. */
function findBend(f: Float64Array, from: number, to: number, stepMm: number): number {
  const bend = (i: number): number => f[i + 1]! + f[i - 1]! - 2 * f[i]!;
  let sharpest = from + 1;
  for (let i = from + 1; i < to; i++) if (bend(i) > bend(sharpest)) sharpest = i;
  let weight = 0;
  let sum = 0;
  for (let i = from + 1; i < to; i++) {
    const w = bend(i) - BEND_SHARE * bend(sharpest);
    if (!(w > 0) || Math.abs(i - sharpest) * stepMm >= BEND_REACH_MM) continue;
    weight += w;
    sum += w * i;
  }
  return weight > 0 ? sum / weight : sharpest;
}
