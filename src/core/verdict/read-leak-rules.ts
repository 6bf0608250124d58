import type { Rule, RuleSet } from '../device/device-types.ts';
import { citeSource } from '../text/cite-source.ts';
import { LEAK_MEASURES, type LeakMeasureCode } from './leak-measures.ts';

/** Bottom and top of the severity scale (verdict-types.ts). */
export const LEAK_SCALE = { least: 0, most: 4 } as const;

/**
 * A rule that turns a number into a bound of severity. The whole of it is data: the code of the rule says which measure,
 * on which side of its value, and which bound follows: `leak-ar-index-below-at-least-2`, `leak-circumference-above-at-least-2`;
 * a half grade is written `-1-5`.
 */
export interface LeakCut {
  readonly measure: LeakMeasureCode;
  readonly side: 'below' | 'above';
  readonly bound: 'at least' | 'at most';
  readonly grade: number;
  readonly rule: Rule;
}

/** Measure, side, bound, grade and half grade. */
export const LEAK_CODE = /^leak-([a-z-]+)-(below|above)-at-(least|most)-([0-4])(-5)?$/;

/**
 * The leak rules of a signed set, in its order. A rule for an unknown measure, in another unit than the measure's or with a
 * value that is no number is no rule: another unit would be another limit.
 * Fails    never
 */
export function readLeakCuts(rules: RuleSet | null): readonly LeakCut[] {
  return (rules?.rules ?? []).flatMap((rule): readonly LeakCut[] => {
    const [, measure = '', side, bound, whole, half] = LEAK_CODE.exec(rule.code) ?? [];
    if (!isLeakMeasure(measure) || LEAK_MEASURES[measure].unit !== rule.unit || !Number.isFinite(rule.value)) return [];
    const grade = Number(whole) + (half === undefined ? 0 : 0.5);
    if (!(grade <= LEAK_SCALE.most)) return [];
    return [{ measure, side: side === 'below' ? 'below' : 'above', bound: bound === 'least' ? 'at least' : 'at most', grade, rule }];
  });
}

function isLeakMeasure(code: string): code is LeakMeasureCode {
  return Object.hasOwn(LEAK_MEASURES, code);
}

/** Single limits of the verdict, with the unit each must have. */
export const VERDICT_RULE_UNITS = {
  'leak-decision-line': '1', 'leak-rate-low': '/min', 'leak-rate-high': '/min', 'leak-aortography-spread': '1', 'leak-witnesses-apart': 'min',
  'expansion-wait': 's',
  'balloon-ring-ratio': '1', 'balloon-outflow-ratio': '1', 'balloon-junction-ratio': '1', 'balloon-calcified-ratio': '1', 'outflow-deposit': 'mm3',
  'diastolic-low': 'mm[Hg]', 'mean-low': 'mm[Hg]', 'pulse-wide': 'mm[Hg]', 'pulse-narrow': 'mm[Hg]', 'filling-low': 'mm[Hg]', 'filling-high': 'mm[Hg]',
  'notch-kept': '1', 'notch-lost': '1', 'line-natural-least': 'Hz', 'line-natural-notch': 'Hz',
} as const satisfies Readonly<Record<string, string>>;
export type VerdictRuleCode = keyof typeof VERDICT_RULE_UNITS;

/** The signed rule of this code; null when it is absent, in another unit or no number: nothing is said against it, never "normal". */
export function findVerdictRule(rules: RuleSet | null, code: VerdictRuleCode): Rule | null {
  return rules?.rules.find((r) => r.code === code && r.unit === VERDICT_RULE_UNITS[code] && Number.isFinite(r.value)) ?? null;
}

/** "source, edition", and "unverified" where the rule is of memory or common practice. References to the list of checks are for its keepers. */
export function citeRule(rule: Rule): string {
  const source = citeSource(rule.source);
  const edition = rule.edition === '' || rule.edition === '1' || source.includes(rule.edition) ? '' : `, ${rule.edition}`;
  return `${source}${edition}${rule.status === 'M' ? ' (unverified)' : ''}`;
}

/** UCUM codes as people write them, with the space before. */
export function unitWord(unit: string): string {
  return unit === '1' ? '' : unit === 'mm[Hg]' ? ' mmHg' : ` ${unit}`;
}

/** Slack for decimal numbers in binary: 100 x (32.3 - 9.8) / 90 is a little below 25, and 1.4 - 1.1 below 0.3 (checks EC-22). */
const LIMIT_SLACK = 1e-9;

/** Where an interval lies against a limit: wholly below, wholly above, or both are possible. `limitIs`: on which side the limit itself counts. */
export function placeAgainst(low: number, high: number, limit: number, limitIs: 'above' | 'below'): 'below' | 'above' | 'open' {
  const slack = LIMIT_SLACK * Math.max(1, Math.abs(limit));
  const near = (v: number): number => (Math.abs(v - limit) <= slack ? limit : v);
  const [from, to] = [near(low), near(high)];
  if (limitIs === 'above' ? to < limit : to <= limit) return 'below';
  return (limitIs === 'above' ? from >= limit : from > limit) ? 'above' : 'open';
}
