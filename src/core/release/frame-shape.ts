import { fail, succeed, type Result } from '../result.ts';
import { smoothStep } from './contact-law.ts';
import type { FrameModel } from './release-types.ts';

/** Frame of one size in the device table (contract.md, devices.json). */
export interface FrameRow {
  readonly heightMm: number;
  readonly inflowMm: number;
  readonly waistMm: number;
  readonly waistHeightMm: number;
  readonly outflowMm: number;
  /** Line force at the inflow, N per mm of height, over the size's own range of annuli; null without a bench curve. */
  readonly radialForceNPerMm: readonly [number, number] | null;
  readonly cells: number;
  readonly recaptureRatio?: number | null;
}
export type FrameFailureCode = 'frame-shape-implausible';

/** Generic numbers of mechanics 4; each is an assumption with a range, not a measured device. */
export const GENERIC_FRAME = {
  heightMm: 45,
  inflowRadiusMm: 13,
  waistRadiusMm: 11.2,
  waistHeightMm: 19,
  outflowRadiusMm: 16,
  capsuleRadiusMm: 3,
  taperMm: 12,
  inflowStiffness: 0.1,
  outflowStiffness: 0.045,
  plateauNPerMm2: 0.2,
} as const;

const RING_STEP_MM = 1;
/** The wall grid's step: ring places are rounded to it, so that every ring meets a tabulated wall. */
const PLACE_STEP_MM = 0.5;

interface HourglassMm {
  readonly heightMm: number;
  readonly inflowRadiusMm: number;
  readonly waistRadiusMm: number;
  readonly waistHeightMm: number;
  readonly outflowRadiusMm: number;
}

/**
 * Free radius along the frame: inflow, waist and outflow joined by quintic steps; flat at all three.
 * Source    assumption; with it the regression numbers of the reference come out (docs/methods/release.md)
 */
export function computeFreeRadius(f: HourglassMm, ringMm: number): number {
  if (ringMm <= f.waistHeightMm) {
    return f.inflowRadiusMm + (f.waistRadiusMm - f.inflowRadiusMm) * smoothStep(ringMm / f.waistHeightMm);
  }
  const t = (ringMm - f.waistHeightMm) / (f.heightMm - f.waistHeightMm);
  return f.waistRadiusMm + (f.outflowRadiusMm - f.waistRadiusMm) * smoothStep(t);
}

/** Radius while unsheathing (2.1); `freeRadiusMm` once the whole frame is out. */
export function computeRingRadius(frame: FrameModel, ring: number, unsheathedRatio: number): number {
  const free = frame.freeRadiusMm[ring]!;
  if (unsheathedRatio >= 1) return free;
  const t = (unsheathedRatio * frame.heightMm - frame.ringMm[ring]!) / frame.taperMm;
  return frame.capsuleRadiusMm + (free - frame.capsuleRadiusMm) * smoothStep(t);
}

export interface FrameParts {
  readonly heightMm: number;
  readonly ringStepMm: number;
  readonly waistHeightMm: number;
  readonly radiusMm: (ringMm: number) => number;
  readonly stiffnessNPerMm3: (ringMm: number) => number;
  readonly forceSource: FrameModel['forceSource'];
  readonly recaptureRatio: number | null;
}

/** Frame of any shape on rings `ringStepMm` apart; the height is rounded to 0.5 mm. */
export function makeFrame(p: FrameParts): FrameModel {
  const heightMm = Math.round(p.heightMm / PLACE_STEP_MM) * PLACE_STEP_MM;
  const places: number[] = [];
  for (let i = 0; i * p.ringStepMm < heightMm - 1e-9; i++) places.push(i * p.ringStepMm);
  places.push(heightMm);
  const ringMm = Float64Array.from(places);
  return {
    heightMm,
    ringMm,
    weightMm: ringMm.map((mm, i) => 0.5 * ((ringMm[i + 1] ?? mm) - (ringMm[i - 1] ?? mm))),
    freeRadiusMm: ringMm.map(p.radiusMm),
    stiffnessNPerMm3: ringMm.map(p.stiffnessNPerMm3),
    plateauNPerMm2: GENERIC_FRAME.plateauNPerMm2,
    capsuleRadiusMm: GENERIC_FRAME.capsuleRadiusMm,
    taperMm: GENERIC_FRAME.taperMm,
    waistHeightMm: p.waistHeightMm,
    recaptureRatio: p.recaptureRatio,
    forceSource: p.forceSource,
  };
}

