import type { PreparedPressure, Pulse } from './detect-pulses.ts';
import { findQuantile, measureTone, smoothQuadratic } from './filters.ts';
import { findFreeSwing, type SwingPart } from './find-free-swing.ts';
import type { Span } from './find-spans.ts';
import { findFalls, layBeatsAt, type LaidBeats } from './lay-beats.ts';
import { computeLineResponse } from './pressure-formulas.ts';

export interface MeasuredResponse {
  readonly by: 'flush' | 'ringing' | 'stated';
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
const BEFORE_S = 0.12;
const LEAST_EXTREMES = 5;
/** A swing must fit this much better than a single bend, and stand out of the noise of laid beats [P]: docs/methods/pressure.md. */
const LEAST_GAIN = { aortic: 0.3, ventricular: 0.35 } as const;
const MOST_FIT_DAMPING = 0.3;
const LEAST_EXPLAINED_MMHG = 0.08;
const LEAST_SWING_MMHG = 1.5;
const LEAST_SWING_SHARE = 0.015;

/**
 * Ringing that every beat starts again. Beats are laid over one another at their steepest rise (and fall, of a ventricle); then
 * either a decaying even swing of at least two periods is there to be seen, or a damped swing of one frequency and damping
 * explains what follows the rise much better than any single bend does.
 *
 * Equation  docs/methods/pressure.md, "Lines"
 * Fails     null when there is none
 */
export function measureRinging(prepared: PreparedPressure, pulses: readonly Pulse[], kind: 'aortic' | 'ventricular'): MeasuredResponse | null {
  const { samplesPerS } = prepared;
  const rises = layBeatsAt(prepared, pulses.map((p) => p.steepAt), BEFORE_S, ALIGN_S);
  // Of fast beats the next one lies inside the stretch.
  const apart = findQuantile(pulses.slice(1).map((p, k) => (p.steepAt - pulses[k]!.steepAt) / samplesPerS), 0.5);
  if (rises === null || apart < ALIGN_S) return null;
  const [seen, fitted] = [findEvenSwing(rises), fitRinging(prepared, rises, pulses, kind)];
  if (seen && seen.dampingRatio < MOST_FIT_DAMPING) return seen;
  return fitted ?? seen;
}

function fitRinging(prepared: PreparedPressure, rises: LaidBeats, pulses: readonly Pulse[], kind: 'aortic' | 'ventricular'): MeasuredResponse | null {
  // After the rise the line is left to itself until the notch. A ventricle also falls steeply; its top bends more.
  const parts: SwingPart[] = [];
  if (kind === 'aortic') parts.push({ laid: rises, fromS: 0.012, lengthS: 0.192, degree: 4 });
  else {
    const falls = layBeatsAt(prepared, findFalls(prepared, pulses), 0.02, 0.32);
    if (falls === null) return null;
    parts.push({ laid: rises, fromS: 0.02, lengthS: 0.192, degree: 5 }, { laid: falls, fromS: 0.02, lengthS: 0.28, degree: 5 });
  }
  const swing = findFreeSwing(parts);
  if (swing === null) return null;
  const pulse = findQuantile(pulses.map((p) => p.riseMmHg), 0.5);
  const isSwing = swing.gain > LEAST_GAIN[kind] && swing.dampingRatio < MOST_FIT_DAMPING && swing.explainedMmHg > LEAST_EXPLAINED_MMHG
    && swing.swingMmHg > Math.max(LEAST_SWING_MMHG, LEAST_SWING_SHARE * pulse);
  if (!isSwing) return null;
  return { by: 'ringing', naturalHz: swing.naturalHz, dampingRatio: swing.dampingRatio, naturalHalfHz: 0.2 * swing.naturalHz, dampingHalf: 0.12, swingMmHg: swing.swingMmHg };
}

function findEvenSwing({ mean, pointAt, samplesPerS }: LaidBeats): MeasuredResponse | null {
  const length = mean.length;
  let best: MeasuredResponse | null = null;
  // A slow curve is taken away by a wider parabola; two widths, for slow and for fast ringing.
  for (const halfS of [0.05, 0.03]) {
    const slow = smoothQuadratic(mean, Math.round(halfS * samplesPerS));
    const rest = mean.map((v, i) => v - slow[i]!);
    const extremes = findExtremes(rest, pointAt + Math.round(0.01 * samplesPerS), length - Math.round(halfS * samplesPerS), 0.15);
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

const STEEP_HALF_S = 0.12;
/** Amplitudes of a rise at three frequencies over that at 4 Hz. */
export interface RiseRollOff {
  readonly at8Hz: number;
  readonly at10Hz: number;
  readonly at12Hz: number;
}
/**
 * How fast the harmonics of an upstroke fall off: amplitude of the slope of laid beats, under a raised cosine of 240 ms around
 * the steepest point, at 8, 10 and 12 Hz over that at 4 Hz. An over-damped line lets little of the fast part through, whatever the
 * pressure; laying beats takes away the noise that would hide it.
 * Units     ratios
 * Fails     null without three whole beats, or below 60 samples a second
 */
export function measureRollOff(prepared: PreparedPressure, pulses: readonly Pulse[]): RiseRollOff | null {
  const { samplesPerS } = prepared;
  if (samplesPerS < 60) return null;
  const laid = layBeatsAt(prepared, pulses.map((p) => p.steepAt), STEEP_HALF_S + 2 / samplesPerS, STEEP_HALF_S + 2 / samplesPerS);
  if (laid === null) return null;
  const half = Math.round(STEEP_HALF_S * samplesPerS);
  const slope = Float64Array.from({ length: 2 * half + 1 }, (_, i) => {
    const at = laid.pointAt - half + i;
    return (((laid.mean[at + 1] ?? NaN) - (laid.mean[at - 1] ?? NaN)) / 2) * 0.5 * (1 + Math.cos((Math.PI * (i - half)) / half));
  });
  const slow = measureTone(slope, 4, samplesPerS);
  return { at8Hz: measureTone(slope, 8, samplesPerS) / slow, at10Hz: measureTone(slope, 10, samplesPerS) / slow, at12Hz: measureTone(slope, 12, samplesPerS) / slow };
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
