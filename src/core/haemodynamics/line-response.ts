import type { PreparedPressure, Pulse } from './detect-pulses.ts';
import { findQuantile, measureTone, smoothQuadratic } from './filters.ts';
import type { Span } from './find-spans.ts';
import { computeLineResponse } from './pressure-formulas.ts';

export interface MeasuredResponse {
  readonly by: 'flush' | 'ringing';
  readonly naturalHz: number;
  readonly dampingRatio: number;
  /** Half-widths (95 %). */
  readonly naturalHalfHz: number;
  readonly dampingHalf: number;
  /** Largest swing that the line adds to a beat, mmHg; NaN for a flush. */
  readonly swingMmHg: number;
}

interface Extreme {
  readonly at: number;
  readonly value: number;
}
/** Extremes of x between two indices, each placed by a parabola; neighbours closer than `least` in value are one. */
function findExtremes(x: Float64Array, from: number, to: number, least: number): Extreme[] {
  const found: Extreme[] = [];
  for (let i = Math.max(1, from); i < Math.min(x.length - 1, to); i++) {
    const [a, b, c] = [x[i - 1]!, x[i]!, x[i + 1]!];
    if (!((b > a && b >= c) || (b < a && b <= c))) continue;
    const shift = (0.5 * (a - c)) / (a - 2 * b + c || 1);
    found.push({ at: i + Math.max(-0.5, Math.min(0.5, shift)), value: b - 0.25 * (a - c) * shift });
  }
  const kept: Extreme[] = [];
  for (const e of found) {
    const last = kept.at(-1);
    if (last && Math.abs(e.value - last.value) < least) continue;
    kept.push(e);
  }
  return kept;
}

/**
 * Natural frequency and damping from the ringing after a fast flush is let go (HD-18, HD-19).
 * Units     Hz; ratio
 * Fails     null when no ringing is left after any flush (an over-damped line shows none)
 */
export function measureFlush(raw: Float64Array, flushes: readonly Span[], samplesPerS: number): MeasuredResponse | null {
  const seen: { readonly naturalHz: number; readonly dampingRatio: number }[] = [];
  for (const { to } of flushes) {
    const fine = smoothQuadratic(raw.subarray(to, Math.min(raw.length, to + Math.round(0.5 * samplesPerS))), 1);
    const extremes = findExtremes(fine, 1, fine.length, 2).slice(0, 4);
    if (extremes.length < 3) continue;
    const [e1, e2, e3] = extremes as [Extreme, Extreme, Extreme];
    const [first, second] = [Math.abs(e2.value - e1.value), Math.abs(e3.value - e2.value)];
    if (!(second < first)) continue;
    seen.push(computeLineResponse((e3.at - e1.at) / samplesPerS, second, first));
  }
  if (seen.length === 0) return null;
  const [hz, ratio] = [findQuantile(seen.map((s) => s.naturalHz), 0.5), findQuantile(seen.map((s) => s.dampingRatio), 0.5)];
  // Half a sample at each end of the period; the swings ride on the pulse.
  return { by: 'flush', naturalHz: hz, dampingRatio: ratio, naturalHalfHz: Math.max(0.1 * hz, (hz * hz) / samplesPerS), dampingHalf: 0.2, swingMmHg: NaN };
}

const ALIGN_S = 0.5;
const LEAST_EXTREMES = 5;

/**
 * Ringing that every beat starts again: the beats are laid over one another at their steepest point, so that noise and whip
 * average out, and a decaying oscillation of at least two periods is looked for after it.
 *
 * Equation  docs/methods/pressure.md, "Ringing"
 * Fails     null when there is none
 */
