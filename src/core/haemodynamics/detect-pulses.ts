import { bridgeGaps, findQuantile, fitQuadratic, smoothMoving } from './filters.ts';

/** One pressure on its grid with what every step of the reading needs. */
export interface PreparedPressure {
  readonly samplesPerS: number;
  readonly raw: Float64Array;
  /** Parabola over +-20 ms; NaN near gaps. */
  readonly smooth: Float64Array;
  /** mmHg/s of the same. */
  readonly slope: Float64Array;
}
const SMOOTH_HALF_S = 0.02;

export function preparePressure(raw: Float64Array, samplesPerS: number): PreparedPressure {
  const half = Math.max(1, Math.round(SMOOTH_HALF_S * samplesPerS));
  const { value, slope } = fitQuadratic(raw, half);
  for (let i = 0; i < slope.length; i++) slope[i] = slope[i]! * samplesPerS;
  return { samplesPerS, raw, smooth: value, slope };
}

/** A pulse: foot, steepest point of its upstroke, and how far the pressure rises. */
export interface Pulse {
  readonly footAt: number;
  readonly steepAt: number;
  readonly riseMmHg: number;
}

/** Rise is summed over this, as in the slope sum of Zong et al. 2003 [M]. */
const RISE_WINDOW_S = 0.13;
const SHARE_OF_USUAL = 0.35;
const LEAST_RISE_MMHG = 2;
/** No two beats are closer: 260 a minute. */
const LEAST_APART_S = 0.23;
const BLOCK_S = 2;
const AROUND_BLOCKS = 2;

/**
 * Upstrokes of a pulsatile pressure: where the pressure rises by more than a share of what it does around there.
 *
 * Units     indices of samples; mmHg
 * Equation  docs/methods/pressure.md: rise r(i) = sum of max(0, step) over 130 ms; threshold 0.35 times the median of the
 *           tops of r in the five blocks of 2 s around; a small rise soon after a large one is the wave after the notch
 * Fails     never; none found gives an empty list
 */
export function detectPulses({ smooth, samplesPerS }: PreparedPressure): readonly Pulse[] {
  const n = smooth.length;
  const whole = smoothMoving(bridgeGaps(smooth), Math.max(1, Math.round(0.03 * samplesPerS)));
  const window = Math.max(2, Math.round(RISE_WINDOW_S * samplesPerS));
  const rise = new Float64Array(n);
  const steps = new Float64Array(n);
  let sum = 0;
  for (let i = 1; i < n; i++) {
    const up = whole[i]! - whole[i - 1]!;
    const step = up > 0 && smooth[i]! === smooth[i]! ? up : 0;
    steps[i] = step;
    sum += step - (i > window ? steps[i - window]! : 0);
    rise[i] = sum;
  }
  // Peaks of the rise, block by block; the usual rise around a block is the median of them.
  const block = Math.max(1, Math.round(BLOCK_S * samplesPerS));
  const blocks = Math.ceil(n / block);
  const tops: number[] = [];
  for (let b = 0; b < blocks; b++) {
    let top = 0;
    const end = Math.min(n, (b + 1) * block);
    for (let i = b * block; i < end; i++) if (rise[i]! > top) top = rise[i]!;
    tops.push(top);
  }
  const thresholds = tops.map((_, b) => {
    const near = tops.slice(Math.max(0, b - AROUND_BLOCKS), b + AROUND_BLOCKS + 1).filter((t) => t >= LEAST_RISE_MMHG);
    return Math.max(LEAST_RISE_MMHG, SHARE_OF_USUAL * (near.length > 0 ? findQuantile(near, 0.5) : Infinity));
  });
  const found: Pulse[] = [];
  // Most samples stand below every threshold.
  const lowest = thresholds.reduce((least, t) => Math.min(least, t), Infinity);
  for (let i = 1; i < n; i++) {
    if (!(rise[i]! >= lowest)) continue;
    const threshold = thresholds[Math.min(blocks - 1, Math.floor(i / block))]!;
    if (!(rise[i]! >= threshold)) continue;
    let [end, peakAt] = [i, i];
    while (end < n && rise[end]! >= threshold) {
      if (rise[end]! > rise[peakAt]!) peakAt = end;
      end++;
    }
    const pulse = placePulse(whole, steps, Math.max(1, i - window), peakAt, rise[peakAt]!, samplesPerS);
    if (!isBridged(smooth, pulse.footAt, peakAt)) pushPulse(found, pulse, samplesPerS);
    i = end;
  }
  return dropEchoes(found, whole, samplesPerS);
}

