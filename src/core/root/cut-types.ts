import type { Cusp, Xyz } from './root-types.ts';

/** Where a picture lies in the patient: (x, y) mm from its top left corner is originLps + x acrossLps + y downLps. */
export interface CutPlane {
  readonly originLps: Xyz;
  /** Unit, to the right of the picture. */
  readonly acrossLps: Xyz;
  /** Unit, down the picture. */
  readonly downLps: Xyz;
  readonly widthMm: number;
  readonly heightMm: number;
}
/** greyLevels[row * widthPx + column], 0 black at lowHu to 255 white at highHu; the pixel's centre is its place. */
export interface CutImage {
  readonly greyLevels: Uint8Array;
  readonly widthPx: number;
  readonly heightPx: number;
  readonly lowHu: number;
  readonly highHu: number;
}
/** mm from the top left corner, x right, y down. */
export type CutPoint = readonly [xMm: number, yMm: number];
export type CutMark =
  | { readonly kind: 'ring'; readonly points: readonly CutPoint[] }
  /** Wall at each measured height, both sides of the axis, from below to above. */
  | { readonly kind: 'wall'; readonly points: readonly CutPoint[] }
  | { readonly kind: 'plane'; readonly level: 'basal' | 'junction'; readonly from: CutPoint; readonly to: CutPoint }
  | { readonly kind: 'axis'; readonly from: CutPoint; readonly to: CutPoint }
  | { readonly kind: 'nadir'; readonly cusp: Cusp; readonly at: CutPoint; readonly offMm: number }
  /** `offMm` is how far the point lies out of the picture; it is drawn at its foot. */
  | { readonly kind: 'ostium'; readonly side: 'left' | 'right'; readonly at: CutPoint; readonly offMm: number };

export type CutRole = 'basal' | 'outflow' | 'sinus' | 'nadir-R' | 'nadir-L' | 'nadir-N';
export interface RootCut {
  readonly role: CutRole;
  /** Height of a cut across the root; null for a cut along it. */
  readonly heightMm: number | null;
  readonly plane: CutPlane;
  readonly image: CutImage;
  readonly marks: readonly CutMark[];
}
/** The pictures of the CT on which a person checks the marks. */
export interface PlanCuts {
  readonly cuts: readonly RootCut[];
}
export const NO_CUTS: PlanCuts = { cuts: [] };