export function measureRinging({ raw, samplesPerS }: PreparedPressure, pulses: readonly Pulse[]): MeasuredResponse | null {
  const before = Math.round(0.06 * samplesPerS);
  const length = before + Math.round(ALIGN_S * samplesPerS);
  const sum = new Float64Array(length);
  let count = 0;
  const every = Math.max(1, Math.floor(pulses.length / 80));
  for (let k = 0; k < pulses.length; k += every) {
    const from = pulses[k]!.steepAt - before;
    if (from < 0 || from + length > raw.length) continue;
    let isWhole = true;
    for (let i = 0; i < length && isWhole; i++) isWhole = !Number.isNaN(raw[from + i]!);
    if (!isWhole) continue;
    for (let i = 0; i < length; i++) sum[i] = sum[i]! + raw[from + i]!;
    count++;
  }
  // Of fast beats the next one lies inside the stretch.
  const apart = findQuantile(pulses.slice(1).map((p, k) => (p.steepAt - pulses[k]!.steepAt) / samplesPerS), 0.5);
  if (count < 3 || apart < ALIGN_S) return null;
  for (let i = 0; i < length; i++) sum[i] = sum[i]! / count;
  let best: MeasuredResponse | null = null;
  // A slow curve is taken away by a wider parabola; two widths, for slow and for fast ringing.
  for (const halfS of [0.05, 0.03]) {
    const slow = smoothQuadratic(sum, Math.round(halfS * samplesPerS));
    const rest = sum.map((v, i) => v - slow[i]!);
    const extremes = findExtremes(rest, before + Math.round(0.01 * samplesPerS), length - Math.round(halfS * samplesPerS), 0.15);
    for (let k = 0; k + LEAST_EXTREMES <= extremes.length; k++) {
      const run = extremes.slice(k, k + LEAST_EXTREMES);
      const swings = run.slice(1).map((e, i) => Math.abs(e.value - run[i]!.value));
      const gaps = run.slice(1).map((e, i) => (e.at - run[i]!.at) / samplesPerS);
      const period = (2 * gaps.reduce((a, b) => a + b, 0)) / gaps.length;
      const ratios = swings.slice(1).map((s, i) => s / swings[i]!);
      const isEven = gaps.every((g) => Math.abs(g - period / 2) < 0.22 * (period / 2));
      const isDecaying = ratios.every((r) => r > 0.3 && r < 0.95);
      if (!isEven || !isDecaying || swings[0]! < 2.5 || swings[3]! < 0.3 || 1 / period < 5 || 1 / period > 45) continue;
      const { naturalHz, dampingRatio } = computeLineResponse(period, swings[2]!, swings[0]!);
      // Over two half periods: the damping of one is that of half the logarithm.
      const l = Math.log(swings[0]! / swings[2]!) / 2;
      const one = l / Math.hypot(Math.PI, l);
      if (best === null || swings[0]! > best.swingMmHg) best = { by: 'ringing', naturalHz, dampingRatio: Number.isFinite(one) ? one : dampingRatio, naturalHalfHz: 0.2 * naturalHz, dampingHalf: 0.12, swingMmHg: swings[0]! };
    }
  }
  return best;
}

const ROUGH_LOW_HZ = 4;
const ROUGH_HIGH_HZ = [6.5, 13] as const;
/**
 * How much of a beat is fast: amplitude of its harmonics from 6.5 to 13 Hz over those up to 4 Hz, middle of up to 40 beats. An
 * over-damped line lets little of it through, whatever the pressure.
 * Fails     NaN without a whole beat
 */
export function measureRoughness({ raw, samplesPerS }: PreparedPressure, pulses: readonly Pulse[]): number {
  const shares: number[] = [];
  const every = Math.max(1, Math.floor(pulses.length / 40));
  for (let k = 0; k + 1 < pulses.length; k += every) {
    const [from, to] = [pulses[k]!.footAt, pulses[k + 1]!.footAt];
    const length = to - from;
    if (length < 0.3 * samplesPerS || length > 2 * samplesPerS) continue;
    const step = (raw[to]! - raw[from]!) / length;
    // Without its slope from end to end, a beat has no jump where it is closed to a ring.
    const beat = raw.slice(from, to).map((p, i) => p - raw[from]! - i * step);
    let [slow, fast] = [0, 0];
    for (let hz = samplesPerS / length; hz <= ROUGH_HIGH_HZ[1]; hz += samplesPerS / length) {
      if (hz > ROUGH_LOW_HZ && hz < ROUGH_HIGH_HZ[0]) continue;
      const power = measureTone(beat, hz, samplesPerS) ** 2;
      if (hz <= ROUGH_LOW_HZ) slow += power;
      else fast += power;
    }
    shares.push(Math.sqrt(fast / slow));
  }
  return findQuantile(shares, 0.5);
}

/** RMS of what lies between 6 and 20 ms around a beat and differs from beat to beat while pressure is high: catheter whip. */
export function measureWhip({ raw, smooth, samplesPerS }: PreparedPressure, pulses: readonly Pulse[]): number {
  const length = Math.round(0.28 * samplesPerS);
  const used = pulses.filter((p) => p.footAt + length < raw.length).slice(0, 60);
  if (used.length < 4) return NaN;
  const wide = Math.round(0.06 * samplesPerS);
  const rests = used.map((p) => {
    const part = smooth.subarray(p.footAt, p.footAt + length);
    const slow = smoothQuadratic(part, wide);
    return part.map((v, i) => v - slow[i]!);
  }).filter((r) => !r.some((v) => Number.isNaN(v)));
  if (rests.length < 4) return NaN;
  let sum = 0;
  for (let i = wide; i < length - wide; i++) {
    const mean = rests.reduce((a, r) => a + r[i]!, 0) / rests.length;
    sum += rests.reduce((a, r) => a + (r[i]! - mean) ** 2, 0) / (rests.length - 1);
  }
  return Math.sqrt(sum / (length - 2 * wide));
}
