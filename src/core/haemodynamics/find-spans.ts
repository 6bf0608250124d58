import { findQuantile, measureTone } from './filters.ts';
import { READING_LIMITS } from './pressure-priors.ts';

/** A stretch of samples, the end not in it. */
export interface Span {
  readonly from: number;
  readonly to: number;
}
/** What one pressure shows apart from its beats. */
export interface SignalSpans {
  readonly gaps: readonly Span[];
  readonly flats: readonly Span[];
  readonly flushes: readonly Span[];
  /** Runs at the largest and at the smallest value, when there are as many as only a limit of the recorder makes. */
  readonly clippedHigh: readonly Span[];
  readonly clippedLow: readonly Span[];
  readonly impossibleShare: number;
}

const LEAST_GAP_S = 0.02;
const LEAST_FLUSH_S = 0.15;
const FLUSH_ABOVE_MMHG = 200;
const CLIPPED_RUN_S = 0.036;
const BESIDE_S = 0.025;

function findRuns(n: number, isIn: (i: number) => boolean, least: number): Span[] {
  const runs: Span[] = [];
  for (let i = 0; i < n; i++) {
    if (!isIn(i)) continue;
    const from = i;
    while (i < n && isIn(i)) i++;
    if (i - from >= least) runs.push({ from, to: i });
  }
  return runs;
}

/**
 * Gaps, dead stretches, fast flushes and clipping of one pressure.
 * Units     mmHg; indices of samples
 * Fails     never
 */
export function findSpans(raw: Float64Array, samplesPerS: number): SignalSpans {
  const n = raw.length;
  const gaps = findRuns(n, (i) => raw[i]! !== raw[i]!, Math.max(1, Math.round(LEAST_GAP_S * samplesPerS)));
  const flats = findFlats(raw, samplesPerS);
  // The usual top from a thinned copy: sorting an hour of samples is dear.
  const thin = Float64Array.from({ length: Math.min(n, 20_000) }, (_, k) => raw[Math.floor((k * n) / Math.min(n, 20_000))]!);
  const top = findQuantile(thin, 0.8);
  const isFlush = (i: number): boolean => raw[i]! > FLUSH_ABOVE_MMHG && raw[i]! > 1.25 * top;
  const flushes = findRuns(n, isFlush, Math.max(2, Math.round(LEAST_FLUSH_S * samplesPerS)));
  const inFlush = (i: number): boolean => flushes.some((f) => i >= f.from - 2 && i < f.to + samplesPerS);
  let [high, low, impossible] = [-Infinity, Infinity, 0];
  const [least, most] = READING_LIMITS.possibleMmHg;
  for (let i = 0; i < n; i++) {
    const p = raw[i]!;
    if (p !== p || (flushes.length > 0 && inFlush(i))) continue;
    if (p > high) high = p;
    if (p < low) low = p;
    if (p < least || p > most) impossible++;
  }
  const run = Math.max(3, Math.round(CLIPPED_RUN_S * samplesPerS));
  const isFlat = (s: Span): boolean => s.to - s.from > 1.2 * samplesPerS;
  const least3 = Math.max(0.5, 3 * findStep(raw));
  const beside = Math.max(1, Math.round(BESIDE_S * samplesPerS));
  // A limit cuts while the pressure still moves; a round top and a flat diastole come and go softly, a few steps of the converter.
  const isCut = ({ from, to }: Span): boolean => Math.abs((raw[from - beside] ?? NaN) - raw[from]!) >= least3 && Math.abs((raw[to - 1 + beside] ?? NaN) - raw[from]!) >= least3;
  const clipped = (at: number): Span[] => {
    const runs = findRuns(n, (i) => Math.abs(raw[i]! - at) < 1e-4, run).filter((s) => !isFlat(s) && isCut(s));
    // One or two plateaus happen by rounding; a limit cuts beat after beat.
    return runs.length >= Math.max(3, (0.25 * n) / samplesPerS) ? runs : [];
  };
  return { gaps, flats, flushes, clippedHigh: clipped(high), clippedLow: clipped(low), impossibleShare: n > 0 ? impossible / n : 0 };
}

/** Step of the converter: the smallest difference of neighbours in a part of the recording. */
function findStep(raw: Float64Array): number {
  let step = Infinity;
  for (let i = 1; i < Math.min(raw.length, 4000); i++) {
    const d = Math.abs(raw[i]! - raw[i - 1]!);
    if (d > 1e-3 && d < step) step = d;
  }
  return Number.isFinite(step) ? step : 0;
}

function findFlats(raw: Float64Array, samplesPerS: number): Span[] {
  const runs: Span[] = [];
  const flat = READING_LIMITS.flatMmHg;
  let [from, low, high] = [0, Infinity, -Infinity];
  const close = (to: number): void => {
    if (to - from >= READING_LIMITS.flatS * samplesPerS) runs.push({ from, to });
  };
  for (let i = 0; i < raw.length; i++) {
    const p = raw[i]!;
    const isIn = (high > p ? high : p) - (low < p ? low : p) <= flat;
    if (isIn) {
      if (p < low) low = p;
      if (p > high) high = p;
    } else {
      close(i);
      if (p === p) from = i;
      else from = i + 1;
      low = p === p ? p : Infinity;
      high = p === p ? p : -Infinity;
    }
  }
  close(raw.length);
  return runs;
}

/** Amplitude of mains hum, mmHg: median over stretches of 1 s, 0 where it does not stand out of its neighbours. */
export function measureHum(raw: Float64Array, hz: number, samplesPerS: number): number {
  if (samplesPerS <= 2.1 * hz) return 0;
  const block = Math.round(samplesPerS);
  const count = Math.floor(raw.length / block);
  const amplitudes: number[] = [];
  const beside: number[] = [];
  for (let k = 0; k < Math.min(count, 40); k++) {
    const part = raw.subarray(Math.floor((k * count) / Math.min(count, 40)) * block).subarray(0, block);
    if (part.some((v) => Number.isNaN(v))) continue;
    amplitudes.push(measureTone(part, hz, samplesPerS));
    beside.push(Math.max(measureTone(part, hz - 4, samplesPerS), measureTone(part, hz + 4, samplesPerS)));
  }
  const amplitude = findQuantile(amplitudes, 0.5);
  return amplitude > 3 * findQuantile(beside, 0.5) ? amplitude : 0;
}
