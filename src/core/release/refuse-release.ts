import type { Reason } from '../units/fact.ts';
import type { FrameModel, GeometrySpread } from './release-types.ts';

/** What is known about the case beside the ensemble; whatever is not known is null and said so. */
export interface ReleaseEvidence {
  readonly measuredMm: readonly [low: number, high: number];
  readonly largestGapDeg: number;
  readonly sliceMm: number;
  /** Difference of the annulus diameter between phases, mm; null when only one phase was read. */
  readonly phaseDifferenceMm: number | null;
  readonly hasMetal: boolean;
  readonly anatomy: 'three cusps' | 'bicuspid' | 'valve-in-valve' | 'pure regurgitation' | 'mitral prosthesis';
  /** (Frame inflow - annulus diameter) / annulus diameter. */
  readonly oversizeRatio: number;
  readonly minOverMaxRatio: number;
  readonly bulgeMm: number | null;
  /** Share of the grip on walls steeper than 0.5. */
  readonly steepRatio: number;
  readonly blocks: readonly { readonly widthDeg: number; readonly protrusionMm: number; readonly isOnCurtain: boolean }[];
  readonly angulationDeg: number | null;
  readonly coaxialityDeg: number | null;
}

/** The fourteen rules of the model, by number; 4 and 7 keep newtons and holding back, the others the direction. */
export const REFUSAL_CODES = [
  'release-root-not-covered',
  'release-scan-too-coarse',
  'release-anatomy-outside-model',
  'release-frame-without-bench',
  'release-drive-sign-open',
  'release-worlds-disagree',
  'release-holding-friction-dominated',
  'release-start-in-tipping-band',
  'release-band-too-wide',
  'release-verdict-unstable',
  'release-outside-model-range',
  'release-calcium-block',
  'release-tension-unknown',
  'release-axis-not-straight',
] as const;
export type RefusalCode = (typeof REFUSAL_CODES)[number];

export const LIMITS = {
  belowMm: -10,
  aboveMm: 12,
  gapDeg: 30,
  sliceMm: 1,
  phaseMm: 1,
  radiusSdMm: 0.6,
  startMm: [-2, 12],
  oversizeRatio: [0.05, 0.25],
  minOverMaxRatio: 0.7,
  bulgeMm: 5,
  steepSlope: 0.5,
  steepRatio: 0.1,
  blockDeg: 60,
  blockMm: 4,
  frictionLow: 0.05,
  frictionHigh: 0.4,
  bandMm: 6,
  driveN: 0.15,
  angulationDeg: 60,
  coaxialityDeg: 15,
} as const;

const show = (v: number, digits = 1): string => (v < 0 ? '−' : '') + Math.abs(v).toFixed(digits);
export function makeRefusal(code: RefusalCode, text: string, next: string): Reason {
  return { code, text, next };
}

/**
 * Rules that need no ensemble (mechanics 9: 1, 2, 3, 11, 12, 14). Any of them keeps every answer back. Written so that
 * NaN refuses.
 */
