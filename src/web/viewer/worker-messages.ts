import type { CtVolume } from '../../core/volume/volume-types.ts';
import type { DrawnView, ViewOrder } from '../../tasks/draw-view.ts';

/** To the drawing worker. A block is handed over once, by transfer, and is then named by its key. */
export type ToWorker =
  | { readonly kind: 'block'; readonly key: string; readonly volume: CtVolume }
  | { readonly kind: 'drop'; readonly key: string }
  | { readonly kind: 'draw'; readonly view: string; readonly ticket: number; readonly key: string; readonly order: ViewOrder };
/** From it. `drawn` is null when the view could not be drawn (no such block, or a plane that is none). */
export interface FromWorker {
  readonly kind: 'drawn';
  readonly view: string;
  readonly ticket: number;
  readonly drawn: DrawnView | null;
  readonly tookMs: number;
}
