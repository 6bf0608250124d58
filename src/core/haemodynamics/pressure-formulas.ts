/**
 * Published formulas of pressures (docs/methods/pressure.md). Pressures in mmHg, rates per minute. None holds a limit: limits
 * are rules. NaN in, NaN out; an impossible division gives NaN, never infinity.
 */
const divide = (a: number, b: number): number => (b > 0 ? a / b : NaN);

/** HD-01. Systolic and diastolic of the aorta. */
export function computeArIndex(systolic: number, diastolic: number, endDiastolic: number): number {
  return 100 * divide(diastolic - endDiastolic, systolic);
}
/** HD-03. Before means before any balloon. */
export function computeArIndexRatio(after: number, before: number): number {
  return divide(after, before);
}
/** HD-04. */
export function computeDiastolicDelta(diastolic: number, endDiastolic: number): number {
  return diastolic - endDiastolic;
}
/** HD-05: per 80 beats a minute. */
export function computeRateAdjustedDelta(diastolic: number, endDiastolic: number, ratePerMin: number): number {
  return 80 * divide(diastolic - endDiastolic, ratePerMin);
}
/** HD-06, second step: the index over the systolic pressure. */
export function computeAdjustedPressureTime(diastolicPressureTime: number, systolic: number): number {
  return 100 * divide(diastolicPressureTime, systolic);
}
/** HD-11. Output in L/min, ejection in s per beat; cm2. */
export function computeGorlinArea(outputLPerMin: number, ratePerMin: number, ejectionS: number, meanGradient: number): number {
  return divide(1000 * outputLPerMin, ratePerMin * ejectionS * 44.3 * Math.sqrt(Math.max(0, meanGradient)));
}
/** HD-12, and HD-13 [M]: over 90 a minute it is divided by 1.35. */
export function computeHakkiArea(outputLPerMin: number, gradient: number, ratePerMin: number | null): number {
  const area = divide(outputLPerMin, Math.sqrt(Math.max(0, gradient)));
  return ratePerMin !== null && ratePerMin > 90 ? area / 1.35 : area;
}
/** HD-14. Oxygen mL/min, haemoglobin g/dL, saturations 0 to 1, mL of oxygen a gram binds; L/min. */
export function computeFickOutput(oxygenMlPerMin: number, haemoglobin: number, arterialRatio: number, venousRatio: number, mlPerGram: number): number {
  return divide(oxygenMlPerMin, mlPerGram * haemoglobin * 10 * (arterialRatio - venousRatio));
}
/** HD-15: only where no waveform is there. */
export function computeMeanByThirds(systolic: number, diastolic: number): number {
  return diastolic + (systolic - diastolic) / 3;
}
/** HD-16. */
export const KPA_PER_MMHG = 0.133322;
/** HD-17: of a column of this height; density in g/cm3 (water 1, blood 1.055). */
export function computeColumnPressure(heightCm: number, density: number): number {
  return (heightCm * density * 98.0665) / 133.322;
}
/** HD-18, HD-19: from the period of the ringing and two peaks next to one another, one up and one down (pi form). */
export function computeLineResponse(periodS: number, laterPeak: number, earlierPeak: number): { readonly naturalHz: number; readonly dampingRatio: number } {
  const l = -Math.log(divide(Math.abs(laterPeak), Math.abs(earlierPeak)));
  return { naturalHz: divide(1, periodS), dampingRatio: l / Math.hypot(Math.PI, l) };
}
/** HD-23. Stroke volume per body surface, mL/m2. */
export function computeValvuloArterialLoad(systolic: number, meanGradient: number, strokeMlPerM2: number): number {
  return divide(systolic + meanGradient, strokeMlPerM2);
}
/** HD-24, dyn s/cm5. */
export function computeBodyResistance(mean: number, rightAtrial: number, outputLPerMin: number): number {
  return 80 * divide(mean - rightAtrial, outputLPerMin);
}
