import { expect } from 'vitest';

/** How far off is still right, and why: rounding, discretisation, display or published repeatability. */
export interface Tolerance {
  readonly relative: number;
  readonly absolute: number;
  /** Where the number comes from, in one line. */
  readonly from: string;
}

/** Fails when `actual` is further from `wanted` than the tolerance, and always when it is NaN. */
export function expectWithin(actual: number, wanted: number, tolerance: Tolerance): void {
  const limit = tolerance.absolute + tolerance.relative * Math.abs(wanted);
  const isWithin = Math.abs(actual - wanted) <= limit; // NaN is never within
  expect(isWithin, `${actual} vs ${wanted}, limit ${limit} (${tolerance.from})`).toBe(true);
}

/** The same for each coordinate of a point, a vector or a list. */
export function expectAllWithin(
  actual: readonly number[],
  wanted: readonly number[],
  tolerance: Tolerance,
): void {
  expect(actual.length).toBe(wanted.length);
  for (let i = 0; i < wanted.length; i++) expectWithin(actual[i]!, wanted[i]!, tolerance);
}
