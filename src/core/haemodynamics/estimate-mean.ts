import { studentQuantile } from '../math/student-t.ts';

export interface Estimate {
  readonly value: number;
  readonly low: number;
  readonly high: number;
  /** Finite values that went in. */
  readonly count: number;
}

/**
 * Mean of a quantity over beats with its 95 % interval: scatter of the beats, with what neighbours share (breathing), and a
 * systematic error that no number of beats takes away.
 *
 * Equation  half^2 = (t s / sqrt(n_eff))^2 + (1.96 sd)^2, n_eff = n / (1 + 2 sum r_k) over the first positive autocorrelations
 * Source    docs/methods/pressure.md (coverage)
 * Fails     NaN of no finite value
 */
export function estimateMean(values: readonly number[], systematicSd: number): Estimate {
  const x = values.filter((v) => Number.isFinite(v));
  const n = x.length;
  const mean = x.reduce((a, b) => a + b, 0) / n;
  if (n < 2) return { value: mean, low: NaN, high: NaN, count: n };
  const variance = x.reduce((a, b) => a + (b - mean) ** 2, 0) / (n - 1);
  let inflate = 1;
  for (let k = 1; k < Math.min(n / 3, 60) && variance > 0; k++) {
    let r = 0;
    for (let i = k; i < n; i++) r += (x[i]! - mean) * (x[i - k]! - mean);
    r /= (n - 1) * variance;
    if (!(r > 0)) break;
    inflate += 2 * r;
  }
  const effective = Math.max(2, Math.min(n, n / inflate));
  const scatter = studentQuantile(0.975, Math.max(1, effective - 1)) * Math.sqrt(variance / effective);
  const half = Math.hypot(scatter, 1.96 * systematicSd);
  return { value: mean, low: mean - half, high: mean + half, count: n };
}
