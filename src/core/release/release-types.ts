import type { Fact, Reason } from '../units/fact.ts';

/**
 * Words of the release model (docs/methods/release.md). Units: mm, N, N/mm2, N mm, rad.
 * Axis up = toward the aorta. Wall coordinate s: 0 on the basal plane, + up. Depth of the inflow edge = -position.
 */
export interface FrameModel {
  readonly heightMm: number;
  /** Rings at rising distance from the inflow edge; every distance is a multiple of the wall grid's step. */
  readonly ringMm: Float64Array;
  /** Trapezoid weight of each ring, mm. */
  readonly weightMm: Float64Array;
  readonly freeRadiusMm: Float64Array;
  /** Pressure per mm of radial compression, N/mm3. */
  readonly stiffnessNPerMm3: Float64Array;
  readonly plateauNPerMm2: number;
  readonly capsuleRadiusMm: number;
  /** Length over which the frame flares out of the capsule. */
  readonly taperMm: number;
  readonly waistHeightMm: number;
  /** Share of unsheathing up to which the frame can be taken back; null when the table does not say. */
  readonly recaptureRatio: number | null;
  /** Where the radial force comes from; without a bench curve no newtons are answered. */
  readonly forceSource: 'bench' | 'generic';
}

/** Radius and stiffness of the wall the frame touches, with their slopes along s, at one place. */
export interface WallPoint {
  radiusMm: number;
  radiusSlope: number;
  stiffnessNPerMm3: number;
  stiffnessSlope: number;
}
/** The wall as a function: writes its answer into `out`. Single-valued and continuously differentiable along s. */
export type ContactSurface = (sMm: number, azimuthRad: number, out: WallPoint) => void;

/** The wall on a grid: index row * sectors + sector; row r lies at s = lowMm + r * stepMm. */
export interface WallGrid {
  readonly lowMm: number;
  readonly stepMm: number;
  readonly rows: number;
  readonly sectors: number;
  readonly radiusMm: Float64Array;
  readonly radiusSlope: Float64Array;
  readonly stiffnessNPerMm3: Float64Array;
  readonly stiffnessSlope: Float64Array;
}

/** One part of the wall that an uncertain input scales: values and slopes on the grid of WallBasis. */
export interface WallPart {
  readonly value: Float64Array;
  readonly slope: Float64Array;
}
/**
 * The measured root with its uncertain parts held apart, so that one sample's wall is a weighted sum:
 * R = radius + sum shift_i * shifts_i;  k = sum factor_j * stiffness_j.
 */
export interface WallBasis {
  readonly lowMm: number;
  readonly stepMm: number;
  readonly rows: number;
  readonly sectors: number;
  readonly radius: WallPart;
  /** mm per mm: annulus, outflow tract at -5 and -10 mm; mm per unit of narrowing: leaflets. */
  readonly shifts: Readonly<Record<ShiftName, WallPart>>;
  readonly stiffness: Readonly<Record<ZoneName, WallPart>>;
  /** Nominal narrowing at the leaflet tips, R = Ra (1 - c). */
  readonly narrowing: number;
}
export type ShiftName = 'annulus' | 'outflow5' | 'outflow10' | 'leaflets';
export const SHIFTS: readonly ShiftName[] = ['annulus', 'outflow5', 'outflow10', 'leaflets'];
export type ZoneName = 'outflow' | 'annulus' | 'leaflet' | 'aorta' | 'calcium';
export const ZONES: readonly ZoneName[] = ['outflow', 'annulus', 'leaflet', 'aorta', 'calcium'];

export type World = 'gripping' | 'middle' | 'slippery';
export const WORLDS: readonly World[] = ['gripping', 'middle', 'slippery'];
export type Tension = 'neutral' | 'pulling' | 'pushing' | 'unknown';

