import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import {
  computeContrastIndex, computeContrastOverEgfr, computeLargestDose, computeMicromolar, convertDoseArea, KIDNEY_DEFINITIONS, stageByCreatinine, stageByUrine, takeWorseStage,
} from './contrast-dose.ts';
import { ANGIOGRAM_PROPOSALS, reachesRule } from './contrast-proposals.ts';

const CHECKS6: Tolerance = { relative: 0, absolute: 1e-6, from: 'tolerance of the check' };
const CHECKS3: Tolerance = { relative: 0, absolute: 1e-3, from: 'tolerance of the check' };
const EXACT: Tolerance = { relative: 0, absolute: 1e-9, from: 'tolerance of the check' };
const value = <T>(r: { readonly ok: true; readonly value: T } | { readonly ok: false }): T => {
  if (!r.ok) throw new Error('refused');
  return r.value;
};
const findRule = (code: string): (typeof ANGIOGRAM_PROPOSALS)[number] => ANGIOGRAM_PROPOSALS.find((r) => r.code === code)!;
const kdigo = (baselineMgDl: number, peakMgDl: number): number => value(stageByCreatinine({ baselineMgDl, peakMgDl }, KIDNEY_DEFINITIONS.kdigo));
const varc3 = (baselineMgDl: number, peakMgDl: number): number => value(stageByCreatinine({ baselineMgDl, peakMgDl }, KIDNEY_DEFINITIONS.varc3));

describe('contrast dose', () => {
  test('AN-06 volume over filtration rate', () => expectWithin(value(computeContrastOverEgfr(120, 42)), 2.857143, CHECKS6));
  test('AN-07 1.78 itself reaches the proposed limit, 1.77 does not', () => {
    expect([1.77, 1.78].map((r) => reachesRule(r, findRule('contrast-over-egfr-high')))).toEqual([false, true]);
  });
  test('AN-08 index of volume, creatinine and weight, with its limit', () => {
    const index = value(computeContrastIndex(150, 1.2, 65));
    expectWithin(index, 2.769231, CHECKS6);
    expect(reachesRule(index, findRule('contrast-index-high'))).toBe(true);
    expect(reachesRule(2.69, findRule('contrast-index-high'))).toBe(false);
  });
  test('AN-09 largest dose, cut at its cap; of memory', () => {
    const [perKg, cap] = [findRule('contrast-largest-per-kg'), findRule('contrast-largest')];
    expect([perKg.status, cap.status]).toEqual(['M', 'M']);
    const dose = value(computeLargestDose(65, 1.2, { perKg: perKg.value, capMl: cap.value }));
    expectWithin(dose.doseMl, 270.8333, CHECKS3);
    expect(dose.isCapped).toBe(false);
    expect(value(computeLargestDose(90, 0.8, { perKg: perKg.value, capMl: cap.value }))).toEqual({ doseMl: 300, isCapped: true });
    // At the dose of AN-09 the index of AN-08 is 5.
    expectWithin(value(computeContrastIndex(dose.doseMl, 1.2, 65)), 5, EXACT);
  });
  test('AN-14 creatinine in micromol', () => {
    for (const [mgdl, umol] of [[1.2, 106.104], [0.3, 26.526], [4, 353.68]] as const) expectWithin(computeMicromolar(mgdl), umol, CHECKS3);
  });
  test('AN-15 dose area product of the header', () => {
    expectWithin(convertDoseArea(452.3).gyCm2, 45.23, EXACT);
    expectWithin(convertDoseArea(452.3).microGyM2, 4523, { relative: 0, absolute: 1e-9, from: 'tolerance of the check' });
  });
  test('refuses what is missing, zero or no number', () => {
    for (const bad of [0, -1, NaN, Infinity]) {
      expect(computeContrastOverEgfr(120, bad).ok).toBe(false);
      expect(computeContrastIndex(120, bad, 65).ok).toBe(false);
      expect(computeContrastIndex(120, 1.2, bad).ok).toBe(false);
      expect(computeLargestDose(bad, 1.2, { perKg: 5, capMl: 300 }).ok).toBe(false);
      expect(stageByCreatinine({ baselineMgDl: bad, peakMgDl: 1 }, KIDNEY_DEFINITIONS.kdigo).ok).toBe(false);
    }
    expect(stageByUrine({ below05: 5, below03: 6, none: 0 }).ok).toBe(false);
  });
});

describe(`kidney stages (seed ${seed})`, () => {
  test('AN-10 KDIGO, also where the subtraction of two decimals is not exact', () => {
    expect([1.29, 1.3, 1.49, 1.95, 2.0, 2.99, 3.0].map((peak) => kdigo(1, peak))).toEqual([0, 1, 1, 1, 2, 2, 3]);
    expect(kdigo(0.9, 1.2)).toBe(1); // 1.2 - 0.9 is 0.29999999999999993
    expect(kdigo(0.9, 1.19)).toBe(0);
  });
  test('AN-10 0.3 counts within 48 h only', () => {
    expect(value(stageByCreatinine({ baselineMgDl: 1.5, peakMgDl: 1.9, rise48hMgDl: 0.2 }, KIDNEY_DEFINITIONS.kdigo))).toBe(0);
    expect(value(stageByCreatinine({ baselineMgDl: 1.5, peakMgDl: 1.9, rise48hMgDl: 0.3 }, KIDNEY_DEFINITIONS.kdigo))).toBe(1);
  });
  test('AN-11 a creatinine that was high before is no stage 3 without an acute rise', () => {
    expect(kdigo(3.9, 4.0)).toBe(0);
    expect(kdigo(3.7, 4.0)).toBe(3);
    expect(varc3(3.7, 4.0)).toBe(1);
    expect(varc3(3.5, 4.0)).toBe(3);
  });
  test('AN-12 urine arm; the worse arm wins', () => {
    expect([{ below05: 6, below03: 0, none: 0 }, { below05: 12, below03: 0, none: 0 }, { below05: 24, below03: 24, none: 0 }].map((h) => value(stageByUrine(h)))).toEqual([1, 2, 3]);
    expect(value(stageByUrine({ below05: 12, below03: 12, none: 12 }))).toBe(3);
    expect(value(stageByUrine({ below05: 5.9, below03: 0, none: 0 }))).toBe(0);
    expect(takeWorseStage(1, 2)).toBe(2);
  });
  test('AN-13 exactly 2.0 and 3.0 stage differently in VARC-3 and KDIGO; replacement is stage 4 and 3', () => {
    expect([varc3(1, 2), varc3(1, 3)]).toEqual([1, 2]);
    expect([kdigo(1, 2), kdigo(1, 3)]).toEqual([2, 3]);
    const replaced = { baselineMgDl: 1, peakMgDl: 1, isReplaced: true };
    expect([value(stageByCreatinine(replaced, KIDNEY_DEFINITIONS.varc3)), value(stageByCreatinine(replaced, KIDNEY_DEFINITIONS.kdigo))]).toEqual([4, 3]);
    expect(KIDNEY_DEFINITIONS.varc3.status).toBe('M');
  });
  test('a higher peak never lowers the stage', () => {
    const mgdl = fc.integer({ min: 30, max: 600 }).map((v) => v / 100);
    fc.assert(fc.property(mgdl, mgdl, mgdl, (base, a, b) => {
      const [low, high] = [Math.min(a, b), Math.max(a, b)];
      expect(kdigo(base, low)).toBeLessThanOrEqual(kdigo(base, high));
      expect(varc3(base, low)).toBeLessThanOrEqual(varc3(base, high));
    }), replay);
  });
});
