import { bridgeGaps, filterBothWays, makeButterworth, smoothMoving } from './filters.ts';

const BAND_HZ = [8, 20] as const;
const QRS_S = 0.097;
const BEAT_S = 0.611;
const OFFSET = 0.08;
/** Refractory. */
const LEAST_APART_S = 0.25;

/**
 * R peaks of an ECG by two moving averages of the squared band of 8 to 20 Hz (Elgendi 2013 [M]), with a search back where
 * a beat is missing and a check of slopes for tall T waves.
 *
 * Units     any unit of voltage in; indices of samples out, at the largest deflection of the QRS
 * Fails     never; none found gives an empty list
 */
export function detectQrs(ecg: Float64Array, samplesPerS: number): readonly number[] {
  const n = ecg.length;
  if (n < samplesPerS * 0.5) return [];
  const whole = bridgeGaps(ecg);
  const band = filterBothWays(filterBothWays(whole, makeButterworth('high', BAND_HZ[0], samplesPerS)), makeButterworth('low', BAND_HZ[1], samplesPerS));
  const squared = band.map((v) => v * v);
  const short = smoothMoving(squared, Math.max(1, Math.round(QRS_S * samplesPerS)));
  const long = smoothMoving(squared, Math.max(3, Math.round(BEAT_S * samplesPerS)));
  const wide = smoothMoving(squared, Math.round(10 * samplesPerS));
  const least = Math.round(QRS_S * samplesPerS * 0.6);
  const found: { at: number; height: number }[] = [];
  for (let i = 0; i < n; i++) {
    if (!(short[i]! > long[i]! + OFFSET * wide[i]!)) continue;
    let end = i;
    while (end < n && short[end]! > long[end]! + OFFSET * wide[end]!) end++;
    if (end - i >= least) {
      let at = i;
      for (let j = i; j < end; j++) if (squared[j]! > squared[at]!) at = j;
      const height = Math.sqrt(squared[at]!);
      const last = found.at(-1);
      if (last && at - last.at < LEAST_APART_S * samplesPerS) {
        if (height > last.height) found[found.length - 1] = { at, height };
      } else found.push({ at, height });
    }
    i = end;
  }
  return dropTWaves(found, samplesPerS).map(({ at }) => refine(whole, at, samplesPerS));
}

/** A low bump soon after a QRS is its T wave; a low bump alone in a stretch of tall beats is none. */
function dropTWaves(found: readonly { readonly at: number; readonly height: number }[], samplesPerS: number): { at: number; height: number }[] {
  const kept: { at: number; height: number }[] = [];
  for (const [k, each] of found.entries()) {
    const last = kept.at(-1);
    const near = [...found.slice(Math.max(0, k - 5), k), ...found.slice(k + 1, k + 6)].map((f) => f.height).sort((a, b) => a - b);
    const usual = near[Math.floor(near.length / 2)] ?? each.height;
    const apart = last ? (each.at - last.at) / samplesPerS : Infinity;
    if (last && apart < 0.4 && each.height < 0.5 * last.height) continue;
    if (each.height < 0.25 * usual) continue;
    kept.push({ ...each });
  }
  return kept;
}

/** To the largest deflection of the signal itself from its local mean, within 70 ms. */
function refine(whole: Float64Array, at: number, samplesPerS: number): number {
  const half = Math.round(0.07 * samplesPerS);
  const [from, to] = [Math.max(0, at - half), Math.min(whole.length - 1, at + half)];
  let mean = 0;
  for (let i = from; i <= to; i++) mean += whole[i]! / (to - from + 1);
  let best = at;
  for (let i = from; i <= to; i++) if (Math.abs(whole[i]! - mean) > Math.abs(whole[best]! - mean)) best = i;
  return best;
}
