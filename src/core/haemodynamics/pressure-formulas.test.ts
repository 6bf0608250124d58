import { describe, expect, test } from 'vitest';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import {
  computeAdjustedPressureTime, computeArIndex, computeArIndexRatio, computeBodyResistance, computeColumnPressure, computeDiastolicDelta, computeFickOutput,
  computeGorlinArea, computeHakkiArea, computeLineResponse, computeMeanByThirds, computeRateAdjustedDelta, computeValvuloArterialLoad, KPA_PER_MMHG,
} from './pressure-formulas.ts';

const within = (absolute: number): Tolerance => ({ relative: 0, absolute, from: 'tolerance of the check' });

describe('published formulas, worked examples of the checks', () => {
  test('HD-01 AR index', () => {
    expectWithin(computeArIndex(130, 60, 20), 30.7692, within(1e-4));
    expectWithin(computeArIndex(120, 55, 25), 25, within(1e-4));
    expectWithin(computeArIndex(120, 54, 25), 24.1667, within(1e-4));
  });
  test('HD-03 ratio to the index before any balloon', () => expectWithin(computeArIndexRatio(25, 46), 0.543478, within(1e-6)));
  test('HD-04 and HD-05 diastolic difference, per rate 80', () => {
    expect(computeDiastolicDelta(50, 20)).toBe(30);
    expectWithin(computeRateAdjustedDelta(50, 20, 75), 32, within(1e-9));
  });
  test('D45: aorta 140/60, LVEDP 20, rate 100', () => {
    expectWithin(computeArIndex(140, 60, 20), 28.571429, within(1e-6));
    expect(computeDiastolicDelta(60, 20)).toBe(40);
    expectWithin(computeRateAdjustedDelta(60, 20, 100), 32, within(1e-9));
  });
  test('HD-06 diastolic pressure-time index over systole', () => expectWithin(computeAdjustedPressureTime(36, 130), 27.692308, within(1e-6)));
  test('HD-11 Gorlin', () => {
    expectWithin(computeGorlinArea(5, 80, 0.33, 50), 0.604613, within(1e-5));
    expectWithin(computeGorlinArea(5, 75, 0.33, 30), 0.832589, within(1e-5));
  });
  test('HD-12 and HD-13 Hakki, with rate', () => {
    expectWithin(computeHakkiArea(5.4, 64, null), 0.675, within(1e-9));
    expectWithin(computeHakkiArea(5.4, 64, 100), 0.5, within(1e-9));
    expectWithin(computeHakkiArea(5.4, 64, 90), 0.675, within(1e-9));
  });
  test('HD-14 Fick', () => {
    expectWithin(computeFickOutput(230, 13, 0.98, 0.7, 1.36), 4.646089, within(1e-5));
    expectWithin(computeFickOutput(230, 13, 0.98, 0.7, 1.34), 4.715434, within(1e-5));
  });
  test('HD-15 mean by thirds', () => expectWithin(computeMeanByThirds(130, 70), 90, within(1e-9)));
  test('HD-16 kPa', () => expectWithin(120 * KPA_PER_MMHG, 15.99864, within(1e-5)));
  test('HD-17 a column of 10 cm', () => {
    expectWithin(computeColumnPressure(10, 1), 7.3556, within(1e-3));
    expectWithin(computeColumnPressure(10, 1.055), 7.7602, within(1e-3));
  });
  test('HD-18 and HD-19 flush: 1.7 mm at 25 mm/s, peaks of 24 and 17 mm', () => {
    const { naturalHz, dampingRatio } = computeLineResponse(1.7 / 25, 17, 24);
    expectWithin(naturalHz, 14.70588, within(1e-4));
    expectWithin(dampingRatio, 0.109111, within(1e-5));
  });
  test('HD-23 and HD-24 load', () => {
    expectWithin(computeValvuloArterialLoad(130, 45, 30), 5.833333, within(1e-5));
    expectWithin(computeBodyResistance(93.333, 6, 4.5), 1552.59, within(0.01));
  });
  test('what cannot be divided is not a number', () => {
    expect([computeArIndex(0, 60, 20), computeGorlinArea(5, 80, 0.3, 0), computeRateAdjustedDelta(60, 20, NaN), computeArIndexRatio(20, -3)]).toEqual([NaN, NaN, NaN, NaN]);
  });
});
