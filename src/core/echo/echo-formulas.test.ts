import { describe, expect, test } from 'vitest';
import type { RuleSet } from '../device/device-types.ts';
import type { LeakMeasureCode } from '../verdict/leak-measures.ts';
import { LEAK_MEASURES } from '../verdict/leak-measures.ts';
import { VERDICT_PROPOSALS } from '../verdict/verdict-rules.ts';
import {
  computeBernoulli, computeContinuityArea, computeDiscArea, computeEnergyLoss, computeExtendedBernoulli, computeIndexed, computeIsovelocityOrifice, computeMeanGradient, computeOrificeVolume, computeRatio,
  computeRecoveredShare, computeRegurgitantFraction, computeRegurgitantVolume, computeStrokeVolume,
} from './echo-formulas.ts';
import { ECHO_PROPOSALS } from './echo-rules.ts';
import { NO_CONTEXT } from './echo-types.ts';
import { makeEchoWitness } from './make-echo-witness.ts';
import { measureEcho } from './measure-echo.ts';

const RULES: RuleSet = { format: 'trinadir.rules/1', hospital: 'Training', signedBy: 'test', signedAt: '2026-01-05T08:00:00Z', training: true, rules: [...VERDICT_PROPOSALS, ...ECHO_PROPOSALS] };
const VARC2_RULES: RuleSet = { ...RULES, rules: VERDICT_PROPOSALS };
const STAMP = { by: 'test', at: '2026-03-02T10:14:00.000Z' };

describe('formulas of echo: worked examples', () => {
  test('EC-01, EC-02: simple and extended', () => {
    expect(computeBernoulli(4)).toBeCloseTo(64, 9);
    expect(computeExtendedBernoulli(4, 1.8)).toBeCloseTo(51.04, 9);
  });
  test('EC-03: the mean of the squares is not the square of the mean', () => {
    const steps = 100_000;
    const velocities = Array.from({ length: steps }, (_, i) => 4 * Math.sin((Math.PI * (i + 0.5)) / steps));
    expect(computeMeanGradient(velocities)).toBeCloseTo(32, 5);
    expect(4 * (velocities.reduce((s, v) => s + v, 0) / steps) ** 2).toBeCloseTo(25.93822, 4);
  });
  test('EC-04, EC-05, EC-06: area by continuity and index', () => {
    const area = computeDiscArea(2);
    expect(area).toBeCloseTo(3.141593, 6);
    expect(computeContinuityArea(area, 20, 90)).toBeCloseTo(0.698132, 6);
    expect(computeDiscArea(2.1) / computeDiscArea(2)).toBeCloseTo(1.1025, 9);
    expect(computeContinuityArea(3.5, 14, 55)).toBeCloseTo(0.890909, 6);
    expect(computeIndexed(0.890909, 1.7)).toBeCloseTo(0.524064, 5);
    expect(computeRatio(20, 90)).toBeCloseTo(0.222222, 6);
  });
  test('EC-07: stroke volume', () => {
    expect(computeStrokeVolume(3.141593, 20)).toBeCloseTo(62.83185, 4);
    expect(computeIndexed(62.83185, 1.8)).toBeCloseTo(34.90659, 4);
  });
  test('EC-08, EC-09: energy loss and recovery', () => {
    expect(computeEnergyLoss(0.9, 6.6)).toBeCloseTo(1.042105, 5);
    expect(computeIndexed(computeEnergyLoss(0.9, 6.6), 1.7)).toBeCloseTo(0.613003, 5);
    expect(computeRecoveredShare(0.9, 6.6)).toBeCloseTo(0.235537, 6);
    expect(computeRecoveredShare(0.9, 6.6) * computeBernoulli(4)).toBeCloseTo(15.07438, 4);
  });
  test('EC-19, EC-20: leak by two stroke volumes and by convergence', () => {
    expect([computeRegurgitantVolume(100, 70), computeRegurgitantFraction(30, 100)]).toEqual([30, 30]);
    const orifice = computeIsovelocityOrifice(0.5, 40, 450);
    expect(orifice).toBeCloseTo(0.139626, 5);
    expect(computeOrificeVolume(orifice, 180)).toBeCloseTo(25.13274, 4);
  });
  test('an impossible division gives no number', () => {
    expect([computeRatio(1, 0), computeEnergyLoss(2, 1), computeEnergyLoss(2, 2), computeRecoveredShare(2, 1), computeIsovelocityOrifice(1, 1, 0)].every(Number.isNaN)).toBe(true);
  });
});

describe('leak numbers as a witness: printed classes', () => {
  /** One exact number, as no reading is, so that limits are met to the digit. */
  const grade = (code: LeakMeasureCode, value: number, rules = VARC2_RULES): readonly [number, number] | null => {
    const answer = { ...measureEcho({}, NO_CONTEXT, rules, STAMP), measures: [{ code, value, low: value, high: value, unit: LEAK_MEASURES[code].unit, reasons: [] }] };
    return makeEchoWitness(answer, { by: 'Reader One', at: STAMP.at, heartRatePerMin: 72, loadingNote: 'none', from: ['test'] }, rules).interval;
  };
  const [MILD, MODERATE, SEVERE] = [[0, 1], [2, 3], [4, 4]];
  test.each<readonly [string, LeakMeasureCode, readonly (readonly [number, readonly number[]])[]]>([
    ['EC-12', 'circumference', [[9.9, MILD], [10, MODERATE], [29, MODERATE], [29.9, MODERATE], [30, SEVERE]]],
    ['EC-13', 'regurgitant-volume', [[29, MILD], [30, MODERATE], [59.9, MODERATE], [60, SEVERE]]],
    ['EC-13', 'regurgitant-fraction', [[29, MILD], [49, MODERATE], [50, SEVERE]]],
    ['EC-13', 'regurgitant-orifice', [[0.09, MILD], [0.1, MODERATE], [0.29, MODERATE], [0.3, SEVERE]]],
    ['EC-15', 'pressure-half-time', [[501, MILD], [500, MODERATE], [200, MODERATE], [199, SEVERE]]],
    ['EC-16', 'jet-width', [[25, MILD], [26, MODERATE], [64, MODERATE], [65, SEVERE]]],
    ['EC-17', 'vena-contracta', [[0.29, MILD], [0.3, MODERATE], [0.6, MODERATE], [0.61, SEVERE]]],
  ])('%s: %s', (_, code, rows) => {
    for (const [value, interval] of rows) expect([value, grade(code, value)]).toEqual([value, interval]);
  });
  test('EC-18: with its rules signed the middle class is split', () => {
    expect([grade('regurgitant-orifice', 0.19, RULES), grade('regurgitant-orifice', 0.2, RULES), grade('regurgitant-volume', 44, RULES), grade('regurgitant-volume', 45, RULES)]).toEqual([[2, 2], [3, 3], [2, 2], [3, 3]]);
  });
  test('EC-14: reversal in words', () => {
    const of = (reversal: 'absent' | 'brief' | 'intermediate' | 'holodiastolic'): unknown =>
      makeEchoWitness(measureEcho({ reversal }, NO_CONTEXT, RULES, STAMP), { by: 'Reader One', at: STAMP.at, heartRatePerMin: 72, loadingNote: 'none', from: ['test'] }, RULES).interval;
    expect([of('absent'), of('brief'), of('intermediate'), of('holodiastolic')]).toEqual([MILD, MILD, MODERATE, SEVERE]);
  });
});
