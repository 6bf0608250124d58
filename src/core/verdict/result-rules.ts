import type { RuleSet } from '../device/device-types.ts';
import { TRAINING_RULES } from '../device/training-table.ts';
import { ECHO_PROPOSALS, ECHO_RULE_UNITS } from '../echo/echo-rules.ts';
import { LEAK_MEASURES } from './leak-measures.ts';
import { LEAK_CODE, VERDICT_RULE_UNITS } from './read-leak-rules.ts';
import { VERDICT_PROPOSALS } from './verdict-rules.ts';

/**
 * The bundled training set whole: rules of plan and room, and the published proposals of verdict and echo. Signed as training, it
 * acts on training cases alone; a hospital copies it, changes what it must and signs.
 */
export const WHOLE_TRAINING_RULES: RuleSet = { ...TRAINING_RULES, rules: [...TRAINING_RULES.rules, ...VERDICT_PROPOSALS, ...ECHO_PROPOSALS] };

/** The one unit that a rule of the result must have, by its code; null: it is none of them. */
export function findResultRuleUnit(code: string): string | null {
  if (Object.hasOwn(VERDICT_RULE_UNITS, code)) return VERDICT_RULE_UNITS[code as keyof typeof VERDICT_RULE_UNITS];
  if (Object.hasOwn(ECHO_RULE_UNITS, code)) return ECHO_RULE_UNITS[code as keyof typeof ECHO_RULE_UNITS];
  const measure = LEAK_CODE.exec(code)?.[1] ?? '';
  return Object.hasOwn(LEAK_MEASURES, measure) ? LEAK_MEASURES[measure as keyof typeof LEAK_MEASURES].unit : null;
}

/** Rules that speak of the result alone: a plan made before it does not carry them. */
export function isResultRuleAlone(code: string): boolean {
  return findResultRuleUnit(code) !== null && !TRAINING_RULES.rules.some((r) => r.code === code);
}
