import { studentQuantile } from '../math/student-t.ts';
import { distance, dot, scale, unit, type Vec3 } from '../math/vec3.ts';
import { fail, succeed, type Result } from '../result.ts';
import type { Fact } from '../units/fact.ts';
import { CUSPS, type ByCusp, type RootSurvey, type Xyz } from './root-types.ts';

/** The numbers of a root that two readers are compared by. */
export const READ_MEASURES = ['perimeterMm', 'areaMm2', 'minDiameterMm', 'maxDiameterMm', 'leftOstiumHeightMm', 'rightOstiumHeightMm'] as const;
export type ReadMeasure = (typeof READ_MEASURES)[number];

/** One number of two readings. */
export interface ReadDifference {
  readonly measure: ReadMeasure;
  readonly unit: string;
  /** null: not measured in that reading. */
  readonly a: number | null;
  readonly b: number | null;
  /** a - b. */
  readonly difference: number | null;
  /** Whether the difference is within the root of the sum of the squared 95 % half-widths of both; null without one. */
  readonly isWithinDoubt: boolean | null;
}
export interface ReadingComparison {
  readonly nadirApartMm: ByCusp<number>;
  readonly ostiumApartMm: { readonly left: number | null; readonly right: number | null };
  /** Angle between the two basal planes. */
  readonly planeAngleDeg: number;
  readonly differences: readonly ReadDifference[];
}

/**
 * Two readers' surveys of the same root side by side.
 *
 * Units     mm, mm2, degrees; differences are a - b
 * Frame     LPS; both readings are of one frame of reference (the case holds one scan)
 * Source    docs/methods/reading-agreement.md
 */
export function compareReadings(a: RootSurvey, b: RootSurvey): ReadingComparison {
  const apart = (x: Xyz | undefined, y: Xyz | undefined): number | null => (x && y ? distance(x, y) : null);
  const nadir = (c: 'R' | 'L' | 'N'): number => distance(a.basalPlane.nadirsLps[c], b.basalPlane.nadirsLps[c]);
  const cosine = dot(unit(a.basalPlane.normalLps), unit(b.basalPlane.normalLps));
  return {
    nadirApartMm: { R: nadir('R'), L: nadir('L'), N: nadir('N') },
    ostiumApartMm: {
      left: apart(a.coronaries.left?.ostiumLps, b.coronaries.left?.ostiumLps),
      right: apart(a.coronaries.right?.ostiumLps, b.coronaries.right?.ostiumLps),
    },
    planeAngleDeg: (Math.acos(Math.max(-1, Math.min(1, cosine))) * 180) / Math.PI,
    differences: READ_MEASURES.map((measure) => compareFacts(measure, readMeasure(a, measure), readMeasure(b, measure))),
  };
}

/** The Fact behind a measure; null where the survey has none. */
export function readMeasure(root: RootSurvey, measure: ReadMeasure): Fact | null {
  switch (measure) {
    case 'leftOstiumHeightMm': return root.coronaries.left?.heightMm ?? null;
    case 'rightOstiumHeightMm': return root.coronaries.right?.heightMm ?? null;
    default: return root.basalRing[measure];
  }
}

function compareFacts(measure: ReadMeasure, a: Fact | null, b: Fact | null): ReadDifference {
  const [x, y] = [a?.value ?? null, b?.value ?? null];
  const difference = x !== null && y !== null ? x - y : null;
  const room = Math.hypot(halfWidth(a), halfWidth(b));
  return {
    measure, unit: measure === 'areaMm2' ? 'mm2' : 'mm', a: x, b: y, difference,
    isWithinDoubt: difference === null || !Number.isFinite(room) ? null : Math.abs(difference) <= room,
  };
}
const halfWidth = (f: Fact | null): number => (f && f.low !== null && f.high !== null ? (f.high - f.low) / 2 : NaN);

/** The middle of the readers' nadirs, each reader counting once: what a consensus starts from. */
export function averageNadirs(readings: readonly ByCusp<Xyz>[]): ByCusp<Xyz> | null {
  if (readings.length === 0) return null;
  const middle = (c: 'R' | 'L' | 'N'): Xyz => {
    const sum: [number, number, number] = [0, 0, 0];
    for (const r of readings) r[c].forEach((v, i) => (sum[i]! += v));
    return scale(sum as Vec3, 1 / readings.length);
  };
  return { R: middle('R'), L: middle('L'), N: middle('N') };
}
/** Greatest distance of a reader's nadir from the consensus, mm. */
export const farthestNadir = (readings: readonly ByCusp<Xyz>[], consensus: ByCusp<Xyz>): number =>
  Math.max(0, ...readings.flatMap((r) => CUSPS.map((c) => distance(r[c], consensus[c]))));

