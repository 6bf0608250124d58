import { normalQuantile } from '../math/random.ts';

/**
 * Quantile of the chi-square distribution.
 * Equation  v (1 - 2 / 9v + z sqrt(2 / 9v))^3, z the normal quantile
 * Source    Wilson and Hilferty, PNAS 17 (1931) 684 [M]
 * Accuracy  2 % from 3 degrees of freedom on, up to 0.9999 (test)
 */
export function quantileOfChiSquare(p: number, degrees: number): number {
  const v = 2 / (9 * degrees);
  return degrees * Math.max(0, 1 - v + normalQuantile(p) * Math.sqrt(v)) ** 3;
}
