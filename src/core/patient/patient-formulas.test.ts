import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import type { EnteredItem } from '../case/fold-case.ts';
import { listDerived } from './list-derived.ts';
import { listLonelyLengths, makePatientFacts } from './make-patient-facts.ts';
import { computeAgeYears, computeBmi, computeBsaDuBoisM2, computeBsaMostellerM2, computeClearance, computeCreatinineMgPerDl, computeEgfr, computeGaitMPerS } from './patient-formulas.ts';
import { checkEntry, REFERRAL_FIELDS } from './referral-fields.ts';

const THIRD: Tolerance = { relative: 0, absolute: 1e-3, from: 'checks ST-11, ST-12, ST-13: given to 4 decimals, tolerance stated there' };
const FIFTH: Tolerance = { relative: 0, absolute: 1e-5, from: 'checks ST-14: tolerance stated there' };
const SIXTH: Tolerance = { relative: 0, absolute: 1e-6, from: 'checks ST-15, ST-16: tolerance stated there' };
const enter = (values: Readonly<Record<string, string | number | boolean>>): Record<string, EnteredItem> =>
  Object.fromEntries(Object.entries(values).map(([id, value], i) => [id, { value, unit: null, by: 'anna', at: '', seq: i + 1 }]));

describe('formulas about the patient: known answers', () => {
  test('ST-11 kidney function by creatinine, without race', () => {
    for (const [s, age, sex, wanted] of [[1.2, 82, 'F', 45.1946], [1.2, 82, 'M', 60.3781], [0.6, 82, 'F', 89.5613], [0.9, 55, 'F', 75.4988], [1.5, 80, 'M', 46.7724]] as const) expectWithin(computeEgfr(s, age, sex), wanted, THIRD);
  });
  test('ST-12 at the hinge points both power terms are one', () => {
    expectWithin(computeEgfr(0.7, 80, 'F'), 87.3752, THIRD);
    expectWithin(computeEgfr(0.9, 80, 'M'), 86.3391, THIRD);
  });
  test('ST-13 clearance of the whole body', () => {
    expectWithin(computeClearance(1.2, 82, 65, 'F'), 37.0891, THIRD);
    expectWithin(computeClearance(1.2, 82, 65, 'M'), 43.6343, THIRD);
  });
  test('ST-14 body surface by two formulas, ST-15 body mass index, ST-16 gait', () => {
    expectWithin(computeBsaDuBoisM2(160, 65), 1.678191, FIFTH);
    expectWithin(computeBsaDuBoisM2(175, 80), 1.95606, FIFTH);
    expectWithin(computeBsaMostellerM2(160, 65), 1.699673, FIFTH);
    expectWithin(computeBsaMostellerM2(175, 80), 1.972027, FIFTH);
    expectWithin(computeBmi(160, 65), 25.390625, SIXTH);
    expectWithin(computeGaitMPerS(5.9), 0.847458, SIXTH);
    expectWithin(computeGaitMPerS(10.1), 0.49505, SIXTH);
  });
  test('AN-14 creatinine in both units', () => {
    expectWithin(computeCreatinineMgPerDl(106.104), 1.2, SIXTH);
  });
  test('age is full years: the day before, the day of and the day after a birthday, and 29 February', () => {
    expect(computeAgeYears('1944-03-02', '2026-03-01')).toBe(81);
    expect(computeAgeYears('1944-03-02', '2026-03-02')).toBe(82);
    expect(computeAgeYears('1944-03-02', '2026-03-03')).toBe(82);
    expect(computeAgeYears('1944-02-29', '2026-02-28')).toBe(81);
    expect(computeAgeYears('1944-02-29', '2026-03-01')).toBe(82);
    expect([computeAgeYears('1944-02-30', '2026-03-01'), computeAgeYears('2027-01-01', '2026-01-01'), computeAgeYears('44-1-1', '2026-01-01')]).toEqual([null, null, null]);
  });
});

