import { fail, succeed, type Result } from '../result.ts';
import { CONTRAST_EN } from '../text/contrast-en.ts';

export type ContrastDoseFailureCode = 'dose-input-invalid' | 'creatinine-invalid' | 'urine-invalid';

const isPositive = (...values: readonly number[]): boolean => values.every((v) => Number.isFinite(v) && v > 0);
const failDose = (): Result<never, 'dose-input-invalid'> => fail('dose-input-invalid', CONTRAST_EN.badDose, CONTRAST_EN.badDoseNext);
const failCreatinine = (): Result<never, 'creatinine-invalid'> => fail('creatinine-invalid', CONTRAST_EN.badCreatinine, CONTRAST_EN.badCreatinineNext);

/**
 * AN-06: volume over filtration rate. The rate is per 1.73 m2 of body surface, as a laboratory gives it; an absolute clearance is
 * another number. Published limits (AN-07) are rules: CONTRAST_DOSE_PROPOSALS.
 * Units   mL, mL/min/1.73 m2
 * Fails   dose-input-invalid
 */
export function computeContrastOverEgfr(contrastMl: number, egfrMlPerMin: number): Result<number, 'dose-input-invalid'> {
  return isPositive(egfrMlPerMin) && contrastMl >= 0 && Number.isFinite(contrastMl) ? succeed(contrastMl / egfrMlPerMin) : failDose();
}

/** AN-08: volume x creatinine / weight. Creatinine in mg/dL, not umol/L (factor 88). Fails: dose-input-invalid. */
export function computeContrastIndex(contrastMl: number, creatinineMgDl: number, weightKg: number): Result<number, 'dose-input-invalid'> {
  return isPositive(creatinineMgDl, weightKg) && contrastMl >= 0 && Number.isFinite(contrastMl) ? succeed((contrastMl * creatinineMgDl) / weightKg) : failDose();
}

/**
 * AN-09 [M]: largest dose `perKg` x weight / creatinine, not above `capMl`. Both numbers come from rules; of memory they are 5 and 300,
 * which is far looser than AN-08.
 * Fails   dose-input-invalid
 */
export function computeLargestDose(weightKg: number, creatinineMgDl: number, rule: { readonly perKg: number; readonly capMl: number }): Result<{ readonly doseMl: number; readonly isCapped: boolean }, 'dose-input-invalid'> {
  if (!isPositive(weightKg, creatinineMgDl, rule.perKg, rule.capMl)) return failDose();
  const doseMl = (rule.perKg * weightKg) / creatinineMgDl;
  return succeed({ doseMl: Math.min(rule.capMl, doseMl), isCapped: doseMl > rule.capMl });
}

/** AN-14: 1 mg/dL of creatinine is 88.42 umol/L. Thresholds are compared in mg/dL only. */
export const CREATININE_UMOL_PER_MGDL = 88.42;
export function computeMicromolar(creatinineMgDl: number): number {
  return creatinineMgDl * CREATININE_UMOL_PER_MGDL;
}

/** AN-15 [M]: dose area product of (0018,115E) is in dGy cm2. */
export function convertDoseArea(tagDgyCm2: number): { readonly gyCm2: number; readonly microGyM2: number } {
  return { gyCm2: tagDgyCm2 / 10, microGyM2: tagDgyCm2 * 10 };
}

