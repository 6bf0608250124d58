import type { CutPlane } from '../core/root/cut-types.ts';
import { along } from '../core/math/vec3.ts';
import { succeed } from '../core/result.ts';
import { lpsPoint, lpsVector } from '../core/units/frames.ts';
import { paintGrey, type GreyWindow } from '../core/volume/paint-grey.ts';
import { reslicePlane, type ResliceFailureCode } from '../core/volume/reslice-plane.ts';
import type { CtVolume } from '../core/volume/volume-types.ts';
import type { Task } from './task.ts';

/** Thick slab of a view: mean for soft tissue, brightest for calcium. 0 mm: the plane alone. */
export interface ViewSlab {
  readonly thicknessMm: number;
  readonly combine: 'mean' | 'max';
}
export interface ViewOrder {
  readonly plane: CutPlane;
  /** Width and height of the square picture. */
  readonly sidePx: number;
  readonly window: GreyWindow;
  readonly slab: ViewSlab;
  /** A draft is linear and may be coarser; the picture that stays is cubic. */
  readonly isDraft: boolean;
}
export interface DrawnView {
  /** RGBA, side x side pixels. */
  readonly rgba: Uint8ClampedArray<ArrayBuffer>;
  readonly sidePx: number;
}
const SLAB_STEP_MM = 0.5;
const DRAFT_STEP_MM = 1.5;

/** One view of the CT as grey pixels: what the viewer draws while a person scrolls. */
export const drawViewTask: Task<'draw-view', { readonly volume: CtVolume; readonly order: ViewOrder }, DrawnView, ResliceFailureCode> = {
  name: 'draw-view',
  run: ({ volume, order }) => {
    const { plane, sidePx, slab, isDraft } = order;
    const stepMm: readonly [number, number] = [plane.widthMm / sidePx, plane.heightMm / sidePx];
    const corner = along(along(plane.originLps, plane.acrossLps, stepMm[0] / 2), plane.downLps, stepMm[1] / 2);
    const hu = reslicePlane(
      volume,
      { originLps: lpsPoint(...corner), uLps: lpsVector(...plane.acrossLps), vLps: lpsVector(...plane.downLps), stepMm, size: [sidePx, sidePx] },
      {
        interpolation: isDraft || slab.thicknessMm > 0 ? 'linear' : 'cubic',
        ...(slab.thicknessMm > 0 ? { slab: { ...slab, stepMm: isDraft ? DRAFT_STEP_MM : SLAB_STEP_MM } } : {}),
      },
    );
    if (!hu.ok) return hu;
    const rgba = new Uint8ClampedArray(4 * sidePx * sidePx);
    paintGrey(hu.value, order.window, rgba);
    return succeed({ rgba, sidePx });
  },
};
