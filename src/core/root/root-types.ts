import type { Fact, Reason } from '../units/fact.ts';
import type { Sourced } from '../units/sourced.ts';
import type { Finding } from '../volume/volume-types.ts';

/** Cusps of the aortic valve: right coronary, left coronary, non-coronary. */
export type Cusp = 'R' | 'L' | 'N';
export const CUSPS: readonly Cusp[] = ['R', 'L', 'N'];
export type ByCusp<T> = Readonly<Record<Cusp, T>>;
/** LPS mm, as written to plan.json. */
export type Xyz = readonly [number, number, number];

export interface BasalPlane {
  readonly pointLps: Xyz;
  /** Unit, from the ventricle to the aorta. */
  readonly normalLps: Xyz;
  readonly nadirsLps: ByCusp<Xyz>;
  /** 95 % half-width of the tilt of the normal. */
  readonly tiltUncertaintyDeg: number;
  /** 95 % radius of each nadir in mm. */
  readonly nadirUncertaintyMm: ByCusp<number>;
}
export interface RingFacts {
  readonly areaMm2: Fact;
  readonly perimeterMm: Fact;
  readonly minDiameterMm: Fact;
  readonly maxDiameterMm: Fact;
}
export interface BasalRing extends RingFacts {
  readonly areaDiameterMm: Fact;
  readonly perimeterDiameterMm: Fact;
  /** Largest over smallest diameter (ratio >= 1; checks CT-08 names the other two quantities of this name). */
  readonly ellipticity: Fact;
  readonly contourLps: readonly Xyz[];
}
export interface LevelRing extends RingFacts {
  readonly heightMm: number;
  readonly contourLps: readonly Xyz[];
}
export interface CoronaryOstium {
  readonly ostiumLps: Xyz;
  readonly heightMm: Fact;
}
export interface CalciumDeposit {
  readonly centreLps: Xyz;
  readonly volumeMm3: number;
  readonly cusp: Cusp;
  readonly heightMm: number;
  readonly protrusionMm: number;
}
export interface RootCalcium {
  readonly thresholdHu: number;
  readonly volumeMm3: Fact;
  readonly byCuspMm3: ByCusp<Fact>;
  readonly outflowMm3: Fact;
  readonly outflowByCuspMm3: ByCusp<Fact>;
  readonly deposits: readonly CalciumDeposit[];
  /** Volume in contrast CT; never an Agatston score. */
  readonly scoreUnit: 'mm3 above a contrast-relative threshold';
}
export type AgatstonLikelihood = 'unlikely' | 'grey' | 'likely' | 'very likely';
/** Agatston score of a second, non-contrast series at the place of the measured root. Never mixed with `calcium`. */
export interface RootCalciumScore {
  readonly score: Fact;
  /** Voxels at 130 HU and above: for comparison within the method; not the contrast volume. */
  readonly volumeMm3: Fact;
  readonly lesions: number;
  readonly severity: {
    /** How likely the valve is severely narrowed, by published thresholds for the sex; null when refused, with the reason. */
    readonly likelihood: AgatstonLikelihood | null;
    /** At both ends of the score's interval. */
    readonly couldBe: readonly [AgatstonLikelihood, AgatstonLikelihood] | null;
    readonly sex: 'F' | 'M' | null;
    /** The threshold that decided; a proposal until the hospital signs it. */
    readonly threshold: Sourced | null;
    readonly reasons: readonly Reason[];
  };
  /** Where it was scored: heights over the basal plane and the margin about the wall. */
  readonly zone: { readonly lowMm: number; readonly highMm: number; readonly marginMm: number };
  /** How far bone of the two series lies apart; null along an axis where no edge shows it. */
  readonly boneShiftMm: readonly [number | null, number | null, number | null];
  readonly series: {
    readonly seriesUid: string | null;
    readonly sha256: string;
    readonly slices: number;
    readonly sliceThicknessMm: number | null;
    readonly incrementMm: number;
    readonly kvp: number | null;
    readonly phasePercent: number | null;
    readonly bloodHu: number;
  };
  readonly scoreUnit: 'Agatston units, non-contrast';
}
/** Unrolled landing zone: rows by height, columns by azimuth; azimuth 0 at the R nadir, counter-clockwise seen from the aorta. */
export interface RootMap {
  readonly azimuthDeg: readonly number[];
  readonly heightMm: readonly number[];
  /** radiusMm[heightIndex][azimuthIndex] from the axis through the ring's centre along the basal normal; null = no wall found. */
  readonly radiusMm: readonly (readonly (number | null)[])[];
  /** Highest HU within 2 mm inside and 1 mm outside the wall; null = not sampled. */
  readonly calciumHu: readonly (readonly (number | null)[])[];
}
/** `root` of plan.json. A part that could not be measured is absent and named in `messages`, or carries refused Facts. */
export interface RootSurvey {
  readonly basalPlane: BasalPlane;
  readonly angulationDeg: Fact;
  readonly basalRing: BasalRing;
  readonly levels: readonly LevelRing[];
  readonly outflowTract: RingFacts & { readonly heightMm: number };
  readonly sinuses: { readonly widthMm: ByCusp<Fact>; readonly heightMm: ByCusp<Fact> };
  readonly sinotubularJunction: { readonly heightMm: Fact; readonly diameterMm: Fact };
  readonly ascendingAorta: { readonly diameterMm: Fact };
  readonly coronaries: { readonly left?: CoronaryOstium; readonly right?: CoronaryOstium };
  readonly leaflets: { readonly [C in Cusp]?: { readonly lengthMm: Fact } };
  readonly calcium?: RootCalcium;
  readonly calciumScore?: RootCalciumScore;
  readonly septum: { readonly bulgeMm: Fact; readonly bulgeHeightMm: Fact; readonly angleToBasalPlaneDeg: Fact };
  readonly membranousSeptum: { readonly lengthMm: Fact };
  readonly map: RootMap;
}

/** `scan` of plan.json. */
export interface ScanFacts {
  readonly studyUid: string | null;
  readonly seriesUid: string | null;
  readonly frameOfReferenceUid: string | null;
  readonly rows: number;
  readonly columns: number;
  readonly slices: number;
  readonly spacingMm: readonly [number, number, number];
  readonly phasePercent: number | null;
  readonly contrastHu: Fact;
  readonly noiseHu: Fact;
  readonly verdict: 'fit' | 'fit with doubt' | 'not fit';
  readonly findings: readonly Finding[];
}

/** landmarks.json (input): a person's marks win over the tool's. */
export interface Landmarks {
  readonly format: 'trinadir.landmarks/1';
  readonly by: string;
  readonly frameOfReferenceUid?: string | undefined;
  readonly nadirsLps?: ByCusp<Xyz> | undefined;
  readonly ostiaLps?: { readonly left?: Xyz | undefined; readonly right?: Xyz | undefined } | undefined;
  readonly contourLps?: readonly Xyz[] | undefined;
}
