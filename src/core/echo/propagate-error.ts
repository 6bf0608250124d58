/** A number with its 95 % band, the codes it comes from, and whether an independent error lies in it. */
export interface Reading {
  readonly value: number;
  readonly low: number;
  readonly high: number;
  readonly from: readonly string[];
}

export const exact = (value: number, from: readonly string[] = []): Reading => ({ value, low: value, high: value, from });
export const around = (value: number, half: number, from: readonly string[] = [], least = -Infinity): Reading => ({ value, low: Math.max(least, value - half), high: value + half, from });

/**
 * A function of readings with independent errors. Each input is moved to the ends of its band with the others at rest; moves up
 * and moves down of the answer add as squares, so that a lopsided function gets a lopsided band.
 *
 * Equation  high - f = sqrt(sum max(f(x_i at its ends) - f, 0)^2), low alike
 * Units     of `compute`
 * Fails     never; NaN in, NaN out
 * Accuracy  first order; the coverage measured over seeds stands in docs/methods/echo.md
 */
export function propagate(inputs: readonly Reading[], compute: (...values: number[]) => number): Reading {
  const rest = inputs.map((r) => r.value);
  const value = compute(...rest);
  let [up, down] = [0, 0];
  for (const [i, input] of inputs.entries()) {
    const ends = [input.low, input.high].map((end) => compute(...rest.map((v, k) => (k === i ? end : v))) - value);
    up += Math.max(0, ...ends) ** 2;
    down += Math.min(0, ...ends) ** 2;
  }
  return { value, low: value - Math.sqrt(down), high: value + Math.sqrt(up), from: [...new Set(inputs.flatMap((r) => r.from))] };
}

/** Whether two bands have no number in common, by more than rounding. */
export function areApart(a: Reading, b: Reading): boolean {
  const slack = 1e-9 * Math.max(1, Math.abs(a.value), Math.abs(b.value));
  return a.low > b.high + slack || b.low > a.high + slack;
}
