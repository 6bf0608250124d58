import { normalAt, uniformAt } from '../math/random.ts';
import type { GeometrySpread, ReleaseChoice, ReleaseInputs, ReleaseSample, World } from './release-types.ts';

/** Friction and interlock of each world (mechanics 4). The middle one is calibrated on published populations. */
export const WORLD_RANGES: Readonly<Record<World, { readonly friction: readonly [number, number]; readonly interlockN: readonly [number, number] }>> = {
  gripping: { friction: [0.2, 0.4], interlockN: [3, 6] },
  middle: { friction: [0.12, 0.28], interlockN: [2, 5] },
  slippery: { friction: [0.05, 0.15], interlockN: [0, 3] },
};

/** Spreads where the survey gives none of its own (mechanics 4). */
export const DEFAULT_SPREAD: GeometrySpread = {
  annulusMm: 0.3, outflow5Mm: 0.4, outflow10Mm: 0.5, narrowingMid: 0.07, narrowing: 0.02, startMm: 1,
};
export const DEFAULT_CHOICE: ReleaseChoice = {
  paceBpm: 120, isPredilated: false, tension: 'unknown', wireBiasMm: 1.5, wireBiasAzimuthRad: Math.PI, annulusShiftMm: 0,
};
/** What balloon dilatation before the release leaves of the leaflets' narrowing and of their stiffness; assumption. */
const PREDILATED = 0.6;
const PREDILATED_STIFFNESS = 0.6;
/** Correlation of the outflow tract's radius error with the annulus's. */
const SHARED = 0.6;
export const NORMAL_CLIP = 2.5;

/** One number per variable: adding one must not move the others. */
export const VARIABLES = {
  annulus: 0, outflow5: 1, outflow10: 2, narrowing: 3, start: 4, frame: 5, stiffnessOutflow: 6, stiffnessAnnulus: 7,
  stiffnessLeaflet: 8, stiffnessAorta: 9, stiffnessCalcium: 10, loading: 11, friction: 12, interlock: 13, catheter: 14,
  drag: 15, stored: 16, bias: 17, systolic: 18, diastolic: 19, obstructed: 20, grip: 21,
} as const;
export type VariableName = keyof typeof VARIABLES;

/** Groups whose share of the band is ranked for the person. */
export const INPUT_GROUPS = {
  'annulus and outflow radius': ['annulus', 'outflow5', 'outflow10'],
  'leaflet narrowing': ['narrowing'],
  'start depth': ['start'],
  'frame force': ['frame', 'loading'],
  'wall stiffness': ['stiffnessOutflow', 'stiffnessAnnulus', 'stiffnessLeaflet', 'stiffnessAorta'],
  'calcium stiffness': ['stiffnessCalcium'],
  'friction and interlock': ['friction', 'interlock', 'grip'],
  'catheter tension and wire': ['catheter', 'drag', 'stored', 'bias'],
  'pressure loads': ['systolic', 'diastolic', 'obstructed'],
} as const satisfies Readonly<Record<string, readonly VariableName[]>>;
export type InputGroup = keyof typeof INPUT_GROUPS;

/** Stored tension, N (+ = pulling up): mean and spread. Unknown covers pulling and pushing alike. */
const TENSION: Readonly<Record<ReleaseChoice['tension'], { readonly meanN: number; readonly sdN: number }>> = {
  neutral: { meanN: 1, sdN: 1.5 },
  pulling: { meanN: 3, sdN: 1.5 },
  pushing: { meanN: -3, sdN: 1.5 },
  unknown: { meanN: 0, sdN: 0 },
};
export const UNKNOWN_TENSION_N = 3;

export interface SampleScale {
  /** Times every spread; 0 gives the nominal inputs. */
  readonly spread: number;
  /** Variables held at their centre. */
  readonly frozen?: ReadonlySet<VariableName> | undefined;
}

/**
 * Every uncertain input of sample `index` (mechanics 4), from counter-based numbers: the same for every depth, world
 * and what-if, so that differences between choices are no noise.
 *
 * Units     mm, N, ratios
 * Source    docs/methods/release.md, table of inputs
 */