export function refuseByEvidence(e: ReleaseEvidence, spread: GeometrySpread, startMm: number): readonly Reason[] {
  const out: Reason[] = [];
  const say = (code: RefusalCode, text: string, next: string): void => void out.push(makeRefusal(code, text, next));
  const [low, high] = e.measuredMm;
  if (!(low <= LIMITS.belowMm && high >= LIMITS.aboveMm)) {
    say('release-root-not-covered', `The wall was measured from ${show(low)} to ${show(high)} mm; the model needs ${show(LIMITS.belowMm, 0)} to ${LIMITS.aboveMm} mm.`,
      'Measure the outflow tract to 10 mm below the annulus and the root to 12 mm above it, on a scan that covers both.');
  }
  if (!(e.largestGapDeg <= LIMITS.gapDeg)) {
    say('release-root-not-covered', `The wall has a gap of ${show(e.largestGapDeg, 0)} degrees; at most ${LIMITS.gapDeg} can be bridged.`,
      'Mark the missing part of the wall by hand, then forecast again.');
  }
  if (!(e.sliceMm <= LIMITS.sliceMm)) {
    say('release-scan-too-coarse', `The slices are ${show(e.sliceMm, 2)} mm apart; the model needs 1 mm or less.`, 'Use a reconstruction with slices of at most 1 mm.');
  }
  if (e.hasMetal) say('release-scan-too-coarse', 'Metal blurs the wall.', 'Use a reconstruction with metal artefact reduction, or a scan without the metal in the field.');
  if (e.phaseDifferenceMm !== null && !(e.phaseDifferenceMm <= LIMITS.phaseMm)) {
    say('release-scan-too-coarse', `The annulus differs by ${show(e.phaseDifferenceMm)} mm between phases.`, 'Measure in the systolic phase of largest annulus.');
  }
  const worstSd = Math.max(spread.annulusMm, spread.outflow5Mm, spread.outflow10Mm);
  if (!(worstSd <= LIMITS.radiusSdMm)) {
    say('release-scan-too-coarse', `The radius is known to ± ${show(worstSd, 2)} mm (one standard deviation); the model needs ${LIMITS.radiusSdMm} mm.`,
      'Measure annulus and outflow tract again on a sharper scan or with marks by hand.');
  }
  if (e.anatomy !== 'three cusps') {
    say('release-anatomy-outside-model', `The model has no contact law for this anatomy: ${e.anatomy}.`, 'No measurement lifts this; plan the release without a forecast.');
  }
  refuseRange(e, startMm, say);
  for (const b of e.blocks) {
    if ((b.widthDeg > LIMITS.blockDeg && b.protrusionMm > LIMITS.blockMm) || (b.isOnCurtain && b.protrusionMm > LIMITS.blockMm)) {
      say('release-calcium-block', `A calcium block of ${show(b.widthDeg, 0)} degrees protrudes ${show(b.protrusionMm)} mm${b.isOnCurtain ? ' on the aorto-mitral curtain' : ''}: it may turn or break.`,
        'No measurement lifts this while the block is there; look at it on the CT before choosing the start.');
    }
  }
  if (e.angulationDeg !== null && !(e.angulationDeg < LIMITS.angulationDeg)) {
    say('release-axis-not-straight', `The aortic angle is ${show(e.angulationDeg, 0)} degrees; from ${LIMITS.angulationDeg} on the frame does not travel along the axis.`,
      'No measurement lifts this; judge the path on the CT and in the angiogram.');
  }
  if (e.coaxialityDeg !== null && !(e.coaxialityDeg <= LIMITS.coaxialityDeg)) {
    say('release-axis-not-straight', `The catheter stands ${show(e.coaxialityDeg, 0)} degrees off the axis; the model allows ${LIMITS.coaxialityDeg}.`,
      'Measure the angle again once the catheter lies along the axis.');
  }
  return out;
}

function refuseRange(e: ReleaseEvidence, startMm: number, say: (code: RefusalCode, text: string, next: string) => void): void {
  const code = 'release-outside-model-range';
  const [least, most] = LIMITS.startMm;
  if (!(startMm >= least && startMm <= most)) say(code, `A start ${show(startMm)} mm deep lies outside ${show(least, 0)} to ${most} mm.`, 'Ask for a start inside this range.');
  const [small, large] = LIMITS.oversizeRatio;
  if (!(e.oversizeRatio >= small && e.oversizeRatio <= large)) {
    say(code, `The frame is ${show(100 * e.oversizeRatio, 0)} % larger than the annulus; the model holds from ${100 * small} to ${100 * large} %.`, 'Ask for the neighbouring size, or measure the annulus again.');
  }
  if (!(e.minOverMaxRatio >= LIMITS.minOverMaxRatio)) say(code, `The annulus is too oval: smallest over largest diameter ${show(e.minOverMaxRatio, 2)}, at least 0.70 is needed.`, 'Check the contour of the basal ring; no other measurement lifts this.');
  if (e.bulgeMm !== null && !(e.bulgeMm <= LIMITS.bulgeMm)) say(code, `The septum bulges ${show(e.bulgeMm)} mm; the model holds up to ${LIMITS.bulgeMm} mm.`, 'Measure the septal bulge again at end-systole; if it stays, plan without a forecast.');
  if (!(e.steepRatio <= LIMITS.steepRatio)) say(code, `${show(100 * e.steepRatio, 0)} % of the grip is on walls steeper than ${LIMITS.steepSlope}; at most 10 % is allowed.`, 'Check the wall on the unrolled map for a false edge; if it is real, plan without a forecast.');
}

/** Rule 4: without a bench curve no newtons are answered. */
export function refuseNewtons(frame: FrameModel): Reason | null {
  return frame.forceSource === 'bench'
    ? null
    : makeRefusal('release-frame-without-bench', 'This frame has no bench curve of its radial force, so no force is given.',
        'Enter the measured radial force of this size in the device table.');
}
