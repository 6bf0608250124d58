import { describe, expect, test } from 'vitest';
import fc from 'fast-check';
import { fitLeastSquares, invertSmall, solveSmall } from './solve-small.ts';
import { expectAllWithin, expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { replay, seed } from '../../../test/support/seed.ts';

const ROUNDING: Tolerance = { absolute: 1e-9, relative: 1e-9, from: 'rounding, well conditioned systems up to 6 x 6' };
const OPEN = { low: [-1e6, -1e6, -1e6], high: [1e6, 1e6, 1e6] };

/** Diagonally dominant, hence never singular and never badly conditioned. */
const dominantSystem = fc.integer({ min: 1, max: 6 }).chain((n) =>
  fc.record({
    n: fc.constant(n),
    a: fc.array(fc.double({ min: -1, max: 1, noNaN: true }), { minLength: n * n, maxLength: n * n }),
    x: fc.array(fc.double({ min: -10, max: 10, noNaN: true }), { minLength: n, maxLength: n }),
  }).map(({ n: size, a, x }) => ({ n: size, x, a: a.map((v, i) => (i % (size + 1) === 0 ? v + 2 * size : v)) })),
);

const multiply = (a: readonly number[], x: readonly number[], n: number): number[] =>
  Array.from({ length: n }, (_, r) => x.reduce((sum, v, c) => sum + a[r * n + c]! * v, 0));

describe('solveSmall', () => {
  test('solves a system whose first pivot is zero', () => {
    // 0 x + 2 y = 4, 3 x + y = 5
    expectAllWithin(Array.from(solveSmall(Float64Array.of(0, 2, 3, 1), Float64Array.of(4, 5), 2)!), [1, 2], ROUNDING);
  });

  test('gives null when two rows are the same', () => {
    expect(solveSmall(Float64Array.of(1, 2, 1, 2), Float64Array.of(1, 1), 2)).toBeNull();
  });

  test('gives null for NaN', () => {
    expect(solveSmall(Float64Array.of(NaN, 2, 1, 2), Float64Array.of(1, 1), 2)).toBeNull();
  });

  test('an inverse of a singular matrix is null', () => {
    expect(invertSmall(Float64Array.of(1, 2, 2, 4), 2)).toBeNull();
  });
});

describe(`solveSmall on random systems, seed ${seed}`, () => {
  test('finds the x that made b', () => {
    fc.assert(fc.property(dominantSystem, ({ n, a, x }) => {
      expectAllWithin(Array.from(solveSmall(Float64Array.from(a), Float64Array.from(multiply(a, x, n)), n)!), x, ROUNDING);
    }), replay);
  });

  test('the inverse undoes the matrix', () => {
    fc.assert(fc.property(dominantSystem, ({ n, a, x }) => {
      const inverse = Array.from(invertSmall(Float64Array.from(a), n)!);
      expectAllWithin(multiply(inverse, multiply(a, x, n), n), x, ROUNDING);
    }), replay);
  });
});

describe('fitLeastSquares', () => {
  test('a straight line through five points is the regression line, with its covariance', () => {
    const y = [1.1, 2.9, 5.2, 6.8, 9.0]; // at x = 0..4: slope 1.97, intercept 1.06 by hand
    const fit = fitLeastSquares((p, out) => y.forEach((v, i) => (out[i] = p[0]! + p[1]! * i - v)), [0, 0], 5, [1e-4, 1e-4], OPEN.low, OPEN.high, 30);
    expectAllWithin(Array.from(fit.parameters), [1.06, 1.97], { absolute: 1e-6, relative: 0, from: 'stops at a relative gain below 1e-6; linear, so the last step is exact' });
    // (J'J)^-1 of [1 x]: sum x^2 / 50 = 0.6, -10 / 50, 5 / 50
    expectAllWithin(Array.from(fit.inverseNormal!), [0.6, -0.2, -0.2, 0.1], { absolute: 1e-6, relative: 0, from: 'forward differences of a linear model' });
  });

  test('finds the minimum in the curved valley of Rosenbrock', () => {
    const fit = fitLeastSquares((p, out) => { out[0] = 10 * (p[1]! - p[0]! ** 2); out[1] = 1 - p[0]!; }, [-1.2, 1], 2, [1e-6, 1e-6], OPEN.low, OPEN.high, 200);
    expectAllWithin(Array.from(fit.parameters), [1, 1], { absolute: 1e-4, relative: 0, from: 'zero residual problem, forward differences of 1e-6' });
  });

  test('stops at a bound instead of crossing it', () => {
    const fit = fitLeastSquares((p, out) => { out[0] = p[0]! - 5; }, [0], 1, [1e-4], [-1], [2], 20);
    expectWithin(fit.parameters[0]!, 2, ROUNDING);
  });

  test('a parameter at its upper bound is still differentiated, inward', () => {
    const fit = fitLeastSquares((p, out) => { out[0] = p[0]! - 1; }, [2], 1, [1e-3], [-1], [2], 20);
    expectWithin(fit.parameters[0]!, 1, { absolute: 1e-6, relative: 0, from: 'linear' });
  });

  test('a parameter that nothing depends on leaves no covariance', () => {
    const fit = fitLeastSquares((p, out) => { out[0] = p[0]! - 1; }, [0, 3], 1, [1e-3, 1e-3], OPEN.low, OPEN.high, 20);
    expect(fit.inverseNormal).toBeNull();
    expect(fit.parameters[1]).toBe(3);
  });

  test('never ends worse than it began, also when a residual is not finite', () => {
    const fit = fitLeastSquares((p, out) => { out[0] = p[0]! > 0.5 ? NaN : 2 - p[0]!; }, [0], 1, [1e-3], [-9], [9], 20);
    expect(fit.residualSum).toBeLessThanOrEqual(4);
  });
});
