import type { ByCusp, Cusp, Xyz } from '../root/root-types.ts';
import type { CtVolume } from '../volume/volume-types.ts';

/**
 * An analytic aortic root with its surroundings, and how it is scanned. Three frames are used:
 * root    origin at the centre of the basal ring, z along the normal toward the aorta (nadirs at z = 0), azimuth 0 at
 *         the R nadir, counter-clockwise seen from the aorta (L near +120 degrees, N near +240), mm
 * scene   origin the same, axes of an upright patient (+x left, +y posterior, +z head), mm
 * lps     DICOM patient space: scene, mirrored and turned as a whole, moved to `pose.positionLps`
 * Equations and sources of the ranges: docs/methods/phantom.md.
 */
export type Commissure = 'RL' | 'LN' | 'NR';
export type ByCommissure<T> = Readonly<Record<Commissure, T>>;

/** Closed contour in polar form about its own centre: an ellipse plus Fourier waves. */
export interface PolarContour {
  /** Radius of the circle of the ellipse's area. */
  readonly meanRadiusMm: number;
  /** Long over short axis of the ellipse, >= 1. */
  readonly ellipticity: number;
  /** Azimuth of the long axis. */
  readonly longAxisDeg: number;
  /** Added to the radius: sum amplitudeMm cos(order (azimuth - phaseDeg)). */
  readonly waves: readonly { readonly order: number; readonly amplitudeMm: number; readonly phaseDeg: number }[];
}

export type LeafletState = 'stenotic' | 'open' | 'closed';
/** `fused-A-B`: three sinuses, but the cusps A and B have grown together and a low raphe stands where their commissure was. */
export type ValveKind = 'three-leaflet' | 'fused-R-L' | 'fused-R-N' | 'fused-L-N' | 'two-sinus';

/** An ellipsoid of calcium, placed in root cylinder coordinates; semi-axes radial, tangential, along the leaf. */
export interface CalciumShape {
  readonly place: 'leaflet' | 'annulus' | 'outflow';
  readonly azimuthDeg: number;
  readonly heightMm: number;
  readonly radiusMm: number;
  readonly semiAxesMm: Xyz;
  /** Turn of the first and third semi-axis about the tangent; positive leans the third toward the axis. */
  readonly leanDeg: number;
  readonly attenuationHu: number;
}

export interface CoronaryShape {
  /** Where the centreline leaves the lumen. */
  readonly azimuthDeg: number;
  readonly heightMm: number;
  readonly radiusMm: number;
  /** Direction of the first centimetre: off the radial, within the plane (+ counter-clockwise) and upward. */
  readonly sidewaysDeg: number;
  readonly riseDeg: number;
}

export interface PhantomPose {
  /** LPS of the centre of the basal ring. */
  readonly positionLps: Xyz;
  /** Basal plane to the horizontal, before `turn`. */
  readonly angulationDeg: number;
  /** Which way the normal leans: 0 = to the patient's right, 90 = forward. */
  readonly leanTowardDeg: number;
  /** Turn of the R nadir from straight forward (projected into the plane), + counter-clockwise seen from the aorta. */
  readonly rightNadirTurnDeg: number;
  /** Mirror image of the whole patient (left and right exchanged). */
  readonly isMirrored: boolean;
  /** Turn of the whole patient about the ring's centre: unit axis in LPS and angle. */
  readonly turn: { readonly axisLps: Xyz; readonly angleDeg: number };
}

export interface TissueHu {
  readonly wall: number;
  readonly leaflet: number;
  readonly myocardium: number;
  readonly fat: number;
  readonly lung: number;
  readonly muscle: number;
  readonly liver: number;
  readonly cortical: number;
  readonly trabecular: number;
}

