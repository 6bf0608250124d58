import { succeed, fail, type Result } from '../result.ts';
import { makeFact, type Fact, type FactStamp } from '../units/fact.ts';
import { around, exact, propagate } from './propagate-error.ts';
import { findSpectrum } from './trace-envelope.ts';
import { BASELINE_PX, findRegion, USUAL_CLICK, type ClickError, type TraceFailureCode, type TracePoint, type TraceRegion } from './trace-region.ts';

/** Share of a velocity at which the pressure difference is half: 1 / sqrt 2. */
const HALF_PRESSURE = Math.SQRT1_2;

/**
 * Pressure half-time from two marks on the falling edge of a leak: the first at its begin, where the peak velocity is read.
 *
 * Equation  t = V0 (1 - 1 / sqrt 2) / slope, slope = (V0 - V1) / (t1 - t0)
 * Units     pixels in; ms, and m/s of the begin, out
 * Refuses   slope-not-falling: with the error of the marks it may as well rise; as traceEnvelope else
 */
export function traceHalfTime(points: readonly [TracePoint, TracePoint], regions: readonly TraceRegion[], stamp: FactStamp, error: ClickError = USUAL_CLICK): Result<{ readonly halfTimeMs: Fact; readonly beginVelocity: Fact }, TraceFailureCode> {
  const found = findSpectrum(regions, points);
  if (!found.ok) return found;
  const { region, baselineRow } = found.value;
  const [first, last] = points[0][0] <= points[1][0] ? points : [points[1], points[0]];
  const side = Math.sign(first[1] - baselineRow);
  if (side * (last[1] - baselineRow) < 0) return fail('trace-crosses-baseline', 'The marks lie on both sides of the baseline.', 'Mark the falling edge of the leak on one side.');
  const [seconds, metres] = [Math.abs(region.deltaX), Math.abs(region.deltaY) / 100];
  const click = (px: number) => around(px, error.clickPx);
  // Edge and baseline move both marks alike.
  const lift = around(0, Math.hypot(error.edgePx, BASELINE_PX));
  const inputs = [click(first[0]), click(side * (first[1] - baselineRow)), click(last[0]), click(side * (last[1] - baselineRow)), lift];
  const fallPx = inputs[1]!.value - inputs[3]!.value;
  if (!(fallPx > Math.SQRT2 * error.clickPx && last[0] - first[0] > Math.SQRT2 * error.clickPx)) {
    return fail('slope-not-falling', 'Between the marks the velocity does not fall by more than the marks may be off.', 'Mark two places on the edge further apart.', { fallPx: Math.round(fallPx) });
  }
  const halfTime = propagate(inputs, (c0, v0, c1, v1, up) => (1000 * seconds * (c1! - c0!) * (v0! + up!) * (1 - HALF_PRESSURE)) / (v0! - v1!));
  const begin = propagate([inputs[1]!, lift], (v0, up) => (v0! + up!) * metres);
  return succeed({
    halfTimeMs: makeFact(halfTime.value, Math.max(0, halfTime.low), halfTime.high, 'ms', 'two marks on the falling edge', ['trace'], stamp),
    beginVelocity: makeFact(begin.value, Math.max(0, begin.low), begin.high, 'm/s', 'first mark on the falling edge', ['trace'], stamp),
  });
}

/**
 * Distance of two marks in a two-dimensional picture, cm.
 * Refuses   region-units: the picture is not in cm along both axes; as findRegion
 */
export function traceDistance(points: readonly [TracePoint, TracePoint], regions: readonly TraceRegion[], stamp: FactStamp, error: ClickError = USUAL_CLICK): Result<Fact, TraceFailureCode> {
  const found = findPlane(regions, points);
  if (!found.ok) return found;
  const { deltaX, deltaY } = found.value;
  const [[c0, r0], [c1, r1]] = points;
  const clicks = [c0, r0, c1, r1].map((px) => around(px, error.clickPx));
  const length = Math.hypot(c1 - c0, r1 - r0);
  // Each end follows its own edge, inward or outward along the line.
  const stretch = around(0, error.edgePx * Math.SQRT2);
  const distance = propagate([...clicks, length > 0 ? stretch : exact(0)], (a, b, c, d, out) => Math.hypot((c! - a!) * deltaX, (d! - b!) * deltaY) * (length > 0 ? 1 + out! / length : 1));
  return succeed(makeFact(distance.value, Math.max(0, distance.low), distance.high, 'cm', 'two marks in the two-dimensional picture', ['trace'], stamp));
}

/** A two-dimensional region in cm along both axes. */
export function findPlane(regions: readonly TraceRegion[], points: readonly TracePoint[]): Result<TraceRegion, TraceFailureCode> {
  const found = findRegion(regions, points, '2d');
  if (!found.ok) return found;
  const { unitX, unitY } = found.value;
  return unitX === 'cm' && unitY === 'cm' ? found : fail('region-units', `The picture is in ${unitX} and ${unitY}, not in cm.`, 'Enter the number by hand, from the machine.', { unitX, unitY });
}
