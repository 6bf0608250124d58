import type { FactStamp, Reason } from '../units/fact.ts';
import type { WallTable } from './find-junction.ts';
import type { RootFrame } from './root-frame.ts';
import type { ByCusp, Landmarks, RootSurvey } from './root-types.ts';
import type { ContourFailureCode } from './use-contour.ts';

/** One message for the reader of a plan: a section that could not be answered, or a doubt. */
export interface PlanMessage {
  readonly code: string;
  readonly section: 'scan' | 'root' | 'calcium' | 'size' | 'landing' | 'views' | 'route' | 'release';
  readonly text: string;
  readonly next: string;
}
export interface SurveyContext {
  readonly stamp: FactStamp;
  /** Doubts of the scan, carried into every number. */
  readonly doubts: readonly Reason[];
  readonly marks?: Landmarks | undefined;
  readonly report?: ((doneRatio: number) => void) | undefined;
}
/** What the wall was made of: enough to cut the root anew about moved marks without the picture (recut-root.ts). */
export interface SurveyTrace {
  /** The wall as the picture shows it, bridged over calcium; not yet straightened at hinges nor opened behind leaflets. */
  readonly seenWall: WallTable;
  /** 1 where `seenWall` was bridged; same index as its radii. */
  readonly isBridged: Uint8Array;
  readonly blurMm: number;
  readonly voxelMm: number;
  readonly nadirSdMm: ByCusp<number>;
  /** Whether the nadirs are a person's. */
  readonly isMarked: boolean;
  /** Doubts that every number carries: those of the scan. */
  readonly doubts: readonly Reason[];
  /** Doubts of the valve's form, carried by what hangs on single cusps. */
  readonly valve: readonly Reason[];
}
export interface SurveyAnswer {
  readonly root: RootSurvey;
  readonly blood: { readonly levelHu: number; readonly perMmHu: number; readonly noiseHu: number };
  readonly frame: RootFrame;
  readonly wall: WallTable;
  readonly trace: SurveyTrace;
  readonly messages: readonly PlanMessage[];
}
export type SurveyFailureCode =
  | ContourFailureCode
  | 'aorta-not-found'
  | 'root-not-found'
  | 'root-not-opacified'
  | 'root-outside-scan'
  | 'root-model-does-not-fit'
  | 'valve-not-three-leaflet'
  | 'nadirs-collinear'
  | 'nadirs-implausible';
