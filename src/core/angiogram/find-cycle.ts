import { halveGrid, type CoarseRun } from './coarse-run.ts';
import { CONTRAST_LIMITS } from './contrast-limits.ts';

export interface SeenCycle {
  readonly lengthS: number;
  readonly sdS: number;
  /** 0 to 1: how much of the change repeats. */
  readonly strength: number;
}
/** Weaker repetition is not called a beat. */
const WEAKEST = 0.18;

/**
 * Heart cycle from the picture's own repetition: edges that move, contrast that is washed.
 *
 * Equation  R(k) = sum over places and frames of x(t) x(t + k), x the density less its mean over 1.2 s, each lag by the number of
 *           pairs; the first peak that reaches 0.7 of the highest between 25 and 240 a minute, then its multiples
 * Units     frames evenly spaced, `stepS` apart
 * Gives     null when nothing repeats
 */
export function findCycle(maps: readonly Float32Array[], coarse: CoarseRun, stepS: number): SeenCycle | null {
  const n = maps.length;
  const small = maps.map((m) => {
    const half = halveGrid(m, coarse.columns, coarse.rows);
    return halveGrid(half.grid, half.columns, half.rows).grid;
  });
  const reach = Math.max(2, Math.round(0.6 / stepS));
  const places = small[0]!.length;
  const [slow, fast] = CONTRAST_LIMITS.ratePerMin;
  const longest = Math.min(Math.floor(60 / slow / stepS) + 1, Math.floor(n * 0.6));
  const shortest = Math.max(2, Math.ceil(60 / fast / stepS));
  const sums = new Float64Array(longest + 2);
  const x = new Float64Array(n);
  const total = new Float64Array(n + 1);
  for (let p = 0; p < places; p++) {
    for (let t = 0; t < n; t++) total[t + 1] = total[t]! + small[t]![p]!;
    for (let t = 0; t < n; t++) {
      const [a, b] = [Math.max(0, t - reach), Math.min(n, t + reach + 1)];
      x[t] = small[t]![p]! - (total[b]! - total[a]!) / (b - a);
    }
    for (let k = 0; k < sums.length; k++) {
      let sum = 0;
      for (let t = 0; t + k < n; t++) sum += x[t]! * x[t + k]!;
      sums[k]! += sum / Math.max(1, n - k);
    }
  }
  const r = (k: number): number => sums[k]! / (sums[0]! || 1);
  const peaks: { readonly lag: number; readonly height: number }[] = [];
  for (let k = shortest; k <= longest; k++) {
    if (!(r(k) >= r(k - 1) && r(k) >= r(k + 1))) continue;
    const bend = r(k - 1) - 2 * r(k) + r(k + 1);
    peaks.push({ lag: k + (bend < 0 ? (0.5 * (r(k - 1) - r(k + 1))) / bend : 0), height: r(k) });
  }
  const highest = Math.max(...peaks.map((q) => q.height), 0);
  const chosen = peaks.find((q) => q.height >= 0.7 * highest);
  if (!chosen || highest < WEAKEST) return null;
  // Multiples of the first peak are sharper in proportion.
  let lag = chosen.lag;
  for (let m = 2; m <= 4; m++) {
    const near = peaks.find((q) => Math.abs(q.lag / m - lag) < 0.12 * lag && q.height > 0.5 * chosen.height);
    if (near) lag = near.lag / m;
  }
  return { lengthS: lag * stepS, sdS: Math.max(0.15 * stepS, 0.01 * lag * stepS), strength: highest };
}
