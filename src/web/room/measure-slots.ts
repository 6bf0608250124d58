import type { DepthAnswer, DepthFailureCode, DepthFrame, DepthPlan, FrameCalibration } from '../../core/projection/depth-types.ts';
import { measureDepth } from '../../core/projection/measure-depth.ts';
import type { Failure } from '../../core/result.ts';
import { readShot, type Slot } from './slots.ts';
import { hasNeeded, listClicks, type PointName, type Shot } from './shot.ts';

/** What a frame still needs before it gives a depth. */
export type Missing = 'marks' | 'view' | 'calibration';
export function listMissing(shot: Shot): readonly Missing[] {
  return [...(hasNeeded(shot) ? [] : ['marks' as const]), ...(shot.geometry.view ? [] : ['view' as const]), ...(readCalibration(shot) ? [] : ['calibration' as const])];
}

/** A known size that is marked wins: it holds at the depth of the root and needs no distances. */
export function readCalibration(shot: Shot): FrameCalibration | null {
  const { knownMm, sourceToImageMm, sourceToPatientMm, pixelMm, pixelAt } = shot.geometry;
  const ends = [listClicks(shot, 'knownA'), listClicks(shot, 'knownB')] as const;
  if (knownMm !== null && ends[0].length > 0 && ends[1].length > 0) return { by: 'known-size', sizeMm: knownMm, ends, sourceToPatientMm };
  if (sourceToImageMm === null || sourceToPatientMm === null || pixelMm === null) return null;
  return { by: 'geometry', sourceToImageMm, sourceToPatientMm, pixelMm, pixelAt };
}

/** A marked frame as the core takes it; null while something is missing. */
function makeDepthFrame(shot: Shot): DepthFrame | null {
  const calibration = readCalibration(shot);
  const { view } = shot.geometry;
  if (!hasNeeded(shot) || !view || !calibration) return null;
  const of = (point: PointName) => listClicks(shot, point);
  const axis = [of('axisA'), of('axisB')] as const;
  return {
    view, calibration, sizePx: shot.size, clickSdPx: null,
    marks: {
      cuspN: of('cuspN'), frameInflow: [of('inflowA'), of('inflowB')], frameAxis: axis[0].length > 0 && axis[1].length > 0 ? axis : null,
      ...(of('cuspR').length > 0 ? { cuspR: of('cuspR') } : {}), ...(of('cuspL').length > 0 ? { cuspL: of('cuspL') } : {}),
    },
  };
}

export interface SlotsAnswer {
  /** The newest that can be said; null: nothing can. */
  readonly answer: DepthAnswer | null;
  /** Why there is none, or why the frames were not joined and `answer` is that of the frame shown alone. */
  readonly failure: Failure<DepthFailureCode> | null;
}

/**
 * Depth from all frames that are marked; where they cannot be joined, that of the frame shown alone, uncorrected, with the
 * reason beside it.
 */
export function measureSlots(slots: readonly Slot[], shown: number, plan: DepthPlan): SlotsAnswer {
  const frames = slots.map((slot) => makeDepthFrame(readShot(slot)));
  const marked = frames.flatMap((f) => (f ? [f] : []));
  if (marked.length === 0) return { answer: null, failure: null };
  const joined = measureDepth(marked, plan);
  if (joined.ok) return { answer: joined.value, failure: null };
  const alone = frames[shown] ?? marked[0]!;
  if (marked.length === 1) return { answer: null, failure: joined.failure };
  const single = measureDepth([alone], plan);
  return single.ok ? { answer: single.value, failure: joined.failure } : { answer: null, failure: single.failure };
}
