import type { PreparedPressure } from './detect-pulses.ts';
import type { BeatMeasure } from './pressure-types.ts';

/** Channels on one grid; null where a pressure is not there. */
export interface BeatChannels {
  readonly aortic: PreparedPressure | null;
  readonly ventricular: PreparedPressure | null;
  readonly samplesPerS: number;
  /** Of sample 0. */
  readonly startS: number;
}

/** Upstroke begins where the slope was last below this share of its steepest. */
const ONSET_SHARE = 0.15;
/** About 2 SD of the difference of two zeros of 1 mmHg each: the crossing jumps, so the far end is looked at, not the slope. */
const SHIFT_MMHG = 2.8;

/** End of diastole of a ventricle: the last point before the upstroke where the slope is still small (HD-22). NaN-free or -1. */
export function findEndDiastole(lv: PreparedPressure, foot: number, lookBackS: number, lookAheadS: number): number {
  const { slope, samplesPerS } = lv;
  const first = Math.max(1, Math.round(foot - lookBackS * samplesPerS));
  const last = Math.min(slope.length - 1, Math.round(foot + lookAheadS * samplesPerS));
  let steepAt = first;
  for (let i = first; i <= last; i++) if (slope[i]! > slope[steepAt]!) steepAt = i;
  const steepest = slope[steepAt]!;
  if (!(steepest > 0)) return -1;
  const stop = Math.max(0, steepAt - Math.round(0.15 * samplesPerS));
  let at = steepAt;
  while (at > stop && slope[at]! > ONSET_SHARE * steepest) at--;
  return at;
}

interface Notch {
  readonly at: number;
  readonly prominence: number;
}
/**
 * Incisura: a dip that the pressure climbs out of; of several the sharpest. Without one, the sharpest bend after the steepest fall.
 * Where the ventricle is there too, it is looked for around the end of ejection only.
 */
function findNotch({ smooth, slope, samplesPerS }: PreparedPressure, peakAt: number, from: number, to: number, ejectedAt: number): Notch {
  const span = (s: number): number => Math.round(s * samplesPerS);
  const first = ejectedAt >= 0 ? Math.max(from + 2, ejectedAt - span(0.03)) : peakAt + span(0.03);
  const last = ejectedAt >= 0 ? Math.min(to - 2, ejectedAt + span(0.12)) : Math.min(to - 2, peakAt + span(0.45), from + Math.round(0.75 * (to - from)));
  const step = Math.max(1, span(0.02));
  const bendAt = (i: number): number => slope[Math.min(to - 1, i + step)]! - slope[Math.max(from, i - step)]!;
  const dips: Notch[] = [];
  for (let i = first; i <= last; i++) {
    if (!(smooth[i]! <= smooth[i - 1]! && smooth[i]! < smooth[i + 1]!)) continue;
    let top = smooth[i]!;
    for (let j = i + 1; j <= Math.min(to - 1, i + span(0.15)) && smooth[j]! >= smooth[i]!; j++) top = Math.max(top, smooth[j]!);
    dips.push({ at: i, prominence: top - smooth[i]! });
  }
  const most = Math.max(...dips.map((d) => d.prominence));
  const best = dips.filter((d) => d.prominence >= 0.3 * most).sort((x, y) => bendAt(y.at) - bendAt(x.at))[0];
  if (best) return best;
  let fallAt = Math.min(first, to - 1);
  for (let i = first; i <= last; i++) if (slope[i]! < slope[fallAt]!) fallAt = i;
  let at = fallAt;
  for (let i = fallAt; i <= Math.min(last, fallAt + span(0.12)); i++) if (bendAt(i) > bendAt(at)) at = i;
  return { at, prominence: 0 };
}

/** Mean rate of fall of ln p from after the notch to the end, 1/s. */
function fitDecay({ smooth, samplesPerS }: PreparedPressure, from: number, to: number): number {
  if (to - from < 0.12 * samplesPerS) return NaN;
  let [n, st, sy, stt, sty] = [0, 0, 0, 0, 0];
  for (let i = from; i < to; i++) {
    if (!(smooth[i]! > 1)) return NaN;
    const t = (i - from) / samplesPerS;
    const y = Math.log(smooth[i]!);
    n++;
    st += t;
    sy += y;
    stt += t * t;
    sty += t * y;
  }
  return -(n * sty - st * sy) / (n * stt - st * st);
}

const findMost = (x: Float64Array, from: number, to: number, sign: 1 | -1): number => {
  let best = from;
  for (let i = from; i < to; i++) if (sign * x[i]! > sign * x[best]!) best = i;
  return best;
};
function hasGap(x: Float64Array, from: number, to: number): boolean {
  for (let i = Math.max(0, from); i < Math.min(x.length, to); i++) if (Number.isNaN(x[i]!)) return true;
  return false;
}

/** Nothing measured. */
export const EMPTY = {
  systolic: NaN, diastolic: NaN, mean: NaN, notch: NaN, notchProminence: NaN, notchAtS: NaN, decayPerS: NaN, ventricularSystolic: NaN, ventricularMinimum: NaN,
  endDiastolic: NaN, endDiastolicAtS: NaN, meanGradient: NaN, peakGradient: NaN, ejectionS: NaN, diastolicPressureTime: NaN, ejectionSdS: NaN, pressureTimeSd: NaN, timeIntegrated: NaN,
} as const;

/**
 * One beat from foot to foot.
 *
 * Units     indices of the grid in; mmHg and s out
 * Equation  docs/methods/pressure.md, "One beat"
 * Fails     never: what is not there or touches a gap is NaN, the beat then `partial`
 */