export function sampleInputs(
  seed: number,
  index: number,
  spread: GeometrySpread,
  choice: ReleaseChoice,
  scale: SampleScale = { spread: 1 },
): ReleaseSample {
  const isFree = (v: VariableName): boolean => scale.spread > 0 && !scale.frozen?.has(v);
  const n = (v: VariableName): number => (isFree(v) ? scale.spread * normalAt(seed, index, VARIABLES[v], NORMAL_CLIP) : 0);
  // Uniform in (0, 1), drawn together toward its centre as the spread shrinks.
  const u = (v: VariableName): number => (isFree(v) ? 0.5 + scale.spread * (uniformAt(seed, index, VARIABLES[v]) - 0.5) : 0.5);
  const within = (low: number, high: number, v: VariableName): number => low + (high - low) * u(v);
  const annulus = n('annulus');
  const rest = Math.sqrt(1 - SHARED * SHARED);
  const left = choice.isPredilated ? PREDILATED : 1;
  const tension = TENSION[choice.tension];
  const storedN =
    choice.tension === 'unknown'
      ? within(-UNKNOWN_TENSION_N, UNKNOWN_TENSION_N, 'stored')
      : tension.meanN + tension.sdN * n('stored');
  return {
    frameFactor: Math.exp(0.15 * n('frame')),
    loadingRatio: within(1, 1.5, 'loading'),
    frictionShare: u('friction'),
    interlockShare: u('interlock'),
    zoneFactor: {
      outflow: Math.exp(0.3 * n('stiffnessOutflow')),
      annulus: Math.exp(0.3 * n('stiffnessAnnulus')),
      leaflet: Math.exp(0.4 * n('stiffnessLeaflet')) * (choice.isPredilated ? PREDILATED_STIFFNESS : 1),
      aorta: Math.exp(0.3 * n('stiffnessAorta')),
      calcium: Math.exp(0.5 * n('stiffnessCalcium')),
    },
    shift: {
      annulus: spread.annulusMm * annulus + choice.annulusShiftMm,
      outflow5: spread.outflow5Mm * (SHARED * annulus + rest * n('outflow5')) + choice.annulusShiftMm,
      outflow10: spread.outflow10Mm * (SHARED * annulus + rest * n('outflow10')) + choice.annulusShiftMm,
      // c sampled about its nominal, then opened by the balloon: the basis holds the nominal one.
      leaflets: left * Math.max(0, spread.narrowingMid + spread.narrowing * n('narrowing')) - spread.narrowingMid,
    },
    startShiftMm: spread.startMm * n('start'),
    catheterNPerMm: within(0.3, 2, 'catheter'),
    dragN: within(0, 1.5, 'drag'),
    storedN,
    biasMm: within(0, choice.wireBiasMm, 'bias'),
    systolicN: 0.6 * (1 + 0.2 * n('systolic')),
    diastolicN: -6.01 * (1 + 0.2 * n('diastolic')),
    obstructedN: 3 * (1 + 0.4 * n('obstructed')),
    systolicGripRatio: within(0.9, 1, 'grip'),
  };
}

/** What one release needs of a sample, in one world, from one start. */
export function makeReleaseInputs(sample: ReleaseSample, world: World, startMm: number, paceBpm: number): ReleaseInputs {
  const { friction, interlockN } = WORLD_RANGES[world];
  return {
    startMm: startMm + sample.startShiftMm,
    friction: friction[0] + (friction[1] - friction[0]) * sample.frictionShare,
    interlockN: interlockN[0] + (interlockN[1] - interlockN[0]) * sample.interlockShare,
    loadingRatio: sample.loadingRatio,
    systolicGripRatio: sample.systolicGripRatio,
    catheterNPerMm: sample.catheterNPerMm,
    dragN: sample.dragN,
    storedN: sample.storedN,
    systolicN: sample.systolicN,
    diastolicN: sample.diastolicN,
    obstructedN: sample.obstructedN,
    paceBpm,
  };
}
