import type { BeatMeasure } from './pressure-types.ts';

export interface Breathing {
  readonly ratePerMin: number;
  /** Highest minus lowest of the fitted wave. */
  readonly swingMmHg: number;
  readonly halfMmHg: number;
  /** Beats in the third of the breath around its end of breathing out. */
  readonly atExpiration: readonly BeatMeasure[];
}

const RATES_PER_MIN = [6, 36] as const;
const LEAST_SWING_MMHG = 1;

/**
 * Breathing as the sine that explains most of a beat series, 6 to 36 a minute. Breathing out raises the pressure of a person
 * who breathes alone and lowers that of one who is ventilated.
 *
 * Fails     null without a swing of 1 mmHg that explains half of the scatter, or over less than two breaths
 */
export function estimateBreathing(beats: readonly BeatMeasure[], of: (b: BeatMeasure) => number, way: 'spontaneous' | 'ventilated' | undefined): Breathing | null {
  const used = beats.filter((b) => Number.isFinite(of(b))).slice(0, 400);
  if (used.length < 8) return null;
  const [t, y] = [used.map((b) => b.atS), used.map(of)];
  const mean = y.reduce((a, b) => a + b, 0) / y.length;
  const total = y.reduce((a, b) => a + (b - mean) ** 2, 0);
  const covered = t.at(-1)! - t[0]!;
  // A beat each: no breath is seen that is faster than half the beats.
  const most = Math.min(RATES_PER_MIN[1], (30 * (used.length - 1)) / covered);
  let best = { rate: 0, explained: 0, a: 0, b: 0 };
  for (let rate = RATES_PER_MIN[0]; rate <= most; rate += Math.max(0.25, 6 / covered)) {
    if (covered < 120 / rate) continue;
    let [cc, ss, cs, cy, sy] = [0, 0, 0, 0, 0];
    for (let i = 0; i < t.length; i++) {
      const w = (2 * Math.PI * rate * t[i]!) / 60;
      const [c, s] = [Math.cos(w), Math.sin(w)];
      cc += c * c;
      ss += s * s;
      cs += c * s;
      cy += c * (y[i]! - mean);
      sy += s * (y[i]! - mean);
    }
    const det = cc * ss - cs * cs;
    if (!(det > 1e-6)) continue;
    const [a, b] = [(ss * cy - cs * sy) / det, (cc * sy - cs * cy) / det];
    const explained = a * cy + b * sy;
    if (explained > best.explained) best = { rate, explained, a, b };
  }
  const amplitude = Math.hypot(best.a, best.b);
  if (!(2 * amplitude >= LEAST_SWING_MMHG && best.explained > 0.5 * total)) return null;
  const noise = Math.sqrt(Math.max(0, total - best.explained) / Math.max(1, y.length - 3));
  const sign = way === 'ventilated' ? -1 : 1;
  const isOut = (atS: number): boolean => {
    const w = (2 * Math.PI * best.rate * atS) / 60;
    return (sign * (best.a * Math.cos(w) + best.b * Math.sin(w))) / amplitude > 0.5;
  };
  return { ratePerMin: best.rate, swingMmHg: 2 * amplitude, halfMmHg: (4 * noise * Math.SQRT2) / Math.sqrt(y.length), atExpiration: used.filter((b) => isOut(b.atS)) };
}
