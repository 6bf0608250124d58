import { describe, expect, test } from 'vitest';
import fc from 'fast-check';
import { normalCdf, quickNormalCdf } from './normal-cdf.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { replay, seed } from '../../../test/support/seed.ts';

const RATIONAL: Tolerance = { absolute: 1.2e-7, relative: 0, from: 'stated bound of the rational form of erfc' };
const TABLE: Tolerance = { absolute: 4e-6, relative: 0, from: 'linear interpolation at 1/128: max|phi prime| h^2 / 8 = 1.9e-6, and the bound above' };

/** Phi(x) by its series 1/2 + phi(x) (x + x^3/3 + x^5/15 + ...): an independent way, good to rounding up to 5. */
function bySeries(x: number): number {
  let term = x;
  let sum = x;
  for (let n = 1; n < 200; n++) {
    term *= (x * x) / (2 * n + 1);
    sum += term;
  }
  return 0.5 + (Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI)) * sum;
}

describe('normalCdf', () => {
  test.each([
    [0, 0.5],
    [1, 0.841344746],
    [1.959963985, 0.975],
    [-1.644853627, 0.05],
    [3, 0.998650102],
  ])('at %s is %s', (x, wanted) => {
    expectWithin(normalCdf(x), wanted, RATIONAL);
  });

  test('agrees with its power series from -5 to 5', () => {
    for (let x = -5; x <= 5; x += 0.01) expectWithin(normalCdf(x), bySeries(x), RATIONAL);
  });

  test('far tails are 0 and 1', () => {
    expect(normalCdf(-40)).toBe(0);
    expect(normalCdf(40)).toBe(1);
  });
});

describe(`normalCdf and its table, seed ${seed}`, () => {
  test('the two tails add up to one', () => {
    fc.assert(fc.property(fc.double({ min: -8, max: 8, noNaN: true }), (x) => expectWithin(normalCdf(x) + normalCdf(-x), 1, { absolute: 2.4e-7, relative: 0, from: 'twice the bound, at 0' })), replay);
  });

  test('the quick form stays by the slow one, also beyond its table', () => {
    fc.assert(fc.property(fc.double({ min: -9, max: 9, noNaN: true }), (x) => expectWithin(quickNormalCdf(x), normalCdf(x), TABLE)), replay);
  });

  test('the quick form never falls', () => {
    fc.assert(fc.property(fc.double({ min: -7, max: 7, noNaN: true }), fc.double({ min: 0, max: 2, noNaN: true }), (x, step) => {
      expect(quickNormalCdf(x + step)).toBeGreaterThanOrEqual(quickNormalCdf(x) - 1e-7);
    }), replay);
  });
});
