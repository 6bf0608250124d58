import { describe, expect, test } from 'vitest';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { studentCdf, studentQuantile } from './student-t.ts';

/** scipy.stats.t.ppf; the editions of Debian 12 and of 2025 differ by up to 2e-9, the later one is taken where they do. */
const TABLE = [
  [0.975, 1, 12.706204736432095], [0.975, 2, 4.302652729911275], [0.975, 3, 3.182446305284263], [0.975, 5, 2.5705818366147395],
  [0.975, 10, 2.2281388519649385], [0.975, 29, 2.045229642132703], [0.975, 100, 1.9839715184496334], [0.975, 1000, 1.9623390808264074],
  [0.6, 1, 0.32491969623407446], [0.6, 5, 0.2671808657039658], [0.6, 29, 0.25568363457125604], [0.6, 1000, 0.25341451583949864],
] as const;
const SERIES: Tolerance = { relative: 1e-9, absolute: 0, from: 'promise of the docblock; the series itself is good to 1e-13' };

describe('studentQuantile', () => {
  test.each(TABLE)('p %d with %d degrees of freedom is as SciPy says', (p, degrees, wanted) => {
    expectWithin(studentQuantile(p, degrees), wanted, SERIES);
    expectWithin(studentQuantile(1 - p, degrees), -wanted, { ...SERIES, relative: 1e-8, from: '1 - p loses digits of p' });
  });
  test('goes with the distribution function, and its middle is 0', () => {
    for (const p of [0.01, 0.2, 0.7, 0.999]) expectWithin(studentCdf(studentQuantile(p, 7), 7), p, SERIES);
    expect(studentQuantile(0.5, 4)).toBe(0);
  });
  test('with one degree of freedom it is the Cauchy distribution', () => {
    for (const t of [-3, 0, 0.5, 20]) expectWithin(studentCdf(t, 1), 0.5 + Math.atan(t) / Math.PI, { ...SERIES, absolute: 1e-12 });
  });
  test('is no number for what is no probability', () => {
    expect([studentQuantile(0, 3), studentQuantile(1, 3), studentQuantile(Number.NaN, 3), studentQuantile(0.9, 0)]).toEqual([NaN, NaN, NaN, NaN]);
  });
});
