import { z } from 'zod';
import type { RuleSet } from '../../core/device/device-types.ts';
import { ROOM_RULE_UNITS } from '../../core/room/read-room-limits.ts';
import { findResultRuleUnit } from '../../core/verdict/result-rules.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { isIsoTime } from '../../core/units/iso-time.ts';
import { readIssue } from './read-issue.ts';

export type RulesFailureCode = 'rules-invalid' | 'rules-unsigned' | 'rules-duplicate' | 'rules-units';

const text = z.string().max(1000);
const RULES = z.object({
  format: z.literal('trinadir.rules/1'), hospital: text.default(''), signedBy: text.default(''), signedAt: text.default(''), training: z.boolean(),
  signedSha256: z.string().regex(/^[0-9a-f]{64}$/).optional(),
  rules: z.array(z.object({
    code: z.string().regex(/^[a-z0-9-]{1,60}$/), value: z.number(), unit: text, strict: z.boolean(), definition: text, edition: text, source: text, status: z.enum(['V', 'C', 'D', 'M']),
  })).max(500),
});
/** Units of the rules that act on a plan or in the room; those of the result stand with their proposals. A value in another unit would be another limit. */
const UNITS: Readonly<Record<string, string>> = {
  'reach-lao': 'deg', 'reach-rao': 'deg', 'reach-cranial': 'deg', 'reach-caudal': 'deg', 'septum-overlap': 'mm', 'valve-to-coronary': 'mm',
  'outflow-deposit': 'mm3', 'septal-bulge': 'mm', 'mitral-clearance': 'mm', 'frame-above-junction': 'mm',
  ...ROOM_RULE_UNITS,
};
const findUnit = (code: string): string | null => (Object.hasOwn(UNITS, code) ? UNITS[code]! : findResultRuleUnit(code));

/**
 * rules.json of the contract, from parsed JSON.
 * Fails     rules-invalid (names the first field), rules-unsigned, rules-duplicate, rules-units
 */
export function parseRules(content: unknown): Result<RuleSet, RulesFailureCode> {
  const parsed = RULES.safeParse(content);
  if (!parsed.success) {
    const { field, problem } = readIssue(parsed.error);
    return fail('rules-invalid', `The rules file does not fit at ${field} (${problem}).`, 'Its fields are those of docs/tables.md; the first is "format": "trinadir.rules/1".', { field, problem });
  }
  const set = parsed.data;
  if (set.signedBy.trim() === '' || !isIsoTime(set.signedAt)) {
    return fail('rules-unsigned', 'The rules file is not signed: signedBy or signedAt is missing or no date.', 'A person who answers for the rules puts name and time into it, or runs trinadir sign on it.');
  }
  const codes = set.rules.map((r) => r.code);
  const twice = codes.find((c, i) => codes.indexOf(c) !== i);
  if (twice !== undefined) return fail('rules-duplicate', `The rule ${twice} stands twice.`, 'Keep one of them and sign again.', { code: twice });
  const wrong = set.rules.find((r) => (findUnit(r.code) ?? r.unit) !== r.unit);
  if (wrong) return fail('rules-units', `The rule ${wrong.code} has another unit than ${findUnit(wrong.code)}.`, `Enter it in ${findUnit(wrong.code)} and sign again.`, { code: wrong.code });
  return succeed(set);
}
