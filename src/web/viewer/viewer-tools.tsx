import { formatText } from '../../core/text/catalogue.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import type { GreyWindow } from '../../core/volume/paint-grey.ts';
import type { ViewSlab } from '../../tasks/draw-view.ts';
import type { ApiAnswer } from '../api/call-api.ts';

export type GreyName = 'blood' | 'soft' | 'bright' | 'own';
export type SeriesLine = ApiAnswer<'listVolumes'>[number];
const SLABS: readonly ViewSlab[] = [
  { thicknessMm: 0, combine: 'mean' }, { thicknessMm: 2, combine: 'mean' }, { thicknessMm: 5, combine: 'mean' }, { thicknessMm: 10, combine: 'mean' },
  { thicknessMm: 5, combine: 'max' }, { thicknessMm: 10, combine: 'max' }, { thicknessMm: 20, combine: 'max' },
];
export const NO_SLAB = SLABS[0]!;

/** The grey scale by name; blood mid-grey and calcium brighter, as on the printed cuts. */
export function chooseWindow(name: GreyName, bloodHu: number | null, own: GreyWindow): GreyWindow {
  switch (name) {
    case 'blood': return { lowHu: -150, highHu: Math.max(600, 20 * Math.round((bloodHu ?? 0) / 10)) };
    case 'soft': return { lowHu: -160, highHu: 240 };
    case 'bright': return { lowHu: 0, highHu: 1600 };
    case 'own': return own;
  }
}

interface ToolsProps {
  readonly grey: GreyName;
  readonly window: GreyWindow;
  readonly setGrey: (name: GreyName, own: GreyWindow) => void;
  readonly slab: ViewSlab;
  readonly setSlab: (slab: ViewSlab) => void;
  readonly series: readonly SeriesLine[];
  readonly seriesUid: string | null;
  readonly setSeries: (seriesUid: string | null) => void;
  readonly mayEdit: boolean;
  readonly undo: (() => void) | null;
  readonly redo: (() => void) | null;
}

/** How the CT is shown, and the way back and forth. */
export function ViewerTools({ grey, window, setGrey, slab, setSlab, series, seriesUid, setSeries, mayEdit, undo, redo }: ToolsProps) {
  const measured = series.find((s) => s.isMeasured)?.seriesUid ?? null;
  const setOwn = (part: Partial<GreyWindow>): void => {
    const next = { ...window, ...part };
    if (Number.isFinite(next.lowHu) && Number.isFinite(next.highHu) && next.highHu > next.lowHu) setGrey('own', next);
  };
  return (
    <div class="tools" role="group" aria-label={VIEWER_EN.tools}>
      <label class="inline">{VIEWER_EN.grey}
        <select value={grey} onChange={(e) => setGrey(e.currentTarget.value as GreyName, window)}>
          {(['blood', 'soft', 'bright', 'own'] as const).map((name) => <option key={name} value={name}>{VIEWER_EN[`grey-${name}`]}</option>)}
        </select>
      </label>
      <label class="inline">{VIEWER_EN.greyLow}
        <input type="number" class="short" step="50" min="-1024" max="3000" value={window.lowHu} onChange={(e) => setOwn({ lowHu: e.currentTarget.valueAsNumber })} />
        <span class="unit">{VIEWER_EN.hu}</span>
      </label>
      <label class="inline">{VIEWER_EN.greyHigh}
        <input type="number" class="short" step="50" min="-1000" max="4000" value={window.highHu} onChange={(e) => setOwn({ highHu: e.currentTarget.valueAsNumber })} />
        <span class="unit">{VIEWER_EN.hu}</span>
      </label>
      <label class="inline">{VIEWER_EN.slab}
        <select value={String(SLABS.indexOf(slab))} onChange={(e) => setSlab(SLABS[Number(e.currentTarget.value)] ?? NO_SLAB)}>
          {SLABS.map((s, i) => <option key={i} value={String(i)}>{nameSlab(s)}</option>)}
        </select>
      </label>
      {series.length > 1 && (
        <label class="inline">{VIEWER_EN.phase}
          <select value={seriesUid ?? measured ?? ''} onChange={(e) => setSeries(e.currentTarget.value === measured ? null : e.currentTarget.value)}>
            {series.map((s) => <option key={s.seriesUid} value={s.seriesUid}>{nameSeries(s)}</option>)}
          </select>
        </label>
      )}
      {mayEdit && (
        <span class="ways">
          <button type="button" disabled={!undo} title={VIEWER_EN.undoHint} onClick={() => undo?.()}>{VIEWER_EN.undo}</button>
          <button type="button" disabled={!redo} title={VIEWER_EN.redoHint} onClick={() => redo?.()}>{VIEWER_EN.redo}</button>
        </span>
      )}
    </div>
  );
}

function nameSlab(slab: ViewSlab): string {
  if (slab.thicknessMm === 0) return VIEWER_EN.slabNone;
  return formatText(VIEWER_EN, slab.combine === 'mean' ? 'slabMean' : 'slabMax', { mm: slab.thicknessMm });
}
function nameSeries(s: SeriesLine): string {
  const phase = s.phasePercent !== null ? formatText(VIEWER_EN, 'phasePercent', { percent: Math.round(s.phasePercent) }) : (s.description ?? VIEWER_EN.phaseUnknown);
  return s.isMeasured ? formatText(VIEWER_EN, 'phaseMeasured', { phase }) : phase;
}
