import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { VERDICT_RULES, withRule } from '../../../test/support/verdict-fixtures.ts';
import { computeArIndex, computeDiastolicDelta, computeRateAdjustedDelta } from '../haemodynamics/pressure-formulas.ts';
import { LEAK_MEASURES, type LeakMeasure, type LeakMeasureCode } from './leak-measures.ts';
import { showBeside } from './make-reason.ts';
import { readLeakCuts, VERDICT_RULE_UNITS } from './read-leak-rules.ts';
import { readLeak } from './read-leak.ts';
import { VERDICT_PROPOSALS } from './verdict-rules.ts';

const CUTS = readLeakCuts(VERDICT_RULES);
const measure = (code: LeakMeasureCode, value: number, half = 0): LeakMeasure => ({ code, value, low: value - half, high: value + half, unit: LEAK_MEASURES[code].unit, reasons: [] });
const read = (code: LeakMeasureCode, value: number, half = 0) => readLeak([measure(code, value, half)], CUTS).interval;

describe('VERDICT_PROPOSALS', () => {
  test('every rule of the proposal is read: a leak cut or a single limit in its unit, no code twice', () => {
    expect(VERDICT_PROPOSALS.filter((r) => r.code.includes('-at-')).length).toBe(CUTS.length);
    for (const rule of VERDICT_PROPOSALS) {
      expect(rule.code).toMatch(/^[a-z0-9-]{1,60}$/);
      if (!rule.code.includes('-at-')) expect(VERDICT_RULE_UNITS, rule.code).toHaveProperty(rule.code, rule.unit);
      expect(rule.source.length).toBeGreaterThan(8);
    }
    expect(new Set(VERDICT_PROPOSALS.map((r) => r.code)).size).toBe(VERDICT_PROPOSALS.length);
  });
  test('without published source every rule is M', () => {
    for (const rule of VERDICT_PROPOSALS) if (/common practice|from memory/.test(rule.source)) expect(rule.status, rule.code).toBe('M');
  });
  test('any exact number of one measure has an interval and never contradicts itself', () => {
    const code = fc.constantFrom(...(Object.keys(LEAK_MEASURES) as LeakMeasureCode[]).filter((c) => CUTS.filter((k) => k.measure === c).length > 2));
    fc.assert(fc.property(code, fc.double({ min: 0, max: 700, noNaN: true }), (c, value) => {
      const found = readLeak([measure(c, value)], CUTS);
      expect(found.interval).not.toBeNull();
      expect(found.interval![0]).toBeLessThanOrEqual(found.interval![1]);
    }), replay);
  });
});

describe('readLeak (published limits: just below, on, just above)', () => {
  test('HD-01 AR index 25 is not at risk, 24.1667 is', () => {
    expect(read('ar-index', 25.0)).toEqual([0, 3]);
    expect(read('ar-index', 24.1667)).toEqual([1, 3]);
    expect(read('ar-index', 30.7692)).toEqual([0, 1]);
  });
  test('decimal pressures whose index is 25, difference 18 or adjusted difference 25 stand on their limit, not a rounding below it', () => {
    for (const [systolic, diastolic, end] of [[90, 32.3, 9.8], [100.4, 45.3, 20.2], [120.8, 50.3, 20.1]] as const) expect(read('ar-index', computeArIndex(systolic, diastolic, end)), `${systolic}`).toEqual([0, 3]);
    expect(read('diastolic-delta', computeDiastolicDelta(32.2, 14.2))).toEqual([1, 4]);
    expect(read('rate-adjusted-delta', computeRateAdjustedDelta(17.9, 5.4, 40))).toEqual([0, 3]);
    expect(read('ar-index', 25 - 1e-6)).toEqual([1, 3]);
  });
  test('HD-02 the published class means lie in the intervals of their own classes', () => {
    const means: readonly (readonly [number, number])[] = [[31.7, 0], [28.0, 1], [19.6, 2], [7.6, 4]];
    for (const [index, grade] of means) {
      const [low, high] = read('ar-index', index)!;
      expect(low <= grade && grade <= high, `${index}: ${low} to ${high}`).toBe(true);
    }
  });
  test('HD-03, status M: ratio 0.543478 is adverse and its rule is unverified', () => {
    const { interval, acted } = readLeak([measure('ar-index-ratio', 25 / 46)], CUTS);
    expect(interval).toEqual([1, 4]);
    expect(acted[0]!.rule.status).toBe('M');
    expect(read('ar-index-ratio', 0.6)).toBeNull();
  });
  test('HD-04 a difference of 18 is at risk, 19 says nothing', () => {
    expect(read('diastolic-delta', 18)).toEqual([1, 4]);
    expect(read('diastolic-delta', 19)).toBeNull();
  });
  test('HD-05 the adjusted difference 32.0 is not at risk; 25 is not, 24.999 is', () => {
    expect(read('rate-adjusted-delta', 32)).toEqual([0, 3]);
    expect(read('rate-adjusted-delta', 25)).toEqual([0, 3]);
    expect(read('rate-adjusted-delta', 24.999)).toEqual([1, 4]);
  });
  test('HD-06 the adjusted pressure-time index of 27.9 is at risk, inclusive', () => {
    expect(read('pressure-time', 27.692308)).toEqual([1, 4]);
    expect(read('pressure-time', 27.9)).toEqual([1, 4]);
    expect(read('pressure-time', 27.901)).toBeNull();
  });
  test('AN-02, AN-03 ratio 0.17 is not significant, 0.1701 and 0.184722 are', () => {
    expect(read('density-ratio', 0.17)).toEqual([0, 3]);
    expect(read('density-ratio', 0.1701)).toEqual([2, 4]);
    expect(read('density-ratio', 0.184722)).toEqual([2, 4]);
  });
  test('a class of three that is not left bounds nothing below its upper end: moderate of the sources reaches to moderate to severe', () => {
    for (const cut of CUTS) if (cut.measure === 'ar-index' || cut.measure === 'density-ratio') if (cut.bound === 'at most') expect([1, 3], cut.rule.code).toContain(cut.grade);
  });
  test('AN-04 the cohort means lie in the intervals of their classes', () => {
    expect(read('density-ratio', 0.1)).toEqual([0, 1]);
    expect(read('density-ratio', 0.13)).toEqual([0, 1]);
    expect(read('density-ratio', 0.28)).toEqual([2, 4]);
  });
  test.each([
    ['EC-12', 'circumference', [[9.9, 0, 1], [10, 2, 3], [29, 2, 3], [29.5, 2, 3], [30, 4, 4]]],
    ['EC-13', 'regurgitant-volume', [[29, 0, 1], [30, 2, 3], [60, 4, 4]]],
    ['EC-13', 'regurgitant-fraction', [[29.9, 0, 1], [49, 2, 3], [50, 4, 4]]],
    ['EC-13', 'regurgitant-orifice', [[0.09, 0, 1], [0.1, 2, 3], [0.3, 4, 4]]],
    ['EC-15', 'pressure-half-time', [[501, 0, 1], [500, 2, 3], [200, 2, 3], [199, 4, 4]]],
    ['EC-16', 'jet-width', [[25, 0, 1], [26, 2, 3], [64, 2, 3], [65, 4, 4]]],
    ['EC-17', 'vena-contracta', [[0.29, 0, 1], [0.3, 2, 3], [0.6, 2, 3], [0.61, 4, 4]]],
  ] as const)('%s %s grades as published', (_, code, rows) => {
    for (const [value, low, high] of rows) expect(read(code, value), `${value}`).toEqual([low, high]);
  });
});

