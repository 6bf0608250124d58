import type { PreparedPressure, Pulse } from './detect-pulses.ts';

/** Beats laid over one another at one point of each: noise, whip and breathing average out, what every beat repeats stays. */
export interface LaidBeats {
  /** Mean pressure, mmHg; the point lies at `pointAt`. */
  readonly mean: Float64Array;
  readonly pointAt: number;
  readonly samplesPerS: number;
  readonly count: number;
}

const MOST_BEATS = 80;
const FEWEST_BEATS = 3;

/**
 * Mean of up to 80 beats around points of them.
 * Units     indices of samples; s
 * Fails     null with fewer than three whole beats
 */
export function layBeatsAt({ raw, samplesPerS }: PreparedPressure, points: readonly number[], beforeS: number, afterS: number): LaidBeats | null {
  const before = Math.round(beforeS * samplesPerS);
  const length = before + Math.round(afterS * samplesPerS);
  const sum = new Float64Array(length);
  let count = 0;
  const every = Math.max(1, Math.floor(points.length / MOST_BEATS));
  for (let k = 0; k < points.length; k += every) {
    const from = points[k]! - before;
    if (from < 0 || from + length > raw.length) continue;
    let isWhole = true;
    for (let i = 0; i < length && isWhole; i++) isWhole = !Number.isNaN(raw[from + i]!);
    if (!isWhole) continue;
    for (let i = 0; i < length; i++) sum[i] = sum[i]! + raw[from + i]!;
    count++;
  }
  if (count < FEWEST_BEATS) return null;
  for (let i = 0; i < length; i++) sum[i] = sum[i]! / count;
  return { mean: sum, pointAt: before, samplesPerS, count };
}

/** Steepest fall after each upstroke: where a ventricle relaxes. */
export function findFalls({ slope, samplesPerS }: PreparedPressure, pulses: readonly Pulse[]): readonly number[] {
  return pulses.map(({ steepAt }) => {
    const [from, to] = [steepAt + Math.round(0.08 * samplesPerS), Math.min(slope.length, steepAt + Math.round(0.52 * samplesPerS))];
    let at = Math.min(from, slope.length - 1);
    for (let i = from; i < to; i++) if (slope[i]! < slope[at]!) at = i;
    return at;
  });
}
