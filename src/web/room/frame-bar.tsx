import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { AS_IT_CAME, type Shade } from './frame-picture.tsx';
import type { Slot } from './slots.ts';

export interface FrameBarProps {
  readonly slot: Slot;
  readonly shade: Shade;
  readonly onFrame: (frame: number) => void;
  readonly onShade: (shade: Shade) => void;
  readonly canUndo: boolean;
  readonly onUndo: () => void;
}

/** Which frame of the run, how grey, and the last click back: below the picture, for hands. */
export function FrameBar({ slot, shade, onFrame, onShade, canUndo, onUndo }: FrameBarProps) {
  const frames = slot.run?.frames ?? 1;
  const says = formatText(DEPTH_PAGE_EN, 'frame', { frame: slot.frame, frames });
  return (
    <div class="frame-bar">
      <p class="help touch-hint">{DEPTH_PAGE_EN.touchHint}</p>
      <div class="frame-choice">
        <button type="button" class="quiet" aria-label={DEPTH_PAGE_EN.frameBefore} title={DEPTH_PAGE_EN.frameBefore} disabled={slot.frame <= 1} onClick={() => onFrame(slot.frame - 1)}>‹</button>
        {frames > 1 && <input type="range" min={1} max={frames} value={slot.frame} aria-label={says} onInput={(e) => onFrame(Number(e.currentTarget.value))} />}
        <button type="button" class="quiet" aria-label={DEPTH_PAGE_EN.frameAfter} title={DEPTH_PAGE_EN.frameAfter} disabled={slot.frame >= frames} onClick={() => onFrame(slot.frame + 1)}>›</button>
        <span class="frame-says">{says}</span>
        <button type="button" class="quiet" disabled={!canUndo} onClick={onUndo}>{DEPTH_PAGE_EN.undo}</button>
      </div>
      <details>
        <summary>{DEPTH_PAGE_EN.shade}</summary>
        <label class="inline">{DEPTH_PAGE_EN.windowLow} <input type="range" min={-100} max={250} value={Math.round(shade.low)} onInput={(e) => onShade({ ...shade, low: Math.min(Number(e.currentTarget.value), shade.high - 2) })} /></label>
        <label class="inline">{DEPTH_PAGE_EN.windowHigh} <input type="range" min={5} max={355} value={Math.round(shade.high)} onInput={(e) => onShade({ ...shade, high: Math.max(Number(e.currentTarget.value), shade.low + 2) })} /></label>
        <label class="inline"><input type="checkbox" checked={shade.isInverted} onChange={(e) => onShade({ ...shade, isInverted: e.currentTarget.checked })} /> {DEPTH_PAGE_EN.invert}</label>
        <button type="button" class="quiet" onClick={() => onShade(AS_IT_CAME)}>{DEPTH_PAGE_EN.shadeBack}</button>
      </details>
    </div>
  );
}