/** Longest from a foot to the wave after its notch. */
const ECHO_S = 0.42;
/**
 * Waves after the notch that are nearly as high as pulses: they start well above the level of diastole, soon after a higher
 * rise, and do so beat after beat. (Early beats do so now and then, and later.)
 */
function dropEchoes(found: readonly Pulse[], p: Float64Array, samplesPerS: number): readonly Pulse[] {
  const isEcho = found.map((pulse, k) => {
    const [last, next] = [found[k - 1], found[k + 1]];
    if (!last) return false;
    const apart = (pulse.footAt - last.footAt) / samplesPerS;
    const isSmaller = pulse.riseMmHg < 0.85 * last.riseMmHg && (!next || pulse.riseMmHg < 0.85 * next.riseMmHg);
    const isHigh = p[pulse.footAt]! - p[last.footAt]! > 0.25 * last.riseMmHg && (!next || p[pulse.footAt]! - p[next.footAt]! > 0.15 * last.riseMmHg);
    return isSmaller && isHigh && apart < ECHO_S && (!next || apart < 0.85 * ((next.footAt - pulse.footAt) / samplesPerS));
  });
  const echoes = isEcho.filter(Boolean).length;
  return echoes > 0.2 * found.length ? found.filter((_, k) => !isEcho[k]) : found;
}

function isBridged(smooth: Float64Array, from: number, to: number): boolean {
  for (let i = from; i <= to; i++) if (Number.isNaN(smooth[i]!)) return true;
  return false;
}

/** Foot by the crossing of the steepest tangent with the level before it. */
function placePulse(p: Float64Array, steps: Float64Array, from: number, to: number, riseMmHg: number, samplesPerS: number): Pulse {
  let steepAt = from;
  for (let i = from; i <= to; i++) if (steps[i]! > steps[steepAt]!) steepAt = i;
  let lowAt = steepAt;
  const first = Math.max(0, steepAt - Math.round(0.25 * samplesPerS));
  for (let i = steepAt; i >= first; i--) {
    if (p[i]! < p[lowAt]!) lowAt = i;
    // A hill before the level: the level is what lies between.
    else if (p[i]! > p[lowAt]! + 0.3 * riseMmHg) break;
  }
  const back = steps[steepAt]! > 0 ? (p[steepAt]! - p[lowAt]!) / steps[steepAt]! : 0;
  return { footAt: Math.max(lowAt, Math.round(steepAt - back)), steepAt, riseMmHg };
}

function pushPulse(found: Pulse[], pulse: Pulse, samplesPerS: number): void {
  const last = found.at(-1);
  const apart = last ? (pulse.steepAt - last.steepAt) / samplesPerS : Infinity;
  if (last && apart < LEAST_APART_S) {
    if (pulse.riseMmHg > 1.3 * last.riseMmHg) found[found.length - 1] = pulse;
    return;
  }
  if (last && pulse.riseMmHg < 0.6 * last.riseMmHg) {
    const recent = found.slice(-8);
    const usual = recent.length > 2 ? findQuantile(recent.slice(1).map((p, k) => (p.steepAt - recent[k]!.steepAt) / samplesPerS), 0.5) : 0.8;
    if (apart < 0.55 * usual && apart < 0.5) return; // the wave after the notch
  }
  found.push(pulse);
}
