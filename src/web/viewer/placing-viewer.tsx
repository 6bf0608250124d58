import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { NewCaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { along } from '../../core/math/vec3.ts';
import type { CutPlane } from '../../core/root/cut-types.ts';
import { cutFromLps, lpsFromCut } from '../../core/root/make-root-cuts.ts';
import { towardViewer } from '../../core/root/place-view.ts';
import { CUSPS, type Cusp, type Xyz } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import { findCentre } from '../../core/volume/find-centre.ts';
import type { ApiResult } from '../api/call-api.ts';
import { readKeyStep } from './hit-marks.ts';
import { useCt, CtNotice } from './use-ct.tsx';
import { useSide } from './use-side.ts';
import { ViewCanvas, type ShownCt } from './view-canvas.tsx';
import { nameEdges, nameMark, roundLps, toPx } from './view-model.ts';
import { CasedPath } from './view-overlay.tsx';
import { chooseWindow, NO_SLAB } from './viewer-tools.tsx';
import './viewer.css';

export interface PlacingViewerProps {
  readonly caseId: string;
  readonly state: CaseState;
  /** Stores events of the person and starts a plan. */
  readonly onEvents: (events: readonly NewCaseEvent[]) => Promise<ApiResult<null>>;
}
type BodyView = 'axial' | 'coronal' | 'sagittal';
const BODY_VIEWS: readonly BodyView[] = ['axial', 'coronal', 'sagittal'];
/** As a reader is used to: the patient's left on the right of the picture, the front on top or on the left. */
const AXES: Readonly<Record<BodyView, { readonly acrossLps: Xyz; readonly downLps: Xyz }>> = {
  axial: { acrossLps: [1, 0, 0], downLps: [0, 1, 0] }, coronal: { acrossLps: [1, 0, 0], downLps: [0, 0, -1] }, sagittal: { acrossLps: [0, 1, 0], downLps: [0, 0, -1] },
};
const SIDES_MM: readonly number[] = [320, 200, 120, 70];
const SCROLL_MM = 1;
const NEAR_MM = 2.5;

/**
 * Three pictures along the body in which a person sets the three nadirs when the tool found no root. One crosshair
 * goes through all three; a click or Enter sets the chosen nadir there.
 */
export function PlacingViewer({ caseId, state, onEvents }: PlacingViewerProps) {
  const blockOf = `${state.scan?.scanId ?? ''} ${state.scan?.seriesUid ?? ''}`;
  const { ct, again } = useCt(caseId, blockOf, null);
  const [cross, setCross] = useState<Xyz | null>(null);
  const [sideMm, setSide] = useState(SIDES_MM[1]!);
  const [cusp, setCusp] = useState<Cusp>('R');
  const [set, setSet] = useState<Readonly<Partial<Record<Cusp, Xyz>>>>({});
  const [said, setSaid] = useState('');
  const window = useMemo(() => chooseWindow('blood', null, { lowHu: -150, highHu: 600 }), []);
  const shown: ShownCt | null = useMemo(() => (ct.kind === 'ready' ? { drawer: ct.drawer, key: ct.key, window, slab: NO_SLAB } : null), [ct, window]);
  useEffect(() => {
    if (ct.kind === 'ready') setCross((at) => at ?? findCentre(ct.grid));
  }, [ct]);
  const marks: Readonly<Partial<Record<Cusp, Xyz>>> = { ...Object.fromEntries(CUSPS.flatMap((c) => (state.marks[`nadir.${c}`] ? [[c, state.marks[`nadir.${c}`]!.lps]] : []))), ...set };

  const put = (at: Xyz): void => {
    const lps = roundLps(at);
    const next = { ...set, [cusp]: lps };
    setSet(next);
    setCross(at);
    setSaid(formatText(VIEWER_EN, 'placed', { name: nameMark(`nadir.${cusp}`) }));
    const open = CUSPS.find((c) => !next[c] && !marks[c]);
    if (open) setCusp(open);
  };
  const keep = (): void => {
    const events = CUSPS.flatMap((c): NewCaseEvent[] => (set[c] ? [{ kind: 'mark.moved', data: { mark: `nadir.${c}`, lps: set[c]!, was: state.marks[`nadir.${c}`]?.lps ?? null } }] : []));
    void onEvents(events).then((answer) => setSaid(answer.ok ? VIEWER_EN.placedAll : formatText(VIEWER_EN, 'saveFailed', { text: answer.failure.message })));
  };
  const isWhole = CUSPS.every((c) => marks[c]) && Object.keys(set).length > 0;
  return (
    <section class="viewer" aria-label={VIEWER_EN.placing}>
      <h4>{VIEWER_EN.placing}</h4>
      <p>{VIEWER_EN.placingSay}</p>
      <CtNotice ct={ct} again={again} />
      <div class="tools" role="group" aria-label={VIEWER_EN.placing}>
        <fieldset class="choice"><legend class="hidden">{VIEWER_EN.mark}</legend>
          {CUSPS.map((c) => <label key={c} class="inline"><input type="radio" name="placing" checked={cusp === c} onChange={() => setCusp(c)} />{nameMark(`nadir.${c}`)}{marks[c] ? ` (${VIEWER_EN.isSet})` : ''}</label>)}
        </fieldset>
        <button type="button" class="quiet" disabled={sideMm === SIDES_MM[0]} onClick={() => setSide(SIDES_MM[SIDES_MM.indexOf(sideMm) - 1] ?? sideMm)}>{VIEWER_EN.zoomOut}</button>
        <button type="button" class="quiet" disabled={sideMm === SIDES_MM.at(-1)} onClick={() => setSide(SIDES_MM[SIDES_MM.indexOf(sideMm) + 1] ?? sideMm)}>{VIEWER_EN.zoomIn}</button>
        <button type="button" class="main" disabled={!isWhole} onClick={keep}>{VIEWER_EN.keepNadirs}</button>
      </div>
      <p role="status" class="said">{said}</p>
      {cross && <div class="views three">{BODY_VIEWS.map((view) => <BodyPane key={view} view={view} ct={shown} cross={cross} sideMm={sideMm} marks={marks} setCross={setCross} put={put} />)}</div>}
    </section>
  );
}

interface BodyPaneProps {
  readonly view: BodyView;
  readonly ct: ShownCt | null;
  readonly cross: Xyz;
  readonly sideMm: number;
  readonly marks: Readonly<Partial<Record<Cusp, Xyz>>>;
  readonly setCross: (at: Xyz) => void;
  readonly put: (at: Xyz) => void;
}
function BodyPane({ view, ct, cross, sideMm, marks, setCross, put }: BodyPaneProps) {
  const place = useRef<HTMLDivElement>(null);
  const sidePx = useSide(place);
  const plane = useMemo(() => placeBody(view, cross, sideMm), [view, cross, sideMm]);
  const now = useRef({ plane, cross, setCross });
  now.current = { plane, cross, setCross };
  useEffect(() => {
    const element = place.current;
    const turn = (event: WheelEvent): void => {
      event.preventDefault();
      const { plane: p, cross: at, setCross: go } = now.current;
      go(asXyz(along(at, towardViewer(p), (event.deltaY < 0 ? SCROLL_MM : -SCROLL_MM) * (event.shiftKey ? 5 : 1))));
    };
    element?.addEventListener('wheel', turn, { passive: false });
    return () => element?.removeEventListener('wheel', turn);
  }, []);
  const press = (event: MouseEvent): void => {
    const box = place.current!.getBoundingClientRect();
    put(asXyz(lpsFromCut(plane, [((event.clientX - box.left) * plane.widthMm) / box.width, ((event.clientY - box.top) * plane.widthMm) / box.width])));
  };
  const pressKey = (event: KeyboardEvent): void => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === 'Enter') put(cross);
    else {
      const step = readKeyStep(event.key, true);
      if (!step) return;
      const by = event.shiftKey ? 5 : 1;
      setCross(asXyz(along(along(along(cross, plane.acrossLps, step.moved[0] * by), plane.downLps, step.moved[1] * by), towardViewer(plane), step.offMm * by)));
    }
    event.preventDefault();
  };
  const [x, y] = toPx(plane, sidePx, cross);
  const [right, bottom, left, top] = nameEdges(plane);
  return (
    <figure class="view">
      <figcaption>{VIEWER_EN[view]}</figcaption>
      <div ref={place} class="picture aim" tabIndex={0} role="group" aria-label={formatText(VIEWER_EN, 'placingPane', { view: VIEWER_EN[view] })} data-view={view} onClick={press} onKeyDown={pressKey}>
        {ct && sidePx > 0 && <ViewCanvas view={`body ${view}`} ct={ct} plane={plane} sidePx={sidePx} />}
        {sidePx > 0 && (
          <svg class="overlay" viewBox={`0 0 ${sidePx} ${sidePx}`} aria-hidden="true">
            <path class="axis" d={`M${x} 0V${y - 10}M${x} ${y + 10}V${sidePx}M0 ${y}H${x - 10}M${x + 10} ${y}H${sidePx}`} />
            <text class="edge end" x={sidePx - 6} y={sidePx / 2 - 6}>{right}</text><text class="edge" x="6" y={sidePx / 2 - 6}>{left}</text>
            <text class="edge mid" x={sidePx / 2 + 24} y="16">{top}</text><text class="edge mid" x={sidePx / 2 + 24} y={sidePx - 8}>{bottom}</text>
            {CUSPS.map((c) => {
              const lps = marks[c];
              if (!lps || Math.abs(cutFromLps(plane, lps).offMm) > NEAR_MM) return null;
              const [mx, my] = toPx(plane, sidePx, lps);
              return (
                <g key={c}>
                  <CasedPath kind="thin" d={`M${mx} ${my}L${mx + 16} ${my + 16}`} />
                  <rect class="disc" x={mx + 12} y={my + 12} width="20" height="20" rx="3" /><text class="disc-letter" x={mx + 22} y={my + 27.5}>{c}</text>
                </g>
              );
            })}
          </svg>
        )}
      </div>
    </figure>
  );
}

/** The picture through the crosshair, which keeps its place in the middle. */
function placeBody(view: BodyView, cross: Xyz, sideMm: number): CutPlane {
  const { acrossLps, downLps } = AXES[view];
  return { originLps: along(along(cross, acrossLps, -sideMm / 2), downLps, -sideMm / 2), acrossLps, downLps, widthMm: sideMm, heightMm: sideMm };
}
const asXyz = (p: readonly [number, number, number]): Xyz => p;