/** Stiff from the inflow to the waist, then falling to the outflow; see "Chosen to reproduce" in docs/methods/release.md. */
function makeHourglass(
  shape: HourglassMm,
  inflowStiffness: number,
  rest: Pick<FrameParts, 'forceSource' | 'recaptureRatio' | 'ringStepMm'>,
): FrameModel {
  const outflowStiffness = inflowStiffness * (GENERIC_FRAME.outflowStiffness / GENERIC_FRAME.inflowStiffness);
  const rounded = { ...shape, heightMm: Math.round(shape.heightMm / PLACE_STEP_MM) * PLACE_STEP_MM };
  return makeFrame({
    ...rest,
    heightMm: shape.heightMm,
    waistHeightMm: shape.waistHeightMm,
    radiusMm: (mm) => computeFreeRadius(rounded, mm),
    stiffnessNPerMm3: (mm) =>
      inflowStiffness +
      (outflowStiffness - inflowStiffness) * smoothStep((mm - shape.waistHeightMm) / (rounded.heightMm - shape.waistHeightMm)),
  });
}

/** The generic 26 mm self-expanding frame; a finer ring step for the guard of pitfall 1. */
export function makeGenericFrame(ringStepMm = RING_STEP_MM): FrameModel {
  return makeHourglass(GENERIC_FRAME, GENERIC_FRAME.inflowStiffness, { forceSource: 'generic', recaptureRatio: null, ringStepMm });
}

/** Oversizing at which a table's line force is taken to hold (mechanics 4: 13 %), and the wall it was felt against. */
const BENCH_OVERSIZE_RATIO = 0.13;

/**
 * Frame of a table row. Its stiffness at the inflow is the one that gives the middle of the row's line force on a
 * rigid ring 13 % smaller than the inflow; the fall toward the outflow is the generic one.
 *
 * Units     mm, N per mm of height
 * Equation  F = 2 pi r_f p(k_f d), d = r_f (1 - 1/1.13), solved for k_f; k at the outflow = 0.45 k_f
 * Fails     frame-shape-implausible
 */
export function makeFrameFromRow(row: FrameRow, ringStepMm = RING_STEP_MM): Result<FrameModel, FrameFailureCode> {
  const radius = row.inflowMm / 2;
  const sound =
    row.heightMm >= 10 && row.heightMm <= 70 && row.inflowMm >= 12 && row.inflowMm <= 45 && row.waistMm >= 10 &&
    row.waistMm <= row.inflowMm && row.outflowMm >= row.waistMm && row.outflowMm <= 60 && row.waistHeightMm > 2 &&
    row.waistHeightMm < row.heightMm - 2;
  if (!sound) {
    return fail(
      'frame-shape-implausible',
      `A frame of height ${row.heightMm} mm, inflow ${row.inflowMm} mm, waist ${row.waistMm} mm at ${row.waistHeightMm} mm and outflow ${row.outflowMm} mm is not an hourglass the release model knows.`,
      'Check the frame of this size in the device table: millimetres, diameters, waist between inflow and outflow.',
      { heightMm: row.heightMm, inflowMm: row.inflowMm, waistMm: row.waistMm, outflowMm: row.outflowMm },
    );
  }
  const inflowStiffness = findStiffness(row.radialForceNPerMm, radius);
  const shape = {
    heightMm: row.heightMm,
    inflowRadiusMm: radius,
    waistRadiusMm: row.waistMm / 2,
    waistHeightMm: row.waistHeightMm,
    outflowRadiusMm: row.outflowMm / 2,
  };
  return succeed(
    makeHourglass(shape, inflowStiffness ?? GENERIC_FRAME.inflowStiffness, {
      forceSource: inflowStiffness === null ? 'generic' : 'bench',
      recaptureRatio: row.recaptureRatio ?? null,
      ringStepMm,
    }),
  );
}

/** Pressure at the bench's overlap gives the stiffness: k = p / (d (1 - p / p_inf)); null above the plateau or absent. */
function findStiffness(lineForce: readonly [number, number] | null, radiusMm: number): number | null {
  if (lineForce === null) return null;
  const pressure = (lineForce[0] + lineForce[1]) / 2 / (2 * Math.PI * radiusMm);
  const overlapMm = radiusMm * (1 - 1 / (1 + BENCH_OVERSIZE_RATIO));
  if (!(pressure > 0 && pressure < GENERIC_FRAME.plateauNPerMm2)) return null;
  return pressure / (overlapMm * (1 - pressure / GENERIC_FRAME.plateauNPerMm2));
}
