import { describe, expect, test } from 'vitest';
import { PROPOSED_RHYTHM_RULES, TRAINING_RHYTHM_RULES } from '../../core/rhythm/training-rhythm-rules.ts';
import { parseRhythmRules } from './parse-rhythm-rules.ts';

type Draft = { rules: Record<string, unknown>[]; schedule: Record<string, unknown>[]; [key: string]: unknown };
const copy = (): Draft => JSON.parse(JSON.stringify(TRAINING_RHYTHM_RULES)) as Draft;
const codeOf = (change: (draft: Draft) => void): string => {
  const draft = copy();
  change(draft);
  const parsed = parseRhythmRules(draft);
  return parsed.ok ? 'ok' : parsed.failure.code;
};
const nest = (depth: number): unknown => (depth === 0 ? { of: 'pr', op: '>', value: 1, unit: 'ms' } : { not: nest(depth - 1) });

describe('parseRhythmRules', () => {
  test('reads what was written', () => {
    const parsed = parseRhythmRules(copy());
    expect(parsed).toEqual({ ok: true, value: TRAINING_RHYTHM_RULES });
  });
  test('a proposal is refused until a person signs it', () => {
    expect(parseRhythmRules(PROPOSED_RHYTHM_RULES)).toMatchObject({ failure: { code: 'rhythm-rules-unsigned' } });
  });
  test.each([
    ['no object', (d: Draft) => { d.rules = 'x' as never; }, 'rhythm-rules-invalid'],
    ['a field of its own', (d: Draft) => { d['notes'] = 'x'; }, 'rhythm-rules-invalid'],
    ['no edition', (d: Draft) => { delete d['edition']; }, 'rhythm-rules-invalid'],
    ['a rule without source', (d: Draft) => { delete d.rules[0]!['source']; }, 'rhythm-rules-invalid'],
    ['a kind of its own', (d: Draft) => { d.rules[0]!['kind'] = 'score'; }, 'rhythm-rules-invalid'],
    ['a quantity of its own', (d: Draft) => { d.rules[0]!['when'] = { of: 'risk', op: '>', value: 1, unit: '%' }; }, 'rhythm-rules-invalid'],
    ['an empty any', (d: Draft) => { d.rules[0]!['when'] = { any: [] }; }, 'rhythm-rules-invalid'],
    ['a nest seven deep', (d: Draft) => { d.rules[0]!['when'] = nest(7); }, 'rhythm-rules-invalid'],
    ['a limit that is no number', (d: Draft) => { d.rules[0]!['when'] = { of: 'pr', op: '>', value: null, unit: 'ms' }; }, 'rhythm-rules-invalid'],
    ['a signing time that is none', (d: Draft) => { d['signedAt'] = '2026-13-01'; }, 'rhythm-rules-unsigned'],
    ['one code twice', (d: Draft) => { d.rules[1]!['code'] = d.rules[0]!['code']; }, 'rhythm-rules-duplicate'],
    ['one moment twice', (d: Draft) => { d.schedule[1]!['moment'] = d.schedule[0]!['moment']; }, 'rhythm-rules-duplicate'],
    ['seconds for milliseconds', (d: Draft) => { d.rules[0]!['when'] = { not: { of: 'pr', op: '>', value: 0.2, unit: 's' } }; }, 'rhythm-rules-units'],
    ['a word that a state cannot have', (d: Draft) => { d.rules[0]!['when'] = { all: [{ of: 'bundle-block', in: ['both'] }] }; }, 'rhythm-rules-word'],
    ['a change that asks for the word', (d: Draft) => { d.rules.find((r) => r['kind'] === 'change')!['when'] = { of: 'word', in: ['unchanged'] }; }, 'rhythm-rules-circular'],
    ['a watch without days', (d: Draft) => { delete d.rules.find((r) => r['kind'] === 'watch')!['days']; }, 'rhythm-rules-schedule'],
    ['days of a predictor', (d: Draft) => { d.rules.find((r) => r['kind'] === 'predictor')!['days'] = { count: 7, from: 'release' }; }, 'rhythm-rules-schedule'],
    ['a wire of a change', (d: Draft) => { d.rules.find((r) => r['kind'] === 'change')!['wire'] = 'out'; }, 'rhythm-rules-schedule'],
    ['days that count from nothing', (d: Draft) => { d.rules.find((r) => r['kind'] === 'watch')!['days'] = { count: 7, from: 'birth' }; }, 'rhythm-rules-invalid'],
    ['hours out of order', (d: Draft) => { d.schedule[1]!['dueH'] = 31; }, 'rhythm-rules-schedule'],
  ] as const)('refuses %s', (_name, change, code) => {
    expect(codeOf(change)).toBe(code);
  });
  test('takes a nest six deep', () => {
    expect(codeOf((d) => { d.rules[0]!['when'] = nest(6); })).toBe('ok');
  });
});
