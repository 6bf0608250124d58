import { fail, succeed, type Result } from '../../core/result.ts';

export interface TimeGrid {
  readonly samplesPerS: number;
  readonly startS: number;
  /** Places on the grid, gaps among them. */
  readonly length: number;
  /** Place of each row; null: row and place are the same, there is no gap. */
  readonly places: Int32Array | null;
  /** Places without a row. */
  readonly missing: number;
  readonly gaps: number;
}

export type TimeGridFailureCode = 'time-goes-back' | 'time-repeats' | 'time-uneven' | 'time-not-a-number' | 'sampling-rate-invalid' | 'recording-too-large';

/** A waveform is sampled at least so often, 1/s; below it the time column is in another unit, or this is a trend. */
const LEAST_RATE = 10;
const MOST_RATE = 100_000;
/** Above this share of long steps they are how the times are rounded, and no lost samples. */
const ROUNDED_SHARE = 0.05;
/** Of one step: how far a time may lie from its place, before the steps are called uneven. */
const MOST_OFF_STEPS = 1.5;
/** Share of rows that may lie further off. */
const MOST_OFF_SHARE = 0.01;
const MOST_MEDIAN_STEPS = 20_011;

/**
 * Even grid under the times of rows. Recorders round times (240 per second in whole ms gives steps of 4 and 5 ms) and lose
 * samples; the first is spread over the grid, the second becomes empty places.
 *
 * Units     s
 * Equation  rate = 1 / mean step over steps that are no gap; a gap is a step over 1.5 x the median
 * Fails     time-not-a-number, time-goes-back, time-repeats, time-uneven, sampling-rate-invalid, recording-too-large
 * Source    docs/methods/recordings.md
 */
export function findTimeGrid(timesS: Float64Array, mostPlaces: number): Result<TimeGrid, TimeGridFailureCode> {
  const n = timesS.length;
  const steps = new Float64Array(Math.max(0, n - 1));
  let repeats = 0;
  for (let i = 0; i < n; i++) {
    const t = timesS[i]!;
    if (!Number.isFinite(t)) return fail('time-not-a-number', `The time of row ${i + 1} is no number.`, 'Give every row a time; leave rows without one out.', { row: i + 1 });
    if (i === 0) continue;
    const step = t - timesS[i - 1]!;
    if (step < 0) {
      return fail('time-goes-back', `The time goes back by ${round(-step)} s at row ${i + 1}.`, 'Two recordings may be joined, or rows are out of order: export one recording at a time.', { row: i + 1, stepS: round(step) });
    }
    if (step === 0) repeats++;
    steps[i - 1] = step;
  }
  if (repeats > 0) {
    return fail('time-repeats', `${repeats} of ${n} rows have the time of the row before.`, 'Export times with more decimals: each row needs its own.', { repeats, rows: n });
  }
  if (n < 3) return fail('sampling-rate-invalid', `${n} rows give no sampling rate.`, 'Export a longer stretch.', { rows: n });
  const median = findMedian(steps);
  const isLong = (step: number): boolean => step > 1.5 * median * (1 + 1e-6);
  let long = 0;
  for (let i = 0; i < steps.length; i++) if (isLong(steps[i]!)) long++;
  const isRounded = long > ROUNDED_SHARE * steps.length;
  const gapFrom = isRounded ? 2.5 * median : 1.5 * median * (1 + 1e-6);
  let [sum, count] = [0, 0];
  for (let i = 0; i < steps.length; i++) {
    if (steps[i]! > gapFrom) continue;
    sum += steps[i]!;
    count++;
  }
  const step = sum / count;
  const samplesPerS = roundRate(1 / step);
  if (!(samplesPerS >= LEAST_RATE && samplesPerS <= MOST_RATE)) {
    return fail('sampling-rate-invalid', `The times step by ${round(step)} s; a pressure or ECG is sampled ${LEAST_RATE} to ${MOST_RATE} times a second.`,
      'Check the unit of the time column: name it "time (s)" or "time (ms)".', { stepS: round(step) });
  }
  return placeRows(timesS, steps, gapFrom, samplesPerS, mostPlaces);
}

/** Of every step, or of evenly chosen ones where there are very many. */
function findMedian(steps: Float64Array): number {
  const stride = Math.ceil(steps.length / MOST_MEDIAN_STEPS);
  const chosen = stride === 1 ? steps.slice() : Float64Array.from({ length: Math.floor(steps.length / stride) }, (_, i) => steps[i * stride]!);
  return chosen.sort()[chosen.length >> 1]!;
}

function placeRows(timesS: Float64Array, steps: Float64Array, gapFrom: number, samplesPerS: number, mostPlaces: number): Result<TimeGrid, TimeGridFailureCode> {
  const n = timesS.length;
  const places = new Int32Array(n);
  // After each gap the grid starts anew from where the time says, so rounding never adds up beyond one stretch.
  let [place, gaps, off] = [0, 0, 0];
  let [stretchPlace, stretchTime] = [0, timesS[0]!];
  for (let i = 1; i < n; i++) {
    const isGap = steps[i - 1]! > gapFrom;
    place = isGap ? Math.max(place + 2, place + Math.round(steps[i - 1]! * samplesPerS)) : place + 1;
    if (place >= mostPlaces) return fail('recording-too-large', `With its gaps the recording has more than ${mostPlaces} places for samples.`, 'Export the stretch that matters alone.', { row: i + 1 });
    if (isGap) {
      gaps++;
      [stretchPlace, stretchTime] = [place, timesS[i]!];
    } else if (!(Math.abs((timesS[i]! - stretchTime) * samplesPerS - (place - stretchPlace)) <= MOST_OFF_STEPS + (place - stretchPlace) * 1e-3)) off++;
    places[i] = place;
  }
  if (off > MOST_OFF_SHARE * n || gaps > 0.25 * n) {
    return fail('time-uneven', `The steps of the time column are uneven: ${off + gaps} of ${n} rows do not lie where ${round(samplesPerS)} samples a second would put them.`,
      'Export with a fixed sampling rate.', { rows: n, off, gaps });
  }
  const length = place + 1;
  return succeed({ samplesPerS, startS: timesS[0]!, length, places: gaps === 0 ? null : places, missing: length - n, gaps });
}

/** 249.9999999 is 250: a rate within 2 in 100,000 of a whole number is that number. */
function roundRate(rate: number): number {
  const whole = Math.round(rate);
  return Math.abs(rate - whole) <= 2e-5 * whole ? whole : rate;
}

const round = (value: number): number => Number(value.toPrecision(6));