export function measureBeat(channels: BeatChannels, from: number, to: number, rAtS: number): BeatMeasure {
  const { aortic: ao, ventricular: lv, samplesPerS, startS } = channels;
  const second = (i: number): number => startS + i / samplesPerS;
  const span = (s: number): number => Math.round(s * samplesPerS);
  const out: BeatNumbers = { ...EMPTY };
  const reachBack = span(0.06);
  const isWholeAo = ao !== null && !hasGap(ao.smooth, from - reachBack, to);
  const isWholeLv = lv !== null && !hasGap(lv.smooth, from - reachBack, to);
  let ejectedAt = -1;
  if (lv && isWholeLv) {
    const [back, ahead] = ao ? [0.22, 0.06] : [0.08, 0.1];
    const endAt = findEndDiastole(lv, from, back, ahead);
    const nextAt = findEndDiastole(lv, to, back, ahead);
    const end = nextAt > from ? nextAt : to;
    const peakAt = findMost(lv.smooth, from, from + Math.round(0.7 * (to - from)), 1);
    out.ventricularSystolic = lv.smooth[peakAt]!;
    out.ventricularMinimum = lv.smooth[findMost(lv.smooth, peakAt, end, -1)]!;
    if (endAt >= 0) {
      out.endDiastolic = lv.smooth[endAt]!;
      out.endDiastolicAtS = second(endAt);
    }
    if (ao && isWholeAo) ejectedAt = measurePair(ao.smooth, lv, from, end, out);
  }
  if (ao && isWholeAo) {
    const p = ao.smooth;
    const peakAt = findMost(p, from, from + Math.round(0.7 * (to - from)), 1);
    out.systolic = p[peakAt]!;
    out.diastolic = p[findMost(p, Math.max(0, from - reachBack), Math.min(p.length, from + span(0.03)), -1)]!;
    let sum = 0;
    for (let i = from; i < to; i++) sum += p[i]!;
    out.mean = sum / (to - from);
    const notch = findNotch(ao, peakAt, from, to, ejectedAt);
    out.notch = p[notch.at] ?? NaN;
    out.notchProminence = notch.prominence;
    out.notchAtS = second(notch.at);
    out.decayPerS = fitDecay(ao, notch.at + span(0.08), to - span(0.02));
  }
  const isWhole = (ao === null || isWholeAo) && (lv === null || isWholeLv);
  return { atS: second(from), lengthS: (to - from) / samplesPerS, kind: isWhole ? 'counted' : 'partial', rAtS, ...out };
}

export type BeatNumbers = { -readonly [K in keyof typeof EMPTY]: number };

/** What needs both pressures at once: gradients over ejection, the area between them in diastole. Gives the end of ejection. */
export function measurePair(p: Float64Array, lv: PreparedPressure, from: number, end: number, out: BeatNumbers): number {
  const { smooth: v, slope, samplesPerS } = lv;
  const first = Math.max(0, from - Math.round(0.04 * samplesPerS));
  const fallAt = findMost(slope, from + Math.round(0.08 * samplesPerS), end, -1);
  let peakAt = from;
  for (let i = from; i < Math.max(from + 1, fallAt); i++) if (v[i]! - p[i]! > v[peakAt]! - p[peakAt]!) peakAt = i;
  // Ejection: from the first to the last time that LV stands above Ao. Between, blood carried on by its inertia may hold Ao above.
  // Late in ejection both run close: a zero that is off by a millimetre moves the crossing by many milliseconds, so the
  // crossings of shifted curves tell how far.
  const findCross = (shift: number): number => {
    let at = Math.min(end - 1, fallAt + Math.round(0.08 * samplesPerS));
    while (at > peakAt && v[at]! + shift < p[at]!) at--;
    return at;
  };
  const findBegin = (shift: number): number => {
    let at = first;
    while (at < peakAt && !(v[at]! + shift > p[at]! && v[at + 1]! + shift > p[at + 1]!)) at++;
    return at;
  };
  const crossAt = findCross(0);
  out.peakGradient = v[peakAt]! - p[peakAt]!;
  if (out.peakGradient > 0) {
    const begin = findBegin(0);
    let [area, count] = [0, 0];
    for (let i = begin; i <= crossAt; i++) {
      if (!(v[i]! > p[i]!)) continue;
      area += v[i]! - p[i]!;
      count++;
    }
    out.meanGradient = area / count;
    out.ejectionS = (crossAt - begin + 1) / samplesPerS;
    out.ejectionSdS = Math.abs(findCross(SHIFT_MMHG) - findBegin(SHIFT_MMHG) - findCross(-SHIFT_MMHG) + findBegin(-SHIFT_MMHG)) / 2.4 / samplesPerS;
  } else [out.meanGradient, out.peakGradient] = [0, 0];
  if (end - crossAt < 0.06 * samplesPerS) return crossAt;
  const meanFrom = (at: number): number => {
    let sum = 0;
    for (let i = at; i < end; i++) sum += p[i]! - v[i]!;
    return sum / (end - at);
  };
  const diastole = meanFrom(crossAt);
  let systole = 0;
  for (let i = from; i < crossAt; i++) systole += v[i]!;
  out.diastolicPressureTime = diastole;
  out.pressureTimeSd = Math.abs(meanFrom(Math.min(end - 1, findCross(SHIFT_MMHG))) - meanFrom(Math.min(end - 1, findCross(-SHIFT_MMHG)))) / 2.4;
  out.timeIntegrated = (100 * diastole * (end - crossAt)) / systole;
  return crossAt;
}
