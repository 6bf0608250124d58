import type { PreparedPressure } from './detect-pulses.ts';

export type BeatShape = 'arterial' | 'ventricular' | 'unclear';

/**
 * Is this one beat of an artery or of a ventricle? Three signs, two decide: how long the pressure stays in the lowest quarter
 * of its range, how fast it falls against how fast it rises, and whether it rises or falls late in diastole.
 *
 * Units     indices of the beat's foot and of the next; a beat shorter than 0.42 s has no diastole to judge by
 * Source    shapes of textbook pressures; the three limits are technical and were chosen on drawn and recorded beats [P]
 */
export function judgeBeatShape({ smooth, slope, samplesPerS }: PreparedPressure, from: number, to: number): BeatShape {
  let [low, high, rise, fall] = [Infinity, -Infinity, 0, 0];
  for (let i = from; i < to; i++) {
    const p = smooth[i]!;
    if (Number.isNaN(p)) return 'unclear';
    low = Math.min(low, p);
    high = Math.max(high, p);
    rise = Math.max(rise, slope[i]!);
    fall = Math.min(fall, slope[i]!);
  }
  const range = high - low;
  if (!(range > 3) || to - from < 0.42 * samplesPerS) return 'unclear';
  let inLowest = 0;
  for (let i = from; i < to; i++) if (smooth[i]! < low + 0.25 * range) inLowest++;
  const length = to - from;
  const [a, b] = [from + Math.round(0.65 * length), from + Math.round(0.92 * length)];
  const late = (smooth[b]! - smooth[a]!) / range;
  const signs = [inLowest / length > 0.36, -fall / rise > 0.5, late > -0.03].filter(Boolean).length;
  const isFull = inLowest / length < 0.5 && late < -0.06;
  // Whatever its form: a ventricle empties to a small part of its peak.
  if (signs >= 2 && !isFull) return low < 0.4 * high ? 'ventricular' : 'arterial';
  return signs <= 1 ? 'arterial' : 'unclear';
}
