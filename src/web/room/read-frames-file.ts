import type { DepthFrame } from '../../core/projection/depth-types.ts';
import { MOST_CLICKS, type Click, type PointName } from './shot.ts';
import { MOST_SLOTS, USUAL_SIZE, type Slot } from './slots.ts';

/** Marks from a file (frames.json) as views without pictures: they can be read, clicked further by typing, and corrected. */
export function makeSlots(frames: readonly DepthFrame[]): readonly Slot[] {
  return frames.slice(0, MOST_SLOTS).map(({ view, calibration, sizePx, marks }): Slot => {
    const of = (point: PointName, clicks: readonly (readonly [number, number])[] | undefined): readonly Click[] => (clicks ?? []).slice(0, MOST_CLICKS).map((at) => ({ point, at }));
    const known = calibration.by === 'known-size' ? calibration : null;
    return {
      run: null, frame: 1, marked: null, size: sizePx ?? USUAL_SIZE,
      entered: {
        view, sourceToPatientMm: calibration.sourceToPatientMm,
        ...(calibration.by === 'geometry' ? { sourceToImageMm: calibration.sourceToImageMm, pixelMm: calibration.pixelMm, pixelAt: calibration.pixelAt } : { knownMm: calibration.sizeMm }),
      },
      clicks: {
        1: [
          ...of('cuspN', marks.cuspN), ...of('inflowA', marks.frameInflow[0]), ...of('inflowB', marks.frameInflow[1]), ...of('axisA', marks.frameAxis?.[0]), ...of('axisB', marks.frameAxis?.[1]),
          ...of('cuspR', marks.cuspR), ...of('cuspL', marks.cuspL), ...of('knownA', known?.ends[0]), ...of('knownB', known?.ends[1]),
        ],
      },
    };
  });
}