export type KidneyStage = 0 | 1 | 2 | 3;
/** What a staging takes; creatinine mg/dL. */
export interface KidneyCourse {
  readonly baselineMgDl: number;
  /** Highest within 7 days. */
  readonly peakMgDl: number;
  /** Highest rise within any 48 h; absent: peak less baseline. */
  readonly rise48hMgDl?: number | undefined;
  readonly isReplaced?: boolean | undefined;
}
/** Thresholds of one definition; the published ones stand in KIDNEY_DEFINITIONS. */
export interface KidneyDefinition {
  readonly name: 'KDIGO' | 'VARC-3';
  readonly rise48hMgDl: number;
  readonly ratios: readonly [one: number, two: number, three: number];
  /** Whether the ratio's own limit belongs to the stage below (VARC-3) or to the stage (KDIGO); the first always belongs. */
  readonly isUpperStrict: boolean;
  readonly highMgDl: number;
  /** Rise that a high value needs to count as acute, mg/dL; or the first ratio where `orRatio`. */
  readonly highNeedsRiseMgDl: number;
  readonly orRatio: boolean;
  readonly replacedStage: 3 | 4;
  readonly source: string;
  readonly edition: string;
  readonly status: 'V' | 'C' | 'D' | 'M';
}
/** AN-10, AN-11 and AN-13: definitions of a stage, no limits that anything is decided on. */
export const KIDNEY_DEFINITIONS: Readonly<Record<'kdigo' | 'varc3', KidneyDefinition>> = {
  kdigo: {
    name: 'KDIGO', rise48hMgDl: 0.3, ratios: [1.5, 2, 3], isUpperStrict: false, highMgDl: 4, highNeedsRiseMgDl: 0.3, orRatio: true, replacedStage: 3,
    source: 'KDIGO acute kidney injury guideline, Table 2 as reproduced twice (checks AN-10, AN-11)', edition: '2012', status: 'C',
  },
  varc3: {
    name: 'VARC-3', rise48hMgDl: 0.3, ratios: [1.5, 2, 3], isUpperStrict: true, highMgDl: 4, highNeedsRiseMgDl: 0.5, orRatio: false, replacedStage: 4,
    source: 'VARC-3, from memory (checks AN-13)', edition: 'VARC-3', status: 'M',
  },
};
/** Laboratories give two decimals: 1.3 - 1.0 and 1.2 - 0.9 are both 0.3. */
const toHundredths = (v: number): number => Math.round(v * 100 + 1e-6) / 100;
const RATIO_ROUNDING = 1e-9;

/**
 * Stage of kidney injury by creatinine. A value that was high before is not stage 3 without an acute rise (AN-11).
 * Fails   creatinine-invalid
 */
export function stageByCreatinine(course: KidneyCourse, d: KidneyDefinition): Result<KidneyStage | 4, 'creatinine-invalid'> {
  const { baselineMgDl, peakMgDl } = course;
  const rise = toHundredths(course.rise48hMgDl ?? peakMgDl - baselineMgDl);
  if (!isPositive(baselineMgDl, peakMgDl) || !Number.isFinite(rise)) return failCreatinine();
  if (course.isReplaced) return succeed(d.replacedStage);
  const ratio = peakMgDl / baselineMgDl;
  const reaches = (limit: number): boolean => (d.isUpperStrict ? ratio > limit + RATIO_ROUNDING : ratio >= limit - RATIO_ROUNDING);
  const whole = toHundredths(peakMgDl - baselineMgDl);
  const isAcute = whole >= d.highNeedsRiseMgDl || (d.orRatio && ratio >= d.ratios[0] - RATIO_ROUNDING);
  if (reaches(d.ratios[2]) || (peakMgDl >= d.highMgDl && isAcute)) return succeed(3);
  if (reaches(d.ratios[1])) return succeed(2);
  return succeed(rise >= d.rise48hMgDl || ratio >= d.ratios[0] - RATIO_ROUNDING ? 1 : 0);
}

/**
 * AN-12: stage by urine. Hours below each rate, and hours without any.
 * Fails   urine-invalid
 */
export function stageByUrine(hours: { readonly below05: number; readonly below03: number; readonly none: number }): Result<KidneyStage, 'urine-invalid'> {
  const { below05, below03, none } = hours;
  if (![below05, below03, none].every((h) => Number.isFinite(h) && h >= 0) || below03 > below05 || none > below03) return fail('urine-invalid', CONTRAST_EN.badUrine, CONTRAST_EN.badUrineNext);
  if (below03 >= 24 || none >= 12) return succeed(3);
  return succeed(below05 >= 12 ? 2 : below05 >= 6 ? 1 : 0);
}
/** The worse arm wins (AN-12). */
export function takeWorseStage<S extends number>(a: S, b: S): S {
  return a >= b ? a : b;
}
