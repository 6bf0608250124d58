import { describe, expect, test } from 'vitest';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalAt } from '../math/random.ts';
import { blurredPower, makeCornerFitter } from './fit-wall-corner.ts';

const HEIGHTS = Array.from({ length: 33 }, (_, i) => 10 + 0.5 * i);
const CORNERS = Array.from({ length: 33 }, (_, i) => 16 + 0.25 * i);
const fit = makeCornerFitter(HEIGHTS, CORNERS);
const bestMm = (radiusMm: readonly number[]): number => {
  const cost = fit(radiusMm).costMm2;
  return CORNERS[cost.indexOf(Math.min(...cost))]!;
};

describe('makeCornerFitter', () => {
  for (const corner of [18, 20, 22]) {
    test(`a sinus that falls steeply to a tube at ${corner} mm has its least cost there`, () => {
      const radius = HEIGHTS.map((h) => 14 + 0.03 * (h - corner) + (h < corner ? 0.4 * (corner - h) : 0));
      expectWithin(bestMm(radius), corner, { relative: 0, absolute: 0.5, from: 'two steps of the search; the model blurs a corner that is sharp here' });
    });
  }
  test('a corner blurred as the model blurs it is found to two steps, with noise of 0.05 mm within a millimetre', () => {
    const radius = HEIGHTS.map((h) => 14 + 0.03 * (h - 20) + 0.3 * blurredPower(20 - h, 1, 1));
    expectWithin(bestMm(radius), 20, { relative: 0, absolute: 0.5, from: 'two steps: the slope below is steeper than the prior expects' });
    const noisy = radius.map((r, i) => r + 0.05 * normalAt(5, i, 0));
    expectWithin(bestMm(noisy), 20, { relative: 0, absolute: 1, from: 'one column alone; the junction takes 32' });
  });
  test('does not change when the wall is moved outward as a whole', () => {
    const radius = HEIGHTS.map((h) => 14 + 0.3 * Math.max(0, 20 - h));
    const [near, far] = [fit(radius).costMm2, fit(radius.map((r) => r + 5)).costMm2];
    near.forEach((c, i) => expectWithin(far[i]!, c, { relative: 1e-6, absolute: 1e-9, from: 'the mean is taken off first' }));
  });
  test('a straight wall prefers no height by more than noise would', () => {
    const cost = fit(HEIGHTS.map((h) => 14 + 0.03 * h)).costMm2;
    expect(Math.max(...cost) - Math.min(...cost)).toBeLessThan(33 * 0.1 ** 2 * 0.2);
  });
});

describe('blurredPower', () => {
  test('is the power far above zero, nothing far below, and the half-moment at zero', () => {
    for (const n of [1, 2, 3] as const) {
      expectWithin(blurredPower(40, n, 0.1), 40 ** n, { relative: 1e-4, absolute: 0, from: 'n (n - 1) / 2 (s / u)^2 and less' });
      expectWithin(blurredPower(-9, n, 1), 0, { relative: 0, absolute: 1e-4, from: '1.2e-7 of the normal distribution times 9^3' });
    }
    expectWithin(blurredPower(0, 1, 2), 2 / Math.sqrt(2 * Math.PI), { relative: 1e-6, absolute: 0, from: 'mean of the upper half of a Gaussian' });
    expectWithin(blurredPower(0, 2, 2), 2, { relative: 1e-6, absolute: 0, from: 'half the variance' });
  });
});
