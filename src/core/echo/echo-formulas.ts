/**
 * Published formulas of echo (docs/methods/echo.md, checks EC-01 to EC-09, EC-19, EC-20). Velocities in m/s, lengths in cm, areas in
 * cm2, volumes in mL, gradients in mmHg. None holds a limit: limits are rules. An impossible division gives NaN, never infinity.
 */
const divide = (a: number, b: number): number => (b > 0 ? a / b : NaN);

/** EC-01. */
export const computeBernoulli = (velocityMPerS: number): number => 4 * velocityMPerS ** 2;
/** EC-02. */
export const computeExtendedBernoulli = (velocityMPerS: number, beforeMPerS: number): number => 4 * (velocityMPerS ** 2 - beforeMPerS ** 2);
/** EC-03: of velocities at equal times over ejection, never of the mean velocity. */
export function computeMeanGradient(velocitiesMPerS: readonly number[]): number {
  return divide(velocitiesMPerS.reduce((sum, v) => sum + computeBernoulli(v), 0), velocitiesMPerS.length);
}
/** Of a round outflow tract. */
export const computeDiscArea = (diameterCm: number): number => (Math.PI / 4) * diameterCm ** 2;
/** EC-04, EC-05. */
export const computeContinuityArea = (outflowAreaCm2: number, outflowVtiCm: number, valveVtiCm: number): number => divide(outflowAreaCm2 * outflowVtiCm, valveVtiCm);
/** EC-06; of velocities too. */
export const computeRatio = (outflow: number, valve: number): number => divide(outflow, valve);
/** EC-07. */
export const computeStrokeVolume = (areaCm2: number, vtiCm: number): number => areaCm2 * vtiCm;
export const computeIndexed = (value: number, bodySurfaceM2: number): number => divide(value, bodySurfaceM2);
/** EC-08: area of the aorta at the sinotubular junction. */
export const computeEnergyLoss = (areaCm2: number, aortaCm2: number): number => divide(areaCm2 * aortaCm2, aortaCm2 - areaCm2);
/** EC-09: the share of 4V2 that comes back behind the valve. */
export const computeRecoveredShare = (areaCm2: number, aortaCm2: number): number => {
  const share = divide(areaCm2, aortaCm2);
  return share <= 1 ? 2 * share * (1 - share) : NaN;
};
/** EC-19: the reference is a competent valve. */
export const computeRegurgitantVolume = (outflowStrokeMl: number, referenceStrokeMl: number): number => outflowStrokeMl - referenceStrokeMl;
export const computeRegurgitantFraction = (volumeMl: number, strokeMl: number): number => 100 * divide(volumeMl, strokeMl);
/** EC-20: radius in cm, both velocities in cm/s. */
export const computeIsovelocityOrifice = (radiusCm: number, aliasCmPerS: number, peakCmPerS: number): number => divide(2 * Math.PI * radiusCm ** 2 * aliasCmPerS, peakCmPerS);
export const computeOrificeVolume = (orificeCm2: number, vtiCm: number): number => orificeCm2 * vtiCm;