/** Standard deviations of the measured geometry, mm (narrowing: 1). */
export interface GeometrySpread {
  readonly annulusMm: number;
  readonly outflow5Mm: number;
  readonly outflow10Mm: number;
  /** Mean narrowing at the leaflet tips and its spread. */
  readonly narrowingMid: number;
  readonly narrowing: number;
  readonly startMm: number;
}

/** What the person chooses or knows. */
export interface ReleaseChoice {
  readonly paceBpm: number;
  readonly isPredilated: boolean;
  readonly tension: Tension;
  /** Largest lateral wire bias considered, mm. */
  readonly wireBiasMm: number;
  readonly wireBiasAzimuthRad: number;
  /** Added to the annulus radius in every sample: the what-if "annulus +- 1 mm". */
  readonly annulusShiftMm: number;
}

/** One draw of every uncertain input (mechanics 4). World-dependent numbers are kept as uniforms. */
export interface ReleaseSample {
  readonly frameFactor: number;
  readonly loadingRatio: number;
  readonly frictionShare: number;
  readonly interlockShare: number;
  readonly zoneFactor: Readonly<Record<ZoneName, number>>;
  readonly shift: Readonly<Record<ShiftName, number>>;
  readonly startShiftMm: number;
  readonly catheterNPerMm: number;
  readonly dragN: number;
  readonly storedN: number;
  readonly biasMm: number;
  readonly systolicN: number;
  readonly diastolicN: number;
  readonly obstructedN: number;
  readonly systolicGripRatio: number;
}

/** Everything one release needs beside its tables. */
export interface ReleaseInputs {
  readonly startMm: number;
  readonly friction: number;
  readonly interlockN: number;
  readonly loadingRatio: number;
  readonly systolicGripRatio: number;
  readonly catheterNPerMm: number;
  readonly dragN: number;
  readonly storedN: number;
  readonly systolicN: number;
  /** Negative: down. */
  readonly diastolicN: number;
  readonly obstructedN: number;
  readonly paceBpm: number;
}

/**
 * Drive and grip over unsheathing and position. Column c of 0..columns-2 is unsheathing ratioLow + c * ratioStep;
 * the last column is the free frame without wire bias. Index column * positions + position.
 */
export interface ReleaseTables {
  readonly lowMm: number;
  readonly stepMm: number;
  readonly positions: number;
  readonly ratios: Float64Array;
  /** Sum of the patch drives that push up, N (>= 0). */
  readonly upN: Float64Array;
  /** Sum of the patch drives that push down, N (>= 0). */
  readonly downN: Float64Array;
  readonly gripN: Float64Array;
}

export type ReleaseExit = 'none' | 'up' | 'down';
/** Where one release ends. */
export interface ReleaseEnd {
  readonly depthMm: number;
  readonly exit: ReleaseExit;
  /** Unsheathed share at the first movement of more than 0.05 mm; null when it never moved that far. */
  readonly firstMoveRatio: number | null;
  readonly holdUpN: number;
  readonly holdDownN: number;
  readonly marginN: number;
}

export interface Band {
  readonly low: number;
  readonly mid: number;
  readonly high: number;
}
export interface OpenBand {
  readonly low: number | null;
  readonly mid: number | null;
  readonly high: number | null;
}
export type ReleaseVerdict = 'stays' | 'stays or up' | 'stays or down' | 'up' | 'down' | 'cannot say';

