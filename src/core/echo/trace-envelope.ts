import { succeed, fail, type Result } from '../result.ts';
import { formatText } from '../text/catalogue.ts';
import { ECHO_TRACE_EN } from '../text/echo-trace-en.ts';
import { makeFact, type Fact, type FactStamp, type Reason } from '../units/fact.ts';
import { makeReason } from '../verdict/make-reason.ts';
import { BASELINE_PX, findRegion, USUAL_CLICK, type ClickError, type TraceFailureCode, type TracePoint, type TraceRegion } from './trace-region.ts';

export interface EnvelopeTrace {
  readonly peakVelocity: Fact;
  readonly peakGradient: Fact;
  readonly meanGradient: Fact;
  readonly vti: Fact;
  readonly durationMs: Fact;
}
export const LEAST_POINTS = 4;
/** Fewer than these leave the round top of an envelope to straight lines. */
const FEW_POINTS = 8;
/** An end of a whole envelope lies near the baseline: within this share of the peak [A]. */
const OPEN_SHARE = 0.3;

/** Of the change when every other mark is left out: a third for a round envelope, all of it for one that begins with a jump [D]; between [A]. */
const CURVE_SHARE = 0.5;

interface Numbers {
  readonly peak: number;
  readonly vti: number;
  readonly mean: number;
  readonly duration: number;
}

/**
 * The outer edge of a Doppler envelope, marked from its begin to its end, between the marks straight.
 *
 * Equation  VTI = int |v| dt; mean gradient = int 4 v^2 dt / duration (EC-03), both exact on straight pieces; peak = 4 Vmax^2 (EC-01)
 * Units     points in pixels; m/s, mm[Hg], cm, ms out
 * Refuses   trace-too-short, trace-not-in-time, trace-crosses-baseline, trace-outside-region, region-kind, region-units,
 *           region-baseline-missing and the faults of a region
 * Accuracy  bands from click, edge and baseline error, and from the straight pieces (every other mark left out); coverage
 *           over seeds in docs/methods/echo.md
 */
export function traceEnvelope(points: readonly TracePoint[], regions: readonly TraceRegion[], stamp: FactStamp, error: ClickError = USUAL_CLICK): Result<EnvelopeTrace, TraceFailureCode> {
  const found = findSpectrum(regions, points);
  if (!found.ok) return found;
  const { region, baselineRow } = found.value;
  if (points.length < LEAST_POINTS) return fail('trace-too-short', `${points.length} marks are no envelope.`, 'Mark the outer edge from begin to end, ten marks or more.', { points: points.length });
  const inTime = points[0]![0] <= points.at(-1)![0] ? points : [...points].reverse();
  if (inTime.some((p, i) => i > 0 && p[0] <= inTime[i - 1]![0])) return fail('trace-not-in-time', 'The marks do not run on in time.', 'Mark from left to right, each mark once.', { points: points.length });
  const side = Math.sign(inTime.reduce((sum, p) => sum + (p[1] - baselineRow), 0));
  const peakPx = Math.max(...inTime.map((p) => side * (p[1] - baselineRow)));
  // A click at the baseline itself may fall a little to its other side.
  if (side === 0 || inTime.some((p) => side * (p[1] - baselineRow) < -2 * error.clickPx)) return fail('trace-crosses-baseline', 'The marks lie on both sides of the baseline.', 'Trace one flow direction only.');
  const scale = { seconds: Math.abs(region.deltaX), metres: Math.abs(region.deltaY) / 100 };
  const measure = (clicks: readonly TracePoint[], liftPx: number): Numbers => integrate(clicks.map(([column, row]) => [column * scale.seconds, Math.max(0, side * (row - baselineRow) + liftPx) * scale.metres]));
  const best = measure(inTime, 0);
  const squares = { peak: 0, vti: 0, mean: 0, duration: 0 };
  const add = (moved: Numbers): void => {
    for (const key of ['peak', 'vti', 'mean', 'duration'] as const) squares[key] += (moved[key] - best[key]) ** 2;
  };
  for (const i of inTime.keys()) {
    for (const axis of [0, 1] as const) {
      const move = axis === 0 ? error.clickPx : side * error.clickPx;
      add(measure(inTime.map((p, k) => (k !== i ? p : axis === 0 ? [p[0] + move, p[1]] : [p[0], p[1] + move])), 0));
    }
  }
  add(measure(inTime, Math.hypot(error.edgePx, BASELINE_PX)));
  // Straight pieces always lie inside a round envelope: that error adds, it does not scatter.
  const coarse = measure(inTime.filter((_, i) => i % 2 === 0 || i === inTime.length - 1), 0);
  const curve = (key: 'vti' | 'mean'): number => CURVE_SHARE * Math.abs(best[key] - coarse[key]);
  const half = { peak: Math.sqrt(squares.peak), vti: Math.sqrt(squares.vti) + curve('vti'), mean: Math.sqrt(squares.mean) + curve('mean'), duration: Math.sqrt(squares.duration) };
  const reasons = findDoubts(inTime, region, side, baselineRow, peakPx);
  const make = (value: number, width: number, unit: Fact['unit'], method: string): Fact => makeFact(value, Math.max(0, value - width), value + width, unit, method, ['trace'], stamp, reasons);
  const peakGradient = (v: number): number => 4 * v ** 2;
  return succeed({
    peakVelocity: make(best.peak, half.peak, 'm/s', 'highest mark of the traced envelope'),
    peakGradient: makeFact(peakGradient(best.peak), peakGradient(Math.max(0, best.peak - half.peak)), peakGradient(best.peak + half.peak), 'mm[Hg]', 'EC-01 of the traced peak', ['trace'], stamp, reasons),
    meanGradient: make(best.mean, half.mean, 'mm[Hg]', 'EC-03 over the traced envelope'),
    vti: make(100 * best.vti, 100 * half.vti, 'cm', 'area under the traced envelope'),
    durationMs: make(1000 * best.duration, 1000 * half.duration, 'ms', 'begin to end of the traced envelope'),
  });
}

