import { fail, type Result } from '../result.ts';
import type { DepthAnswer, DepthFailureCode, DepthFrame, DepthPlan } from './depth-types.ts';

/** Beams closer than this, as lines, are not fused (job.md, D35). */
export const LEAST_SEPARATION_DEG = 30;

/**
 * Implant depth at the N cusp from marked fluoroscopy frames. One frame gives what its picture shows, uncorrected, with an
 * interval that holds the view's error; frames at least 30 deg apart are joined and corrected.
 */
export function measureDepth(frames: readonly DepthFrame[], plan: DepthPlan): Result<DepthAnswer, DepthFailureCode> {
  void plan;
  return fail('frames-missing', `There are ${frames.length} frames.`, 'Mark one frame at least.');
}
