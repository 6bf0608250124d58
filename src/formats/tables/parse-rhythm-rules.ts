import { z } from 'zod';
import { ECG_MOMENTS, QUANTITY_UNITS, RHYTHM_RULE_KINDS, STATE_WORDS, type Condition, type Quantity, type RhythmRules, type StateName } from '../../core/rhythm/rhythm-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { isIsoTime } from '../../core/units/iso-time.ts';
import { readIssue } from './read-issue.ts';

export type RhythmRulesFailureCode =
  | 'rhythm-rules-invalid' | 'rhythm-rules-unsigned' | 'rhythm-rules-duplicate' | 'rhythm-rules-units' | 'rhythm-rules-word' | 'rhythm-rules-circular' | 'rhythm-rules-schedule';

const MOST_DEPTH = 6;
const text = z.string().max(1000);
const quantity = z.enum(Object.keys(QUANTITY_UNITS) as [Quantity, ...Quantity[]]);
const state = z.enum(Object.keys(STATE_WORDS) as [StateName, ...StateName[]]);
const at = z.enum(['now', 'baseline']).optional();
const comparison = z.strictObject({ of: quantity, at, against: z.enum(['baseline', 'previous']).optional(), op: z.enum(['>', '>=', '<', '<=']), value: z.number(), unit: text });
const question = z.strictObject({ of: state, at, in: z.array(z.string().max(60)).min(1).max(20) });
/** Built to a fixed depth, so that no file can nest without end. */
function makeCondition(depth: number): z.ZodType<Condition> {
  if (depth === 0) return z.union([comparison, question]);
  const inner = makeCondition(depth - 1);
  const list = z.array(inner).min(1).max(20);
  return z.union([comparison, question, z.strictObject({ all: list }), z.strictObject({ any: list }), z.strictObject({ not: inner })]);
}
const status = z.enum(['V', 'C', 'D', 'M']);
const origin = { edition: text.min(1), source: text.min(1), status };
const hours = z.number().min(0).max(24 * 365);
const RULES = z.strictObject({
  format: z.literal('trinadir.rhythm-rules/1'), hospital: text.default(''), edition: text.min(1), signedBy: text.default(''), signedAt: text.default(''), training: z.boolean(),
  signedSha256: z.string().regex(/^[0-9a-f]{64}$/).optional(),
  rules: z.array(z.strictObject({
    code: z.string().regex(/^[a-z0-9-]{1,60}$/), kind: z.enum(RHYTHM_RULE_KINDS), when: makeCondition(MOST_DEPTH), says: z.string().trim().min(1).max(300),
    moments: z.array(z.enum(ECG_MOMENTS)).min(1).optional(), ecgAfterH: hours.optional(),
    days: z.strictObject({ count: z.number().int().min(1).max(366), from: z.enum(['release', 'discharge']) }).optional(), wire: z.enum(['out', 'keep']).optional(), ...origin,
  })).min(1).max(200),
  schedule: z.array(z.strictObject({ moment: z.enum(['post', 'h24', 'h48']), earliestH: hours, dueH: hours, latestH: hours, ...origin })).max(3),
});

/**
 * The hospital's own rhythm rules, from parsed JSON.
 * Fails     rhythm-rules-invalid (names the first field), -unsigned, -duplicate, -units, -word (a state has no such word),
 *           -circular (a change that asks for the word it makes), -schedule (hours out of order; days or wire where they do not belong)
 */
export function parseRhythmRules(content: unknown): Result<RhythmRules, RhythmRulesFailureCode> {
  const parsed = RULES.safeParse(content);
  if (!parsed.success) {
    const { field, problem } = readIssue(parsed.error);
    return fail('rhythm-rules-invalid', `The rhythm rules do not fit at ${field} (${problem}).`, 'Its fields are those of docs/tables.md; the first is "format": "trinadir.rhythm-rules/1".', { field, problem });
  }
  const set: RhythmRules = parsed.data;
  if (set.signedBy.trim() === '' || !isIsoTime(set.signedAt)) {
    return fail('rhythm-rules-unsigned', 'The rhythm rules are not signed: signedBy or signedAt is missing or no date.', 'A person who answers for the rules runs trinadir sign on the file.');
  }
  const codes = set.rules.map((r) => r.code);
  const twice = codes.find((c, i) => codes.indexOf(c) !== i) ?? set.schedule.map((d) => d.moment).find((m, i, all) => all.indexOf(m) !== i);
  if (twice !== undefined) return fail('rhythm-rules-duplicate', `${twice} stands twice in the rhythm rules.`, 'Keep one of them and sign again.', { code: twice });
  for (const rule of set.rules) {
    for (const leaf of listLeaves(rule.when)) {
      if ('value' in leaf) {
        const unit = QUANTITY_UNITS[leaf.of];
        if (leaf.unit !== unit) return fail('rhythm-rules-units', `The rule ${rule.code} compares ${leaf.of} in another unit than ${unit}.`, `Enter it in ${unit} and sign again.`, { code: rule.code });
        continue;
      }
      const words: readonly string[] = STATE_WORDS[leaf.of];
      if (!leaf.in.every((each) => words.includes(each))) return fail('rhythm-rules-word', `The rule ${rule.code} asks ${leaf.of} for a word that it cannot have.`, `It can have: ${words.join(', ')}.`, { code: rule.code });
      if (leaf.of === 'word' && rule.kind !== 'step') return fail('rhythm-rules-circular', `The rule ${rule.code} asks for the word that the rules of change make.`, 'Only a rule of kind step may ask for it.', { code: rule.code });
    }
  }
  const lost = set.rules.find((r) => (r.kind === 'watch') !== (r.days !== undefined) && r.kind !== 'step') ?? set.rules.find((r) => r.wire !== undefined && r.kind !== 'step');
  if (lost) return fail('rhythm-rules-schedule', `The rule ${lost.code} (${lost.kind}) has days or a wire that its kind cannot have, or lacks its days.`, 'A watch needs days; days otherwise, and wire, belong to a step.', { code: lost.code });
  const late = set.schedule.find((d) => !(d.earliestH <= d.dueH && d.dueH <= d.latestH));
  if (late) return fail('rhythm-rules-schedule', `The hours of ${late.moment} are not in order.`, 'Enter earliestH, dueH and latestH so that none is before the one ahead of it.', { moment: late.moment });
  return succeed(set);
}

type Leaf = Extract<Condition, { readonly of: unknown }>;
function listLeaves(condition: Condition): readonly Leaf[] {
  if ('not' in condition) return listLeaves(condition.not);
  if ('any' in condition) return condition.any.flatMap(listLeaves);
  if ('all' in condition) return condition.all.flatMap(listLeaves);
  return [condition];
}
