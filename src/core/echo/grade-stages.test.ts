import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { RuleSet } from '../device/device-types.ts';
import { makeFact, refuseFact, type Fact, type Ucum } from '../units/fact.ts';
import { ECHO_PROPOSALS, ECHO_RULE_UNITS, findEchoRule } from './echo-rules.ts';
import { gradeFiveClasses, gradeStenosis, isStructural, judgeIntended, judgeLimit, judgeLowGradient, listSevereCriteria, stageDecline, stageFailure, type ValveEcho } from './grade-stages.ts';

const STAMP = { by: 'test', at: '2026-03-02T10:14:00.000Z' };
const RULES: RuleSet = { format: 'trinadir.rules/1', hospital: 'Training', signedBy: 'test', signedAt: '2026-01-05T08:00:00Z', training: true, rules: ECHO_PROPOSALS };
const fact = (value: number | null, unit: Ucum, half = 0): Fact => (value === null ? refuseFact(unit, 'test', STAMP, { code: 'none', text: 'None.', next: 'Measure.' }) : makeFact(value, value - half, value + half, unit, 'test', [], STAMP));
const echo = (meanGradient: number | null, area: number | null, index: number | null, leafletLeak: number | null = null): ValveEcho => ({ meanGradient: fact(meanGradient, 'mm[Hg]'), area: fact(area, 'cm2'), index: fact(index, '1'), leafletLeak });
const decline = (before: ValveEcho, after: ValveEcho): readonly [string, string] => {
  const { stage2, stage3 } = stageDecline(before, after, RULES, STAMP);
  return [stage2.is, stage3.is];
};

describe('rules of echo', () => {
  test('every proposal has a code once, the unit of its code, a source and a status', () => {
    const codes = ECHO_PROPOSALS.map((r) => r.code);
    expect(new Set(codes).size).toBe(codes.length);
    for (const r of ECHO_PROPOSALS) {
      if (!r.code.startsWith('leak-')) expect(ECHO_RULE_UNITS[r.code as keyof typeof ECHO_RULE_UNITS]).toBe(r.unit);
      expect(r.source.length).toBeGreaterThan(10);
      expect(r.source.includes('memory') ? r.status : 'M').toBe('M');
    }
    for (const code of Object.keys(ECHO_RULE_UNITS)) expect(codes).toContain(code);
  });
  test('a rule in another unit is no rule', () => {
    expect(findEchoRule({ ...RULES, rules: [{ ...ECHO_PROPOSALS[0]!, unit: 'cm/s' }] }, 'echo-outflow-velocity-counts')).toBeNull();
  });
});

describe('stenosis', () => {
  const stage = (v: number | null, mg: number | null): string => {
    const { from, to } = gradeStenosis({ peakVelocity: fact(v, 'm/s'), meanGradient: fact(mg, 'mm[Hg]') }, RULES);
    return from === to ? from : `${from} to ${to}`;
  };
  test('EC-26: severe from 4.0 m/s or 40 mmHg', () => {
    expect([stage(3.99, null), stage(4, null), stage(4.01, null)]).toEqual(['moderate', 'severe', 'severe']);
    expect([stage(3, 39), stage(3, 40), stage(3, 41)]).toEqual(['moderate', 'severe', 'severe']);
  });
  test('EC-27: very severe from 5.0 m/s or 60 mmHg', () => {
    expect([stage(4.99, null), stage(5, null), stage(4, 60)]).toEqual(['severe', 'very severe', 'very severe']);
  });
  test('EC-28: the printed values, and 2.95 between the printed bounds', () => {
    expect([1.9, 2, 3, 3.9, 2.95].map((v) => stage(v, null))).toEqual(['A', 'mild', 'moderate', 'moderate', 'mild']);
    expect(stage(null, null)).toBe('cannot say');
  });
  test('a band across a limit gives both stages', () => {
    const { from, to } = gradeStenosis({ peakVelocity: fact(4, 'm/s', 0.2), meanGradient: fact(null, 'mm[Hg]') }, RULES);
    expect([from, to]).toEqual(['moderate', 'severe']);
  });
  test('EC-26: an area of 1.00 counts as severe', () => {
    expect([0.99, 1, 1.01].map((a) => judgeLimit(fact(a, 'cm2'), 'echo-stenosis-severe-area', 'below', RULES).is)).toEqual(['yes', 'yes', 'no']);
  });
  test('EC-29: D2 below an ejection fraction of 50, D3 from 50 on with low flow', () => {
    const at = (ef: number, svi = 32): readonly [string, string] => {
      const { d2, d3 } = judgeLowGradient({ area: fact(0.9, 'cm2'), peakVelocity: fact(3.4, 'm/s'), meanGradient: fact(28, 'mm[Hg]'), ejectionFraction: fact(ef, '%'), strokeIndexed: fact(svi, 'mL/m2') }, RULES);
      return [d2.is, d3.is];
    };
    expect([at(45), at(49.9), at(50), at(60), at(60, 35)]).toEqual([['yes', 'no'], ['yes', 'no'], ['no', 'yes'], ['no', 'yes'], ['no', 'no']]);
  });
  test('EC-06, EC-07, EC-08: index, low flow and energy loss on their limits', () => {
    const is = (v: number, unit: Ucum, code: 'echo-index-severe' | 'echo-low-flow' | 'echo-energy-loss-severe'): string => judgeLimit(fact(v, unit), code, 'below', RULES).is;
    expect([0.2222, 0.25, 0.26].map((v) => is(v, '1', 'echo-index-severe'))).toEqual(['yes', 'no', 'no']);
    expect([34.90659, 35, 35.1].map((v) => is(v, 'mL/m2', 'echo-low-flow'))).toEqual(['yes', 'no', 'no']);
    expect([0.59, 0.6, 0.613003].map((v) => is(v, 'cm2/m2', 'echo-energy-loss-severe'))).toEqual(['yes', 'no', 'no']);
  });
});