/** One case of a set: the same measure by reader a and reader b. */
export interface ReadPair {
  readonly a: number;
  readonly b: number;
}
export interface Estimate {
  readonly value: number;
  /** 95 % interval. */
  readonly low: number;
  readonly high: number;
}
/** Agreement of two readers over a set of cases, by Bland and Altman. */
export interface ReaderAgreement {
  readonly pairs: number;
  /** Mean of a - b. */
  readonly bias: Estimate;
  /** Standard deviation of a - b. */
  readonly sd: number;
  /** bias -+ 1.96 sd: where about 95 % of differences lie. */
  readonly lowerLimit: Estimate;
  readonly upperLimit: Estimate;
  /** How the difference grows with the mean of both, per unit; null when all means are alike. An interval without 0 means that the limits do not hold alike for small and large. */
  readonly slope: Estimate | null;
  readonly points: readonly { readonly mean: number; readonly difference: number }[];
}
export type AgreementFailureCode = 'agreement-too-few-pairs' | 'agreement-not-finite';
/** Fewer say nothing about a spread. */
const LEAST_PAIRS = 3;

/**
 * Limits of agreement of two readers.
 *
 * Shape     one pair per case, n >= 3; order does not matter
 * Units     those of the measure
 * Equation  d = a - b; bias = mean d; s^2 = sum (d - bias)^2 / (n - 1); limits = bias -+ 1.96 s.
 *           95 % intervals with t of n - 1 degrees: bias -+ t s / sqrt n; limit -+ t s sqrt(1/n + 1.96^2 / (2 (n - 1)));
 *           slope of d on (a + b) / 2 by least squares with t of n - 2
 * Fails     agreement-too-few-pairs, agreement-not-finite
 * Source    Bland and Altman, Lancet 1986;327:307, and Stat Methods Med Res 1999;8:135, section 2 [M];
 *           docs/methods/reading-agreement.md
 * Accuracy  the intervals of the limits are approximate; over drawn sets they cover as the method page says
 */
export function measureAgreement(pairs: readonly ReadPair[]): Result<ReaderAgreement, AgreementFailureCode> {
  const broken = pairs.filter((p) => !(Number.isFinite(p.a) && Number.isFinite(p.b))).length;
  if (broken > 0) return fail('agreement-not-finite', `${broken} of ${pairs.length} pairs hold a value that is no number.`, 'Leave out cases that a reader could not measure, and say how many.', { broken, pairs: pairs.length });
  const n = pairs.length;
  if (n < LEAST_PAIRS) return fail('agreement-too-few-pairs', `${n} cases were read by both; ${LEAST_PAIRS} are the least, and some dozens are needed for narrow limits.`, 'Let both readers save a reading of more cases.', { pairs: n });
  const points = pairs.map((p) => ({ mean: (p.a + p.b) / 2, difference: p.a - p.b }));
  const bias = points.reduce((sum, p) => sum + p.difference, 0) / n;
  const sd = Math.sqrt(points.reduce((sum, p) => sum + (p.difference - bias) ** 2, 0) / (n - 1));
  const t = studentQuantile(0.975, n - 1);
  const around = (value: number, half: number): Estimate => ({ value, low: value - half, high: value + half });
  const limitHalf = t * sd * Math.sqrt(1 / n + 1.96 ** 2 / (2 * (n - 1)));
  return succeed({
    pairs: n, bias: around(bias, (t * sd) / Math.sqrt(n)), sd,
    lowerLimit: around(bias - 1.96 * sd, limitHalf), upperLimit: around(bias + 1.96 * sd, limitHalf),
    slope: fitSlope(points, bias), points,
  });
}

function fitSlope(points: ReaderAgreement['points'], bias: number): Estimate | null {
  const n = points.length;
  const middle = points.reduce((sum, p) => sum + p.mean, 0) / n;
  const sxx = points.reduce((sum, p) => sum + (p.mean - middle) ** 2, 0);
  // Means that differ by rounding only carry no slope.
  if (!(sxx > 1e-18 * n * Math.max(1, middle * middle))) return null;
  const value = points.reduce((sum, p) => sum + (p.mean - middle) * (p.difference - bias), 0) / sxx;
  const rest = points.reduce((sum, p) => sum + (p.difference - bias - value * (p.mean - middle)) ** 2, 0);
  const half = n > 2 ? studentQuantile(0.975, n - 2) * Math.sqrt(rest / (n - 2) / sxx) : Infinity;
  return { value, low: value - half, high: value + half };
}
