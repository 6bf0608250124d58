import { useEffect, useRef } from 'preact/hooks';
import type { CutPlane } from '../../core/root/cut-types.ts';
import type { GreyWindow } from '../../core/volume/paint-grey.ts';
import type { DrawnView, ViewSlab } from '../../tasks/draw-view.ts';
import type { ViewDrawer } from './view-drawer.ts';

export interface ShownCt {
  readonly drawer: ViewDrawer;
  /** Of the block that is shown. */
  readonly key: string;
  readonly window: GreyWindow;
  readonly slab: ViewSlab;
}
/** As many pixels as the screen has, up to what the promise of speed is made for. */
const MOST_PX = 512;

/** The grey picture of one view. Until the first draft comes it is black. */
export function ViewCanvas({ view, ct, plane, sidePx }: { readonly view: string; readonly ct: ShownCt; readonly plane: CutPlane; readonly sidePx: number }) {
  const place = useRef<HTMLCanvasElement>(null);
  const { drawer } = ct;
  useEffect(() => {
    drawer.openView(view, (drawn, isDraft) => showPicture(place.current, drawn, isDraft));
    return () => drawer.closeView(view);
  }, [drawer, view]);
  const { key, window, slab } = ct;
  useEffect(() => {
    const picturePx = Math.min(MOST_PX, Math.round(sidePx * (globalThis.devicePixelRatio || 1)));
    if (picturePx > 0) drawer.draw(view, { key, plane, sidePx: picturePx, window, slab });
  }, [drawer, view, key, plane, sidePx, window, slab]);
  return <canvas ref={place} class="ct" width="1" height="1" aria-hidden="true" />;
}

function showPicture(canvas: HTMLCanvasElement | null, drawn: DrawnView, isDraft: boolean): void {
  if (!canvas) return;
  if (canvas.width !== drawn.sidePx) {
    canvas.width = drawn.sidePx;
    canvas.height = drawn.sidePx;
  }
  canvas.getContext('2d')?.putImageData(new ImageData(drawn.rgba, drawn.sidePx, drawn.sidePx), 0, 0);
  // How many pictures came, and of which kind: what a test or the bench counts.
  canvas.dataset['drawn'] = String(Number(canvas.dataset['drawn'] ?? 0) + 1);
  canvas.dataset['kind'] = isDraft ? 'draft' : 'full';
}