describe('decline of a valve', () => {
  test('EC-21: a rise of 10 that ends at 19 is not stage 2', () => {
    expect(decline(echo(9, 1.8, null), echo(19, 1.4, null))).toEqual(['no', 'no']);
  });
  test('EC-22: on every bound, with 1.6 - 1.3 and 1.4 - 1.1 in binary', () => {
    expect(decline(echo(10, 1.6, null), echo(20, 1.3, null))).toEqual(['yes', 'no']);
    expect(decline(echo(10, 1.4, null), echo(20, 1.1, null))).toEqual(['yes', 'no']);
    expect(decline(echo(10, 1.6, null), echo(20, 1.31, null))).toEqual(['no', 'no']);
    expect(decline(echo(10, null, 0.5), echo(20, null, 0.4))).toEqual(['yes', 'no']);
  });
  test('EC-23: stage 3, which is stage 2 too', () => {
    expect(decline(echo(12, null, 0.5), echo(32, null, 0.3))).toEqual(['yes', 'yes']);
  });
  test('EC-24: a rise with area and index unchanged is flow', () => {
    expect(decline(echo(10, 1.7, 0.5), echo(22, 1.7, 0.5))).toEqual(['no', 'no']);
  });
  test('a leak through the leaflets by one class to moderate, by two to severe', () => {
    const same = (leak: number): ValveEcho => echo(10, 1.7, 0.5, leak);
    expect([decline(same(1), same(2)), decline(same(0), same(1)), decline(same(1), same(4)), decline(same(2), same(4))]).toEqual([['yes', 'no'], ['no', 'no'], ['yes', 'yes'], ['yes', 'no']]);
  });
  test('without area and index nobody can say', () => {
    expect(decline(echo(10, null, null), echo(25, null, null))).toEqual(['cannot say', 'no']);
  });
  test('stage 3 implies stage 2, whatever the numbers (property)', () => {
    const number = (low: number, high: number) => fc.double({ min: low, max: high, noNaN: true });
    fc.assert(fc.property(number(2, 40), number(2, 80), number(0.4, 3), number(0.2, 3), number(0.1, 0.9), number(0.1, 0.9), fc.integer({ min: 0, max: 4 }), fc.integer({ min: 0, max: 4 }), (g0, g1, a0, a1, i0, i1, l0, l1) => {
      const [stage2, stage3] = decline(echo(g0, a0, i0, l0), echo(g1, a1, i1, l1));
      expect(stage3 === 'yes' && stage2 !== 'yes').toBe(false);
    }), { seed: 20260302 });
  });
});