describe(`what follows from a referral (seed ${seed})`, () => {
  const whole = { 'identity.birthDate': '1944-03-02', 'identity.sex': 'F', 'body.heightCm': 160, 'body.weightKg': 65, 'body.creatinineUmolPerL': 106, 'frailty.fiveMetresS': 5.9 };
  const find = (values: Readonly<Record<string, string | number | boolean>>, key: string, day: string | null = '2026-04-01') => listDerived(enter(values), day).find((d) => d.key === key)!;

  test('is computed with what the rounding of the entries leaves open', () => {
    const egfr = find(whole, 'egfr');
    expectWithin(egfr.value!, computeEgfr(106 / 88.42, 82, 'F'), SIXTH);
    expect(egfr.low).toBeLessThan(egfr.value!);
    expect(egfr.high).toBeGreaterThan(egfr.value!);
    expect(egfr.missing).toEqual([]);
  });
  test('names what is missing instead of guessing: day, sex, birth date, creatinine', () => {
    expect(find(whole, 'egfr', null)).toMatchObject({ value: null, missing: ['procedureOn'] });
    expect(find({}, 'egfr')).toMatchObject({ value: null, missing: ['body.creatinineUmolPerL', 'identity.birthDate', 'identity.sex'] });
    expect(find({ ...whole, 'body.heightCm': 1.6 }, 'bmi')).toMatchObject({ value: null, missing: ['body.heightCm'] }); // metres entered as cm
    expect(find({ ...whole, 'identity.birthDate': '2015-01-01' }, 'egfr').value).toBeNull(); // not an adult
  });
  test('the interval holds every value that the entries could have been rounded from', () => {
    fc.assert(fc.property(fc.integer({ min: 140, max: 200 }), fc.integer({ min: 40, max: 140 }), fc.double({ min: -0.5, max: 0.5, noNaN: true }), fc.double({ min: -0.5, max: 0.5, noNaN: true }), (cm, kg, a, b) => {
      const { low, high } = find({ ...whole, 'body.heightCm': cm, 'body.weightKg': kg }, 'bsaDuBois');
      const truth = computeBsaDuBoisM2(cm + a, kg + b);
      expect(truth).toBeGreaterThanOrEqual(low! - 1e-12);
      expect(truth).toBeLessThanOrEqual(high! + 1e-12);
    }), replay);
  });
});

describe('entries of a referral', () => {
  test('bounds take their own ends and refuse what lies outside, of another kind, or is not known', () => {
    for (const f of REFERRAL_FIELDS) {
      expect(checkEntry(f.id, null)).toBeNull();
      if (f.kind !== 'number') continue;
      expect([checkEntry(f.id, f.low), checkEntry(f.id, f.high), checkEntry(f.id, f.low - f.step), checkEntry(f.id, f.high + f.step), checkEntry(f.id, NaN), checkEntry(f.id, '7')], f.id)
        .toEqual([null, null, 'out-of-bounds', 'out-of-bounds', 'not-a-number', 'not-a-number']);
    }
    expect([checkEntry('identity.sex', 'F'), checkEntry('identity.sex', 'X'), checkEntry('identity.birthDate', '0020-01-01'), checkEntry('body.shoe', 3), checkEntry('plan.isPredilated', 1)])
      .toEqual([null, 'not-a-choice', 'not-a-date', 'field-unknown', 'not-a-choice']);
  });
  test('the plan reads lengths only with their half-width; the others are named', () => {
    const entered = enter({ 'identity.name': 'X', 'identity.sex': 'F', 'plan.membranousSeptumMm': 5.5, 'plan.membranousSeptumHalfWidthMm': 1, 'plan.mitralClearanceMm': 9, 'plan.vesselLeftMm': 6.6, 'plan.vesselLeftHalfWidthMm': 0.4, 'plan.pacingPerMin': 120, 'plan.isPredilated': false });
    expect(makePatientFacts(entered, 'anna')).toEqual({
      format: 'trinadir.patient/1', by: 'anna', sex: 'F', membranousSeptumMm: { value: 5.5, halfWidth95: 1 }, vesselMinMm: { left: { value: 6.6, halfWidth95: 0.4 } }, pacingPerMin: 120, isPredilated: false,
    });
    expect(listLonelyLengths(entered)).toEqual(['plan.mitralClearanceMm']);
    expect(makePatientFacts(enter({ 'identity.name': 'X', 'body.heightCm': 170 }), 'anna')).toBeNull();
  });
});
