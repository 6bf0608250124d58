/** A published limit as it may enter a hospital's signed rules; the shape is that of a rule of rules.json. */
export interface ContrastRule {
  readonly code: string;
  readonly value: number;
  readonly unit: string;
  /** True: the limit itself does not satisfy it. */
  readonly strict: boolean;
  readonly definition: string;
  readonly edition: string;
  readonly source: string;
  readonly status: 'V' | 'C' | 'D' | 'M';
}
const rule = (code: string, value: number, unit: string, strict: boolean, status: ContrastRule['status'], edition: string, source: string, definition: string): ContrastRule => ({ code, value, unit, strict, definition, edition, source, status });

/**
 * PROPOSALS of the angiogram; none acts until a hospital has signed it. Limits of the density ratio itself stand with the verdict
 * (leak-density-ratio-...).
 */
export const ANGIOGRAM_PROPOSALS: readonly ContrastRule[] = [
  rule('contrast-over-egfr-high', 1.78, '1', false, 'V', '2021', 'Nie Z et al., Front Med 2021;8:701062, abstract (checks AN-07): coronary cohort', 'Contrast volume over filtration rate (mL per mL/min/1.73 m2) of 1.78 and more went with nephropathy'),
  rule('contrast-over-egfr-older-2', 2, '1', false, 'M', '-', 'older limit, from memory (checks AN-07)', 'Contrast volume over filtration rate of 2 and more'),
  rule('contrast-over-egfr-older-3', 3, '1', false, 'M', '-', 'older limit, from memory (checks AN-07)', 'Contrast volume over filtration rate of 3 and more'),
  rule('contrast-over-egfr-older-37', 3.7, '1', false, 'M', '-', 'older limit, from memory (checks AN-07)', 'Contrast volume over filtration rate of 3.7 and more'),
  rule('contrast-index-high', 2.7, '1', false, 'V', '2013', 'Contrast dose and kidney injury in 415 transfemoral implantations, J Am Coll Cardiol 2013, PubMed 23702012, abstract (checks AN-08)', 'Contrast mL x creatinine mg/dL over weight kg of 2.7 and more'),
  rule('contrast-largest-per-kg', 5, 'mL', false, 'M', '-', 'from memory (checks AN-09)', 'Largest dose in mL: this x weight kg over creatinine mg/dL; equals an index of 5, far looser than 2.7'),
  rule('contrast-largest', 300, 'mL', false, 'M', '-', 'from memory (checks AN-09)', 'Largest dose whatever weight and creatinine'),
];

/** Whether a number reaches a rule, at the limit as the rule says. */
export function reachesRule(value: number, { value: limit, strict }: Pick<ContrastRule, 'value' | 'strict'>): boolean {
  return strict ? value > limit : value >= limit;
}
