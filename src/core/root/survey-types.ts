import type { FactStamp, Reason } from '../units/fact.ts';
import type { WallTable } from './find-junction.ts';
import type { RootFrame } from './root-frame.ts';
import type { Landmarks, RootSurvey } from './root-types.ts';
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
export interface SurveyAnswer {
  readonly root: RootSurvey;
  readonly blood: { readonly levelHu: number; readonly perMmHu: number; readonly noiseHu: number };
  readonly frame: RootFrame;
  readonly wall: WallTable;
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
