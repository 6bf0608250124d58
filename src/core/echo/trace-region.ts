import { fail, succeed, type Result } from '../result.ts';

/** What a calibrated region of an ultrasound picture shows, and of which flow. */
export type RegionSpace = 'none' | '2d' | 'm-mode' | 'spectral' | 'waveform' | 'graphics';
export type RegionData = 'none' | 'tissue' | 'colour' | 'pulsed' | 'continuous' | 'doppler-trace' | 'volume-trace' | 'ecg' | 'pulse' | 'sound' | 'bar' | 'other';
export type RegionUnit = 'none' | '%' | 'dB' | 'cm' | 's' | 'Hz' | 'dB/s' | 'cm/s' | 'cm2' | 'cm2/s' | 'cm3' | 'cm3/s' | 'deg' | 'other';

/**
 * A calibrated region (PS3.3 C.8.5.5). Columns and rows are those of the picture, pixel centres at whole numbers.
 * Equation   physical = referenceValue + (pixel - reference) x delta, along each axis; rows grow downward
 */
export interface TraceRegion {
  readonly space: RegionSpace;
  readonly data: RegionData;
  /** Inclusive. */
  readonly box: { readonly left: number; readonly top: number; readonly right: number; readonly bottom: number };
  readonly unitX: RegionUnit;
  readonly unitY: RegionUnit;
  /** Of one pixel, signed; never 0 where the unit is not `none`. */
  readonly deltaX: number;
  readonly deltaY: number;
  /** Row of velocity 0 in a spectral region; null: the file does not say. */
  readonly baselineRow: number | null;
  /** Angle that the machine corrected velocities for; null: not stated. */
  readonly angleDeg: number | null;
  /** Why nothing may be measured in it; null: it may. */
  readonly fault: RegionFaultCode | null;
}
export type RegionFaultCode = 'region-outside-picture' | 'region-uncalibrated' | 'region-frequency-scale';
export type TracePoint = readonly [column: number, row: number];

export type TraceFailureCode =
  | RegionFaultCode
  | 'trace-outside-region'
  | 'region-kind'
  | 'region-units'
  | 'region-baseline-missing'
  | 'trace-too-short'
  | 'trace-not-in-time'
  | 'trace-crosses-baseline'
  | 'slope-not-falling'
  | 'ring-too-few-marks'
  | 'ring-not-round';

/** How far a click may be off, in pixels: 95 % half-width of each click, and of the edge that a reader follows all along [A]. */
export interface ClickError {
  readonly clickPx: number;
  readonly edgePx: number;
}
export const USUAL_CLICK: ClickError = { clickPx: 2, edgePx: 1.5 };
/** A reference pixel is a whole number: the baseline lies within half a pixel of it. */
export const BASELINE_PX = 0.5;

const isIn = ({ box }: TraceRegion, [column, row]: TracePoint): boolean => column >= box.left - 0.5 && column <= box.right + 0.5 && row >= box.top - 0.5 && row <= box.bottom + 0.5;

/**
 * The region that holds every point and is of this kind; the smallest where several do.
 * Fails   trace-outside-region: no region holds them all; region-kind: the ones that do show something else; or the region's own fault
 */
export function findRegion(regions: readonly TraceRegion[], points: readonly TracePoint[], kind: 'spectral' | '2d'): Result<TraceRegion, TraceFailureCode> {
  const holding = regions.filter((r) => points.every((p) => p.every(Number.isFinite) && isIn(r, p)));
  if (points.length === 0 || holding.length === 0) {
    return fail('trace-outside-region', 'The marks do not all lie in one calibrated region of the picture.', 'Keep the whole trace inside the region it begins in.', { regions: regions.length, points: points.length });
  }
  const size = ({ box }: TraceRegion): number => (box.right - box.left + 1) * (box.bottom - box.top + 1);
  const fit = holding.filter((r) => r.space === kind).sort((a, b) => size(a) - size(b))[0];
  if (!fit) {
    return fail('region-kind', `The region under the marks shows ${holding[0]!.space}, not ${kind}.`, kind === 'spectral' ? 'Trace in the Doppler spectrum.' : 'Measure in the two-dimensional picture.', { shows: holding[0]!.space });
  }
  if (fit.fault !== null) return failFault(fit.fault);
  return succeed(fit);
}

/** Nothing that a region is silent about is assumed. */
export function failFault(code: RegionFaultCode): Result<never, RegionFaultCode> {
  if (code === 'region-outside-picture') return fail(code, 'The region reaches beyond the picture: the picture was scaled after the region was written.', 'Export the original picture; on this one nothing may be measured.');
  if (code === 'region-frequency-scale') return fail(code, 'The spectrum is in frequencies, not velocities.', 'Export it with a velocity scale, or enter the numbers by hand.');
  return fail(code, 'The region has no scale.', 'Enter the numbers by hand, from the machine.');
}
