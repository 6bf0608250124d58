import type { CameraView } from './camera-view.ts';

/** Where a depth stands against the stop window (job.md, D37): only `inside` is a yes. */
export type DepthPlace = 'inside' | 'straddles' | 'deeper' | 'higher' | 'cannot say';

/**
 * One implant depth as read in the room. mm, + toward the ventricle, from the basal plane at the N cusp to the inflow edge
 * of the frame. A depth without its view is not a depth (job.md, E24).
 */
export interface DepthReading {
  readonly depthMm: number;
  /** 95 % interval. */
  readonly lowMm: number;
  readonly highMm: number;
  /** `uncorrected`: one frame, the interval holds the view's error; `corrected`: two frames at least 30 deg apart. */
  readonly state: 'uncorrected' | 'corrected';
  /** By marks on frames, or entered as the room read it (then `lowMm`-`highMm` are what the person entered). */
  readonly by: 'marks' | 'entered';
  readonly views: readonly CameraView[];
  readonly cusp: 'N';
  readonly edge: 'inflow';
  /** Least number of clicks on any of its points. */
  readonly clicks: number;
  /** Ratio of the frame that was out of the catheter when it was read; null: not known. */
  readonly unsheathedRatio: number | null;
}