export interface PhantomShape {
  readonly valve: ValveKind;
  readonly pose: PhantomPose;
  readonly ring: PolarContour;
  readonly outflow: {
    /** Contour at 12 mm below the basal plane; between it and the ring the radius goes over linearly. */
    readonly contour: PolarContour;
    /** Shift of the contour's centre at -12 mm, along azimuth 0 and 90, growing with the square of the depth. */
    readonly shiftMm: readonly [number, number];
  };
  /** Muscle of the septum pushing inward: a Gaussian in height and azimuth. */
  readonly septalBulge: {
    readonly inwardMm: number;
    readonly heightMm: number;
    readonly azimuthDeg: number;
    readonly sigmaHeightMm: number;
    readonly sigmaAzimuthDeg: number;
  };
  readonly nadirAzimuthDeg: ByCusp<number>;
  readonly commissureAzimuthDeg: ByCommissure<number>;
  /** Height of the leaflet attachment at each commissure as a share of the junction's height there, below 1. */
  readonly commissureHeightShare: ByCommissure<number>;
  /** Depth of each sinus beyond the straight wall, at its deepest. */
  readonly sinusDepthMm: ByCusp<number>;
  readonly junction: {
    readonly contour: PolarContour;
    /** Mean height of the sinotubular junction and its waves with azimuth. */
    readonly heightMm: number;
    readonly heightWaves: PolarContour['waves'];
    /** Shift of its centre along azimuth 0 and 90. */
    readonly shiftMm: readonly [number, number];
  };
  readonly ascending: { readonly radiusMm: number; /** Way from the junction to the full width. */ readonly widenOverMm: number };
  readonly leaflets: {
    readonly state: LeafletState;
    readonly thicknessMm: number;
    /** Height of the middle of the free edge as a share of the commissures' height. */
    readonly edgeHeightShare: ByCusp<number>;
    /** Radius of the middle of the free edge. */
    readonly edgeRadiusMm: ByCusp<number>;
    /** 0 straight, + bellies toward the ventricle side of the wall, about -0.5 to 0.8. */
    readonly belly: number;
  };
  readonly calcium: readonly CalciumShape[];
  readonly coronaries: { readonly left: CoronaryShape | null; readonly right: CoronaryShape | null };
  readonly wallMm: number;
  /** Wall between the root and the left atrium, pulmonary trunk and right atrium. */
  readonly septumToAtriumMm: number;
  readonly ventricle: { readonly lengthMm: number; readonly widthMm: number; readonly wallMm: number };
  readonly tissueHu: TissueHu;
  /** A pacing lead in the right heart (metal). */
  readonly hasLead: boolean;
}

/** Things that go wrong in a scan; each is absent when not named. */
export interface PhantomArtefacts {
  /** Heart smeared over a straight movement of this length (scene axes) during the exposure. */
  readonly motionMm?: Xyz;
  /** Heart shifted by this much in every second group of slices. */
  readonly step?: { readonly slicesPerGroup: number; readonly shiftMm: Xyz };
  /** Bright and dark rays from the lead, at this amplitude 10 mm from it; needs `hasLead`. */
  readonly streakHu?: number;
}

export interface PhantomScan {
  readonly dims: readonly [nx: number, ny: number, nz: number];
  readonly spacingMm: readonly [x: number, y: number, z: number];
  readonly sliceThicknessMm: number;
  /** LPS of the middle of the grid. */
  readonly centreLps: Xyz;
  readonly gantryTiltDeg: number;
  /** Turn of the rows about the table axis (an oblique field). */
  readonly inPlaneTurnDeg: number;
  readonly sliceOrder: 'feet-to-head' | 'head-to-feet';
  /** Standard deviations of the point spread. */
  readonly blurMm: { readonly inPlane: number; readonly z: number };
  readonly noise: { readonly sdHu: number; readonly correlationMm: number };
  /** Blood of ventricle, root and aorta at the basal plane; its change along the root's axis. */
  readonly contrastHu: number;
  readonly contrastGradientHuPerCm: number;
  readonly leftAtriumHu: number;
  readonly rightHeartHu: number;
  readonly seed: number;
  readonly phasePercent: number | null;
  readonly artefacts: PhantomArtefacts;
}

