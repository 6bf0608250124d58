import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { RuleSet } from '../device/device-types.ts';
import { makeFact, type Fact } from '../units/fact.ts';
import { VERDICT_PROPOSALS } from '../verdict/verdict-rules.ts';
import { ECHO_FIELD_CODES, ECHO_FIELDS, type EchoEntries } from './echo-fields.ts';
import { ECHO_PROPOSALS } from './echo-rules.ts';
import { makeEchoWitness } from './make-echo-witness.ts';
import { measureEcho } from './measure-echo.ts';

const RULES: RuleSet = { format: 'trinadir.rules/1', hospital: 'Training', signedBy: 'test', signedAt: '2026-01-05T08:00:00Z', training: true, rules: [...VERDICT_PROPOSALS, ...ECHO_PROPOSALS] };
const STAMP = { by: 'test', at: '2026-03-02T10:14:00.000Z' };
const WHO = { by: 'Reader One', at: STAMP.at, heartRatePerMin: null, loadingNote: null, from: ['test'] };

const isFact = (v: unknown): v is Fact => typeof v === 'object' && v !== null && 'status' in v && 'low' in v;
const listFacts = (v: unknown): readonly Fact[] => (isFact(v) ? [v] : typeof v === 'object' && v !== null ? Object.values(v).flatMap(listFacts) : []);

/** A value of the field's kind, mostly inside its bounds, now and then of another kind or far outside. */
const valueOf = (code: keyof typeof ECHO_FIELDS): fc.Arbitrary<unknown> => {
  const field = ECHO_FIELDS[code];
  const own: fc.Arbitrary<unknown> = field.kind === 'number' ? fc.double({ min: field.low, max: field.high, noNaN: true }) : field.kind === 'choice' ? fc.constantFrom(...field.choices) : fc.boolean();
  return fc.oneof({ weight: 9, arbitrary: own }, { weight: 1, arbitrary: fc.constantFrom<unknown>(NaN, Infinity, -1, 0, 1e9, '', 'x', true, null) });
};
const ENTRIES = fc.record(Object.fromEntries(ECHO_FIELD_CODES.map((code) => [code, valueOf(code)])) as Record<string, fc.Arbitrary<unknown>>, { requiredKeys: [] });

describe('any entries', () => {
  test('facts have ordered bands or a reason, texts have no holes, the witness an interval or a reason (property)', () => {
    fc.assert(fc.property(ENTRIES, fc.boolean(), (entries, hasContext) => {
      const aorta = makeFact(6, 5.8, 6.2, 'cm2', 'test', [], STAMP);
      const answer = measureEcho(entries as EchoEntries, { heightCm: hasContext ? 170 : null, weightKg: hasContext ? 95 : null, junctionAreaCm2: hasContext ? aorta : null, catheterMeanGradient: null, commissuresDeg: null }, RULES, STAMP);
      for (const fact of listFacts(answer)) {
        if (fact.value === null) expect(fact.reasons.length).toBeGreaterThan(0);
        else expect(fact.low! <= fact.value && fact.value <= fact.high!).toBe(true);
      }
      for (const { text, next } of answer.checks) expect(`${text} ${next}`).not.toMatch(/\{\w+\}|NaN|undefined/);
      const witness = makeEchoWitness(answer, WHO, RULES);
      expect(witness.isValid).toBe(witness.interval !== null);
      if (witness.interval) expect(0 <= witness.interval[0] && witness.interval[0] <= witness.interval[1] && witness.interval[1] <= 4).toBe(true);
      // A number that a check refuses never speaks; one that was left out may be computed from others.
      const refused = new Set<string>(answer.checks.filter((c) => c.weight === 'refuse' && c.code !== 'entry-impossible' && c.code !== 'unit-looks-wrong').flatMap((c) => c.fields));
      for (const m of answer.measures) if (refused.has(m.code)) expect(m.value).toBeNull();
    }), { seed: 20260302, numRuns: 120 });
  });
});