describe('failure, severe leak, intended performance, five classes', () => {
  test('EC-25: the highest stage that holds; only structural decline is structural', () => {
    const none = { dysfunction: false, isExpressed: false, isIrreversibleStage3: false, reintervention: false, valveDeath: false };
    expect([none, { ...none, dysfunction: true }, { ...none, dysfunction: true, isExpressed: true }, { ...none, isIrreversibleStage3: true }, { ...none, dysfunction: true, isExpressed: true, reintervention: true }, { ...none, reintervention: true, valveDeath: true }].map(stageFailure)).toEqual([0, 0, 1, 1, 2, 3]);
    expect((['structural', 'leak beside', 'mismatch', 'thrombosis', 'endocarditis'] as const).map(isStructural)).toEqual([true, false, false, false, false]);
  });
  test('EC-30: each criterion for itself, on its limit', () => {
    const is = (criterion: 'orifice' | 'contracta' | 'volume' | 'fraction' | 'jet-width', value: number, unit: Ucum): string => listSevereCriteria('aortic', { [criterion]: fact(value, unit) }, RULES)[0]!.is;
    expect([is('orifice', 0.29, 'cm2'), is('orifice', 0.3, 'cm2'), is('contracta', 0.6, 'cm'), is('contracta', 0.61, 'cm'), is('volume', 60, 'mL'), is('volume', 59.9, 'mL'), is('fraction', 50, '%'), is('jet-width', 64.9, '%')]).toEqual(['no', 'yes', 'no', 'yes', 'yes', 'no', 'yes', 'no']);
  });
  test('EC-32: mitral criteria, from memory', () => {
    const is = (value: number): string => listSevereCriteria('mitral', { orifice: fact(value, 'cm2') }, RULES)[0]!.is;
    expect([is(0.39), is(0.4)]).toEqual(['no', 'yes']);
    expect(listSevereCriteria('mitral', { orifice: fact(0.4, 'cm2') }, RULES)[0]!.method).toContain('unverified');
  });
  test('EC-31: 19.9 and 20 mmHg, and where the editions differ', () => {
    const ok = (edition: 'VARC-2' | 'VARC-3', mg: number, v: number, index: number, leak: number | null, hasMismatch: boolean | null): string =>
      judgeIntended(edition, { meanGradient: fact(mg, 'mm[Hg]'), peakVelocity: fact(v, 'm/s'), index: fact(index, '1'), leak, hasMismatch }, RULES, STAMP).is;
    expect([ok('VARC-2', 19.9, 3.2, 0.4, 1, false), ok('VARC-2', 20, 3.2, 0.4, 1, false), ok('VARC-2', 20, 2.9, 0.4, 1, false)]).toEqual(['yes', 'no', 'yes']);
    expect([ok('VARC-3', 19.9, 2.9, 0.25, 1, true), ok('VARC-3', 20, 2.9, 0.25, 1, false), ok('VARC-3', 19.9, 2.9, 0.24, 1, false), ok('VARC-3', 19.9, 2.9, 0.25, 2, false)]).toEqual(['yes', 'no', 'no', 'no']);
    expect([ok('VARC-2', 10, 2, 0.4, 1, true), ok('VARC-2', 10, 2, 0.4, null, false), ok('VARC-2', 10, 2, 0.4, 1, null)]).toEqual(['no', 'cannot say', 'cannot say']);
  });
  test('EC-18: 0.19 and 0.20 cm2, 44.9 and 45 mL split the middle class', () => {
    const of = (kind: 'orifice' | 'volume', v: number, unit: Ucum): string => gradeFiveClasses(kind, fact(v, unit), RULES).from;
    expect([0.09, 0.1, 0.19, 0.2, 0.29, 0.3].map((v) => of('orifice', v, 'cm2'))).toEqual(['mild', 'mild to moderate', 'mild to moderate', 'moderate to severe', 'moderate to severe', 'severe']);
    expect([29, 30, 44.9, 45, 59, 60].map((v) => of('volume', v, 'mL'))).toEqual(['mild', 'mild to moderate', 'mild to moderate', 'moderate to severe', 'moderate to severe', 'severe']);
  });
  test('without rules nothing is said', () => {
    expect(gradeFiveClasses('orifice', fact(0.2, 'cm2'), null).from).toBe('cannot say');
    expect(gradeStenosis({ peakVelocity: fact(5, 'm/s'), meanGradient: fact(60, 'mm[Hg]') }, null).from).toBe('cannot say');
    expect(stageDecline(echo(10, 1.6, null), echo(20, 1.3, null), null, STAMP).stage2.is).toBe('cannot say');
  });
});
