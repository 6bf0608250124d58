import type { Rule, RuleSet } from '../device/device-types.ts';
import { formatText } from '../text/catalogue.ts';
import { ECHO_EN } from '../text/echo-en.ts';
import type { Fact, Reason } from '../units/fact.ts';
import { makeReason } from '../verdict/make-reason.ts';
import { citeRule, placeAgainst } from '../verdict/read-leak-rules.ts';
import { findEchoRule, type EchoRuleCode } from './echo-rules.ts';
import type { EchoWord, FlowWord, MismatchWord } from './echo-types.ts';

/** Where the band of a number lies against a limit that itself counts as `side` unless the rule is strict. */
export function placeFact(fact: Fact, rule: Rule, side: 'below' | 'above'): 'below' | 'above' | 'open' | 'unknown' {
  if (fact.value === null || fact.low === null || fact.high === null) return 'unknown';
  return placeAgainst(fact.low, fact.high, rule.value, (side === 'below') === rule.strict ? 'above' : 'below');
}

export const sayRule = (rule: Rule): string => formatText(ECHO_EN, 'ruleRead', { definition: rule.definition, source: citeRule(rule) });
export const openReason = (rule: Rule): Reason => makeReason('across-limit', formatText(ECHO_EN, 'acrossLimit', { limit: String(rule.value), unit: rule.unit }), ECHO_EN.acrossLimitNext);
export const noRuleReason = (codes: readonly EchoRuleCode[]): Reason => makeReason('echo-rule-missing', formatText(ECHO_EN, 'noRule', { codes: codes.join(', ') }), ECHO_EN.noRuleNext);
const cannotSay = <W extends string>(reasons: readonly Reason[]): EchoWord<W> => ({ from: 'cannot say', to: 'cannot say', method: '', reasons });

/** Low flow: stroke volume per body surface (checks EC-07). */
export function judgeFlow(strokeIndexed: Fact, rules: RuleSet | null): EchoWord<FlowWord> {
  const rule = findEchoRule(rules, 'echo-low-flow');
  if (rule === null) return cannotSay([noRuleReason(['echo-low-flow'])]);
  const place = placeFact(strokeIndexed, rule, 'below');
  if (place === 'unknown') return cannotSay(strokeIndexed.reasons);
  return { from: place === 'above' ? 'not low' : 'low', to: place === 'below' ? 'low' : 'not low', method: sayRule(rule), reasons: place === 'open' ? [openReason(rule), ...strokeIndexed.reasons] : strokeIndexed.reasons };
}

const MISMATCHES: readonly MismatchWord[] = ['none', 'moderate', 'severe'];
const CODES: { readonly [K in 'plain' | 'obese']: readonly [moderate: EchoRuleCode, severe: EchoRuleCode] } = {
  plain: ['echo-mismatch-moderate', 'echo-mismatch-severe'], obese: ['echo-mismatch-moderate-obese', 'echo-mismatch-severe-obese'],
};

/**
 * Mismatch of valve and body. Which pair of limits holds depends on the body mass index; where its band lies across the rule,
 * both pairs are read and the answer runs from the lesser to the worse.
 * Refuses   cannot say: a number or a rule is missing; an index that is not known is never taken as not obese
 * Source    checks EC-10, EC-11; docs/methods/echo.md
 */
export function judgeMismatch(areaIndexed: Fact, massIndex: Fact, rules: RuleSet | null): EchoWord<MismatchWord> {
  const obese = findEchoRule(rules, 'echo-obese');
  if (obese === null) return cannotSay([noRuleReason(['echo-obese'])]);
  if (areaIndexed.value === null) return cannotSay(areaIndexed.reasons);
  const body = placeFact(massIndex, obese, 'above');
  if (body === 'unknown') return cannotSay(massIndex.reasons);
  const kinds = (['plain', 'obese'] as const).filter((k) => body === 'open' || (k === 'obese') === (body === 'above'));
  const reasons: Reason[] = body === 'open' ? [openReason(obese)] : [];
  const read: Rule[] = [obese];
  const steps: number[] = [];
  for (const kind of kinds) {
    const [moderate, severe] = [findEchoRule(rules, CODES[kind][0]), findEchoRule(rules, CODES[kind][1])];
    if (moderate === null || severe === null) return cannotSay([noRuleReason(CODES[kind].filter((c) => findEchoRule(rules, c) === null))]);
    read.push(moderate, severe);
    const [atModerate, atSevere] = [placeFact(areaIndexed, moderate, 'below'), placeFact(areaIndexed, severe, 'below')];
    for (const [place, rule] of [[atModerate, moderate], [atSevere, severe]] as const) if (place === 'open') reasons.push(openReason(rule));
    steps.push(atSevere === 'below' ? 2 : atModerate === 'below' ? 1 : 0, atSevere !== 'above' ? 2 : atModerate !== 'above' ? 1 : 0);
  }
  return { from: MISMATCHES[Math.min(...steps)]!, to: MISMATCHES[Math.max(...steps)]!, method: read.map(sayRule).join(' '), reasons: [...reasons, ...areaIndexed.reasons] };
}