describe(`readLeak (seed ${seed})`, () => {
  test('a limit inside the band of a number says nothing and is named as open', () => {
    const found = readLeak([measure('ar-index', 26, 2)], CUTS);
    expect(found.interval).toEqual([0, 3]);
    expect(found.open.map((c) => c.rule.value)).toEqual([25, 27.2]);
  });
  test('a wider band never narrows the interval', () => {
    fc.assert(fc.property(fc.double({ min: 0, max: 60, noNaN: true }), fc.double({ min: 0, max: 20, noNaN: true }), fc.double({ min: 0, max: 20, noNaN: true }), (value, half, more) => {
      const [narrow, wide] = [read('ar-index', value, half) ?? [0, 4], read('ar-index', value, half + more) ?? [0, 4]];
      expect(wide[0]).toBeLessThanOrEqual(narrow[0]);
      expect(wide[1]).toBeGreaterThanOrEqual(narrow[1]);
    }), replay);
  });
  test('a lower AR index never says less leak', () => {
    fc.assert(fc.property(fc.double({ min: 0, max: 60, noNaN: true }), fc.double({ min: 0, max: 60, noNaN: true }), (a, b) => {
      const [worse, better] = [read('ar-index', Math.min(a, b))!, read('ar-index', Math.max(a, b))!];
      expect(worse[0]).toBeGreaterThanOrEqual(better[0]);
      expect(worse[1]).toBeGreaterThanOrEqual(better[1]);
    }), replay);
  });
  test('numbers that exclude one another are named, not averaged', () => {
    const found = readLeak([measure('circumference', 35), measure('regurgitant-volume', 12)], CUTS);
    expect(found.interval).toBeNull();
    expect(found.reasons.at(-1)).toMatchObject({ code: 'witness-contradicts-itself', text: 'circumferential extent says at least 4, regurgitant volume at most 1: this witness contradicts itself.' });
  });
  test('a number in another unit, a refused one and NaN are not read', () => {
    expect(readLeak([{ ...measure('regurgitant-fraction', 0.5), unit: '1' }], CUTS)).toMatchObject({ interval: null, reasons: [{ code: 'leak-measure-unit' }] });
    expect(readLeak([{ ...measure('ar-index', 20), value: null, low: null, high: null }], CUTS).interval).toBeNull();
    expect(read('ar-index', Number.NaN)).toBeNull();
  });
  test('a rule in another unit, of an unknown measure or without a number is no rule; half grades are read', () => {
    expect(readLeakCuts(withRule('leak-density-ratio-above-at-least-2', { unit: '%' })).length).toBe(CUTS.length - 1);
    expect(readLeakCuts(withRule('leak-density-ratio-above-at-least-2', { value: Number.NaN })).length).toBe(CUTS.length - 1);
    expect(readLeakCuts(withRule('leak-density-ratio-above-at-least-2', { code: 'leak-luck-above-at-least-2' })).length).toBe(CUTS.length - 1);
    expect(readLeakCuts(withRule('leak-density-ratio-above-at-least-2', { code: 'leak-density-ratio-above-at-least-4-5' })).length).toBe(CUTS.length - 1);
    expect(readLeakCuts(withRule('leak-density-ratio-above-at-least-2', { code: 'leak-density-ratio-above-at-least-1-5' })).find((c) => c.measure === 'density-ratio' && c.side === 'above')!.grade).toBe(1.5);
    expect(readLeakCuts(null)).toEqual([]);
  });
  test('a shown number never crosses its limit by rounding', () => {
    expect(showBeside(0.1701, 0.17)).toBe('0.1701');
    expect(showBeside(24.9999, 25)).toBe('24.9999');
    expect(showBeside(25, 25)).toBe('25');
    expect(showBeside(31.7, 25)).toBe('31.7');
  });
});