/** Time in s, velocity in m/s, straight between; VTI in m. */
function integrate(clicks: readonly (readonly [s: number, mPerS: number])[]): Numbers {
  let [vti, squares] = [0, 0];
  for (let i = 1; i < clicks.length; i++) {
    const [[t0, v0], [t1, v1]] = [clicks[i - 1]!, clicks[i]!];
    vti += ((v0 + v1) / 2) * (t1 - t0);
    squares += ((v0 ** 2 + v0 * v1 + v1 ** 2) / 3) * (t1 - t0);
  }
  const duration = clicks.at(-1)![0] - clicks[0]![0];
  return { peak: clicks.reduce((most, [, v]) => Math.max(most, v), 0), vti, mean: duration > 0 ? (4 * squares) / duration : NaN, duration };
}

function findDoubts(points: readonly TracePoint[], region: TraceRegion, side: number, baselineRow: number, peakPx: number): readonly Reason[] {
  const height = (p: TracePoint): number => side * (p[1] - baselineRow);
  const reasons: Reason[] = [];
  if (points.length < FEW_POINTS) reasons.push(makeReason('trace-few-marks', formatText(ECHO_TRACE_EN, 'trace-few-marks', { count: points.length }), ECHO_TRACE_EN['trace-few-marks-next']));
  if (height(points[0]!) > OPEN_SHARE * peakPx || height(points.at(-1)!) > OPEN_SHARE * peakPx) reasons.push(makeReason('trace-open-ended', ECHO_TRACE_EN['trace-open-ended'], ECHO_TRACE_EN['trace-open-ended-next']));
  if (region.angleDeg !== null && region.angleDeg !== 0) reasons.push(makeReason('angle-corrected', formatText(ECHO_TRACE_EN, 'angle-corrected', { deg: Math.round(region.angleDeg) }), ECHO_TRACE_EN['angle-corrected-next']));
  return reasons;
}

/** The spectral region under the marks, in s and cm/s, with its baseline. */
export function findSpectrum(regions: readonly TraceRegion[], points: readonly TracePoint[]): Result<{ readonly region: TraceRegion; readonly baselineRow: number }, TraceFailureCode> {
  const found = findRegion(regions, points, 'spectral');
  if (!found.ok) return found;
  const region = found.value;
  if (region.unitX !== 's' || region.unitY !== 'cm/s') return fail('region-units', `The spectrum is in ${region.unitX} and ${region.unitY}, not in s and cm/s.`, 'Enter the numbers by hand, from the machine.', { unitX: region.unitX, unitY: region.unitY });
  if (region.baselineRow === null) return fail('region-baseline-missing', 'The file does not say where velocity 0 lies in the spectrum.', 'Enter the numbers by hand, from the machine.');
  return succeed({ region, baselineRow: region.baselineRow });
}