/** Smallest and largest diameter are caliper widths (Feret): distance of two parallel tangents. */
export interface RingTruth {
  readonly heightMm: number;
  readonly areaMm2: number;
  readonly perimeterMm: number;
  readonly minDiameterMm: number;
  readonly maxDiameterMm: number;
  /** 120 points, counter-clockwise seen from the aorta (clockwise when mirrored), first toward azimuth 0. */
  readonly contourLps: readonly Xyz[];
}

export interface OstiumTruth {
  /** Where the artery's centreline crosses the aortic lumen wall. */
  readonly centreLps: Xyz;
  readonly centreHeightMm: number;
  /** Lowest point of the curve in which artery and aortic lumen meet, above the basal plane along the normal. */
  readonly lowerEdgeHeightMm: number;
  readonly azimuthDeg: number;
  readonly diameterMm: number;
}

export interface DepositTruth {
  readonly place: CalciumShape['place'];
  readonly centreLps: Xyz;
  readonly volumeMm3: number;
  readonly cusp: Cusp;
  readonly heightMm: number;
  readonly azimuthDeg: number;
  /** Greatest depth of its surface inside the lumen, from the wall. */
  readonly protrusionMm: number;
  readonly attenuationHu: number;
}

/** Exact answers (numerical quadrature of the drawn surfaces); definitions in docs/methods/phantom.md. */
export interface PhantomTruth {
  readonly format: 'trinadir.phantom-truth/1';
  readonly valve: ValveKind;
  readonly isMirrored: boolean;
  readonly basalPlane: { readonly pointLps: Xyz; readonly normalLps: Xyz; readonly nadirsLps: ByCusp<Xyz> };
  /** Angle of the basal plane to the LPS x-y plane. */
  readonly angulationDeg: number;
  readonly basalRing: RingTruth;
  /** Every whole mm from -12 to 6 mm above the mean height of the sinotubular junction. */
  readonly levels: readonly RingTruth[];
  /** The ring at -5 mm. */
  readonly outflowTract: RingTruth;
  readonly sinuses: {
    /** Height of the plane, parallel to the basal plane, where the area within the sinuses is greatest. */
    readonly widestHeightMm: number;
    /** In that plane: from the wall point of the cusp farthest from the ring's centroid, through it, to the far wall. */
    readonly widthMm: ByCusp<number>;
    /** Basal plane to the sinotubular junction along the normal, at the azimuth of the nadir. */
    readonly heightMm: ByCusp<number>;
    readonly depthMm: ByCusp<number>;
  };
  readonly sinotubularJunction: {
    /** Mean over azimuth of the height of the narrowing above the sinuses. */
    readonly heightMm: number;
    /** Area-equivalent diameter of the narrowing, projected along the normal. */
    readonly diameterMm: number;
    /** Area-equivalent diameter of the flat ring at the mean height. */
    readonly ringDiameterMm: number;
  };
  /** Diameter of the round tube above the widening. */
  readonly ascendingAorta: { readonly diameterMm: number };
  readonly coronaries: { readonly left: OstiumTruth | null; readonly right: OstiumTruth | null };
  /** Along the leaflet at the nadir's azimuth, from the nadir to the free edge. */
  readonly leaflets: ByCusp<{ readonly lengthMm: number }>;
  readonly septum: {
    readonly bulgeMm: number;
    readonly bulgeHeightMm: number;
    readonly azimuthDeg: number;
    /** Largest fall of the radius from the ring to -12 mm within 60 degrees of the bulge, same azimuth. */
    readonly insideRingMm: number;
  };
  readonly calcium: {
    readonly deposits: readonly DepositTruth[];
    readonly volumeMm3: number;
    /** Above the basal plane, by the sector between the commissures. */
    readonly byCuspMm3: ByCusp<number>;
    /** From -10 mm to the basal plane. */
    readonly outflowMm3: number;
    readonly outflowByCuspMm3: ByCusp<number>;
  };
}

export interface DrawnPhantom {
  readonly volume: CtVolume;
  readonly truth: PhantomTruth;
}
