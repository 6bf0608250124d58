import type { LaidBeats } from './lay-beats.ts';

/** A damped swing that lies on laid beats. */
export interface FreeSwing {
  readonly naturalHz: number;
  readonly dampingRatio: number;
  /** At the steepest point of the upstroke, mmHg. */
  readonly swingMmHg: number;
  /** ln of the rest without such a swing over the rest with it. */
  readonly gain: number;
  /** What the swing explains, mmHg rms. */
  readonly explainedMmHg: number;
}
/** A part of laid beats in which the line swings freely: from `fromS` after the point, `lengthS` long, on a parabola of this degree. */
export interface SwingPart {
  readonly laid: LaidBeats;
  readonly fromS: number;
  readonly lengthS: number;
  readonly degree: number;
}

const SWING_HZ = { least: 8, most: 25, step: 1 } as const;
const SWING_DAMPING = [0.05, 0.08, 0.11, 0.14, 0.17, 0.2, 0.23, 0.26, 0.3, 0.35, 0.4] as const;
/** What a pressure itself may do there: one slow or broad bend. */
const BEND_HZ = [4, 6, 8, 10, 12, 14, 16, 18, 20, 22] as const;
const BEND_DAMPING = [0.5, 0.7] as const;

interface Trend {
  readonly rest: Float64Array;
  readonly energy: number;
  readonly base: readonly Float64Array[];
  readonly samplesPerS: number;
  readonly fromS: number;
}

/** Without its polynomial, and the polynomial's orthonormal columns. */
function takeTrend({ laid, fromS, lengthS, degree }: SwingPart): Trend | null {
  const from = laid.pointAt + Math.round(fromS * laid.samplesPerS);
  const n = Math.round(lengthS * laid.samplesPerS);
  if (from + n > laid.mean.length || n < degree + 6) return null;
  const base: Float64Array[] = [];
  for (let k = 0; k <= degree; k++) {
    const column = Float64Array.from({ length: n }, (_, i) => ((2 * i) / (n - 1) - 1) ** k);
    for (const b of base) subtract(column, b);
    scale(column);
    base.push(column);
  }
  const rest = laid.mean.slice(from, from + n);
  for (const b of base) subtract(rest, b);
  return { rest, energy: dot(rest, rest), base, samplesPerS: laid.samplesPerS, fromS };
}
function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
}
function subtract(a: Float64Array, unit: Float64Array): void {
  const c = dot(a, unit);
  for (let i = 0; i < a.length; i++) a[i] = a[i]! - c * unit[i]!;
}
function scale(a: Float64Array): void {
  const length = Math.sqrt(dot(a, a));
  if (length > 0) for (let i = 0; i < a.length; i++) a[i] = a[i]! / length;
}

/**
 * Square of what is left beside trend and one damped swing; and the swing's height at the point. The swing is made by turning
 * a complex number, and its share of the trend is taken off its products, not off its samples: this runs some hundred times.
 */
function fitSwing({ rest, base, samplesPerS, fromS, energy }: Trend, hz: number, ratio: number): { readonly left: number; readonly height: number } {
  const n = rest.length;
  const w = 2 * Math.PI * hz;
  const angle = (w * Math.sqrt(1 - ratio * ratio)) / samplesPerS;
  const decay = Math.exp((-ratio * w) / samplesPerS);
  const [turnC, turnS] = [decay * Math.cos(angle), decay * Math.sin(angle)];
  const [c, s] = [new Float64Array(n), new Float64Array(n)];
  let [a, b] = [1, 0];
  for (let i = 0; i < n; i++) {
    c[i] = a;
    s[i] = b;
    [a, b] = [a * turnC - b * turnS, a * turnS + b * turnC];
  }
  let [cc, cs, ss] = [dot(c, c), dot(c, s), dot(s, s)];
  for (const column of base) {
    const [ofC, ofS] = [dot(c, column), dot(s, column)];
    cc -= ofC * ofC;
    cs -= ofC * ofS;
    ss -= ofS * ofS;
  }
  const [cy, sy] = [dot(c, rest), dot(s, rest)];
  const determinant = cc * ss - cs * cs;
  if (!(determinant > 1e-9 * cc * ss)) return { left: energy, height: 0 };
  const [p, q] = [(ss * cy - cs * sy) / determinant, (cc * sy - cs * cy) / determinant];
  return { left: Math.max(0, energy - p * cy - q * sy), height: Math.hypot(p, q) * Math.exp(ratio * w * fromS) };
}

/**
 * The damped swing of 8 to 25 Hz that fits best what a line does by itself after an upstroke or a fall has thrown it, and how
 * much better it fits than any single bend of the pressure.
 *
 * Equation  p(t) = polynomial + e^(-z w t) (a cos w_d t + b sin w_d t), one w and z for all parts; least squares;
 *           gain = ln (least rest with z >= 0.5, or without a swing) / (least rest with z <= 0.4)
 * Source    free response of the second-order line of checks HD-19; docs/methods/pressure.md, "Lines"
 * Fails     null where a part is too short
 */
export function findFreeSwing(parts: readonly SwingPart[]): FreeSwing | null {
  const trends = parts.map(takeTrend);
  if (trends.length === 0 || trends.some((t) => t === null)) return null;
  const whole = trends as readonly Trend[];
  const count = whole.reduce((n, t) => n + t.rest.length, 0);
  const fit = (hz: number, ratio: number): number => whole.reduce((sum, t) => sum + fitSwing(t, hz, ratio).left, 0);
  let plain = whole.reduce((sum, t) => sum + t.energy, 0);
  for (const hz of BEND_HZ) for (const ratio of BEND_DAMPING) plain = Math.min(plain, fit(hz, ratio));
  let best = { left: Infinity, hz: NaN, ratio: NaN };
  const look = (hz: number): void => {
    for (const ratio of SWING_DAMPING) {
      const left = fit(hz, ratio);
      if (left < best.left) best = { left, hz, ratio };
    }
  };
  for (let hz: number = SWING_HZ.least; hz <= SWING_HZ.most; hz += SWING_HZ.step) look(hz);
  const near = best.hz;
  for (const hz of [near - SWING_HZ.step / 2, near + SWING_HZ.step / 2]) look(hz);
  if (!Number.isFinite(best.left)) return null;
  return {
    naturalHz: best.hz, dampingRatio: best.ratio, swingMmHg: fitSwing(whole[0]!, best.hz, best.ratio).height,
    // A drawn swing can be met exactly.
    gain: plain > 0 ? Math.log(plain / Math.max(best.left, 1e-12 * plain)) : 0, explainedMmHg: Math.sqrt(Math.max(0, plain - best.left) / count),
  };
}
