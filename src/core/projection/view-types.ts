import type { Xyz } from '../root/root-types.ts';
import type { CameraView } from './camera-view.ts';
import type { ViewErrorMap } from './view-error.ts';

/** Where the C-arm of this room can go with the table and the patient in it; degrees, all positive. */
export interface ReachLimits {
  readonly laoDeg: number;
  readonly raoDeg: number;
  readonly cranialDeg: number;
  readonly caudalDeg: number;
  /** Where the limits come from, for the reader. */
  readonly source: string;
}

export type ViewRole = 'start' | 'three-cusps' | 'widest-apart' | 'least-parallax' | 'left-coronary' | 'right-coronary';

export interface ChosenView extends CameraView {
  readonly role: ViewRole;
  /** 95 % radius of the angle itself, from nadirs and plane, deg. */
  readonly withinDeg: number;
  readonly reach: boolean;
  readonly why: string;
  /** Depth error per mm of frame radius: value with its 95 % interval. */
  readonly depthPerRadius: { readonly value: number; readonly low: number; readonly high: number };
  /** Nearest angle that sees the plane on edge and can be reached; absent where `reach` holds or none exists. */
  readonly instead?: CameraView & { readonly awayDeg: number };
}

/** `views` of plan.json. */
export interface PlanViews {
  /** False when the posture in the scan is not supine: the angles are then withheld (`perpendicular` and `chosen` empty). */
  readonly offered: boolean;
  readonly perpendicular: readonly CameraView[];
  readonly chosen: readonly ChosenView[];
  /** Roles that have no answer, with the reason. */
  readonly without: readonly { readonly role: ViewRole; readonly code: string; readonly text: string; readonly next: string }[];
  readonly errorMap: ViewErrorMap | null;
  readonly reachLimits: ReachLimits | null;
  /** Axis that the frame is expected to follow, from outflow tract to ascending aorta, and its angle to the normal. */
  readonly frameAxis: { readonly directionLps: Xyz; readonly offNormalDeg: number } | null;
  readonly reasons: readonly { readonly code: string; readonly text: string; readonly next: string }[];
}