/** One world at one start: contract.md, `release.sweep[].worlds`. Movement + = up, mm. */
export interface WorldForecast {
  readonly answer: ReleaseVerdict;
  /** 5, 50 and 95 %; null where the frame leaves the landing zone (`leaves`). */
  readonly movementMm: OpenBand;
  readonly finalDepthMm: Fact;
  readonly holdingMarginN: Fact;
  /** Ends that are not a depth but "leaves the landing zone". */
  readonly leaves: { readonly low: ReleaseExit; readonly mid: ReleaseExit; readonly high: ReleaseExit };
  /** The undamped bound of the same quantiles when it differs by more than 1 mm at any of them. */
  readonly undampedMovementMm: OpenBand | null;
  readonly reasons: readonly Reason[];
}
export interface StartForecast {
  readonly startMm: number;
  readonly worlds: Readonly<Record<World, WorldForecast>>;
}
export interface Driver {
  readonly input: string;
  readonly effectMm: number;
  readonly shareRatio: number;
}
/** `release` of plan.json. */
export interface ReleaseForecast {
  readonly seed: number;
  readonly releases: number;
  readonly startMm: number;
  readonly choice: ReleaseChoice;
  readonly sweep: readonly StartForecast[];
  /** For the chosen start. */
  readonly answer: ReleaseVerdict;
  readonly drivers: readonly Driver[];
  readonly refusals: readonly Reason[];
  readonly repellingDepthMm: Readonly<Record<World, number | null>>;
  readonly divingDepthMm: Readonly<Record<World, number | null>>;
  /** False: the starts that move lie apart, so the whole curve must be shown, never the single number. */
  readonly isReachContiguous: boolean;
  readonly tippingDepthMm: Fact | null;
  readonly frictionNeeded: Fact;
  readonly driveN: Fact;
  readonly expectedFrame: ExpectedFrameFacts | null;
  readonly recapture: { readonly unsheathedRatio: number; readonly uncoveredMm: number } | null;
  readonly forceSource: FrameModel['forceSource'];
  readonly model: string;
  /** Single changes against the chosen start, with the same draws; absent where they were not asked for. */
  readonly whatIfs?: readonly WhatIfAnswer[];
}
export type WhatIfCode =
  | 'start-shallower' | 'start-deeper' | 'pace-80' | 'pace-180' | 'predilated' | 'not-predilated' | 'tension-pulling' | 'tension-pushing' | 'wire-centred'
  | 'annulus-wider' | 'annulus-narrower' | 'size-smaller' | 'size-larger';
export interface WhatIfWorld {
  readonly answer: ReleaseVerdict;
  readonly movementMm: OpenBand;
  /** Movement with the change minus without, sample by sample, 5, 50 and 95 %; ends outside the zone count as its edge. */
  readonly changeMm: Band;
  readonly marginChangeN: number;
  /** False: the change is smaller than the Monte-Carlo noise; "no visible change". */
  readonly isVisible: boolean;
}
/** One what-if of the page: the change and what it does against the base with the same draws. */
export interface WhatIfAnswer {
  readonly code: WhatIfCode;
  readonly worlds: Readonly<Record<World, WhatIfWorld>>;
}
/** A gap between frame and wall: a place, not a grade. */
export interface ContactGap {
  readonly cusp: 'R' | 'L' | 'N';
  readonly fromDeg: number;
  readonly toDeg: number;
  readonly heightMm: number;
  readonly gapMm: number;
}
export interface FrameRing {
  readonly heightMm: number;
  readonly meanDiameterMm: number;
  readonly minDiameterMm: number;
  readonly maxDiameterMm: number;
  /** Smallest over largest diameter. */
  readonly minOverMaxRatio: number;
}
export interface ExpectedFrame {
  readonly depthMm: number;
  /** Outline of the released frame in the basal plane: radius by sector, the first at the R nadir, counter-clockwise. */
  readonly outlineMm: readonly number[];
  readonly inflow: FrameRing;
  readonly waist: FrameRing;
  readonly gaps: readonly ContactGap[];
}
/** One ring of the expected frame with its 5-95 % band over the releases. */
export interface FrameRingFacts {
  readonly meanDiameterMm: Fact;
  readonly minDiameterMm: Fact;
  readonly maxDiameterMm: Fact;
  readonly minOverMaxRatio: Fact;
}
/** The nominal frame as a picture and a place, its numbers as facts. */
export interface ExpectedFrameFacts extends ExpectedFrame {
  /** Absent when too few releases end inside the landing zone. */
  readonly facts?: { readonly inflow: FrameRingFacts; readonly waist: FrameRingFacts; readonly largestGapMm: Fact };
}
