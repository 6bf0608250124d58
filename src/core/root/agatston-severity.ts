import { fail, succeed, type Result } from '../result.ts';
import type { Sourced } from '../units/sourced.ts';
import type { AgatstonLikelihood } from './root-types.ts';

export type AgatstonSeverityFailureCode = 'agatston-sex-missing' | 'agatston-score-invalid';

/** Below `unlikely`: severe stenosis unlikely; from `likely` and `veryLikely` on: as named; between: grey. */
export interface AgatstonThresholds {
  readonly unlikely: Sourced;
  readonly likely: Sourced;
  readonly veryLikely: Sourced;
}

const EDITION = 'ESC/EACTS 2021, ACC/AHA 2020';
const VERIFIED = 'checks CT-36: sex-specific cut-offs in two secondary summaries and Mogensen et al., medRxiv 2024.05.20.24307641 (abstract)';
const UNVERIFIED = 'checks CT-37: one secondary text agrees';
const au = (value: number, status: Sourced['status']): Sourced => ({
  value, unit: "{Agatston'U}", edition: EDITION, status, source: status === 'M' ? UNVERIFIED : VERIFIED,
});

/** A proposal: it acts for a hospital once the hospital has signed it. */
export const AGATSTON_PROPOSAL: Readonly<Record<'F' | 'M', AgatstonThresholds>> = {
  F: { unlikely: au(800, 'M'), likely: au(1200, 'C'), veryLikely: au(1600, 'M') },
  M: { unlikely: au(1600, 'M'), likely: au(2000, 'C'), veryLikely: au(3000, 'M') },
};
/** Calcium density of a three-leaflet valve, severe from here on; checks CT-42. */
export const AGATSTON_DENSITY_PROPOSAL: Readonly<Record<'F' | 'M', Sourced>> = {
  F: { value: 292, unit: "{Agatston'U}/cm2", edition: '-', status: 'M', source: 'checks CT-42; Shen M et al., Struct Heart 2022;6:100027' },
  M: { value: 476, unit: "{Agatston'U}/cm2", edition: '-', status: 'M', source: 'checks CT-42; Shen M et al., Struct Heart 2022;6:100027' },
};

export interface AgatstonSeverity {
  readonly likelihood: AgatstonLikelihood;
  /** The threshold that decided. */
  readonly by: Sourced;
  /** False when that threshold is from memory: shown as "unverified". */
  readonly isVerified: boolean;
  /** The answer at both ends of the score's interval. */
  readonly couldBe: readonly [AgatstonLikelihood, AgatstonLikelihood];
}

function place(scoreAu: number, t: AgatstonThresholds): { readonly likelihood: AgatstonLikelihood; readonly by: Sourced } {
  if (scoreAu >= t.veryLikely.value) return { likelihood: 'very likely', by: t.veryLikely };
  if (scoreAu >= t.likely.value) return { likelihood: 'likely', by: t.likely };
  return scoreAu < t.unlikely.value ? { likelihood: 'unlikely', by: t.unlikely } : { likelihood: 'grey', by: t.unlikely };
}

/**
 * How likely severe aortic stenosis is by a non-contrast Agatston score.
 *
 * Units     AU
 * Fails     agatston-sex-missing (the male "unlikely" is the female "very likely": never guessed), agatston-score-invalid
 * Source    docs/methods/agatston.md; checks CT-36, CT-37
 */
export function assessAgatstonSeverity(
  score: { readonly value: number; readonly low: number; readonly high: number }, sex: 'F' | 'M' | 'O' | null,
  thresholds: Readonly<Record<'F' | 'M', AgatstonThresholds>> = AGATSTON_PROPOSAL,
): Result<AgatstonSeverity, AgatstonSeverityFailureCode> {
  if (!(score.value >= 0 && score.low <= score.value && score.value <= score.high)) {
    return fail('agatston-score-invalid', 'The score is not a number of zero or more within its interval.', 'Score the series again.');
  }
  if (sex !== 'F' && sex !== 'M') {
    return fail('agatston-sex-missing', 'The thresholds differ by sex, and the sex recorded is neither female nor male.',
      'Enter the sex to be used for the thresholds.');
  }
  const t = thresholds[sex];
  const at = place(score.value, t);
  return succeed({
    ...at, isVerified: at.by.status !== 'M', couldBe: [place(score.low, t).likelihood, place(score.high, t).likelihood],
  });
}

/** Score over annulus area (checks CT-42), AU per cm2. Fails: agatston-area-invalid. */
export function computeAgatstonDensity(scoreAu: number, annulusAreaMm2: number): Result<number, 'agatston-area-invalid'> {
  if (!(annulusAreaMm2 > 0 && Number.isFinite(annulusAreaMm2) && scoreAu >= 0)) {
    return fail('agatston-area-invalid', `An annulus area of ${annulusAreaMm2} mm2 gives no density.`, 'Measure the annulus area first.');
  }
  return succeed(scoreAu / (annulusAreaMm2 / 100));
}
