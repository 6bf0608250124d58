/**
 * Area under a curve by the trapezium rule from `from` to `to`, both inside the times; straight lines between samples, so
 * that the window need not begin or end on one.
 * Units   of the times x of the values
 */
export function integrateCurve(times: readonly number[], values: readonly number[], from: number, to: number): number {
  let area = 0;
  for (let i = 1; i < times.length; i++) {
    const [t0, t1] = [times[i - 1]!, times[i]!];
    const [a, b] = [Math.max(t0, from), Math.min(t1, to)];
    if (!(b > a)) continue;
    const at = (t: number): number => values[i - 1]! + ((values[i]! - values[i - 1]!) * (t - t0)) / (t1 - t0);
    area += ((at(a) + at(b)) / 2) * (b - a);
  }
  return area;
}

/**
 * AN-02: area of the outflow tract over area of the aortic root, trapezium rule, the same window for both. A fraction.
 * NaN when the root's area is not above zero.
 * Source   Abdelghani M et al., Catheter Cardiovasc Interv, doi:10.1002/ccd.26926 (checks AN-02)
 */
export function computeDensityRatio(times: readonly number[], outflow: readonly number[], root: readonly number[], from = times[0] ?? NaN, to = times.at(-1) ?? NaN): number {
  const below = integrateCurve(times, root, from, to);
  return below > 0 ? integrateCurve(times, outflow, from, to) / below : NaN;
}
