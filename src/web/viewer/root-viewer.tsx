import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import { lazy, Suspense } from 'preact/compat';
import type { MarkName } from '../../core/case/case-events.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { chooseRingHandles } from '../../core/root/bend-ring.ts';
import { makeSurveyFrame } from '../../core/root/make-survey-frame.ts';
import { OPEN_POSE, type ViewPose } from '../../core/root/place-view.ts';
import { lpsFromCylinder, cylinderFromLps, type RootFrame } from '../../core/root/root-frame.ts';
import type { RootSurvey, Xyz } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import { formatFact, formatNumber } from '../../formats/report/format-number.ts';
import type { ViewSlab } from '../../tasks/draw-view.ts';
import { callApi } from '../api/call-api.ts';
import { session } from '../state/session.ts';
import type { RootViewerProps } from '../state/viewer-slot.ts';
import { MarksTable } from './marks-table.tsx';
import { ReadingsPanel } from './readings-panel.tsx';
import { CtNotice, useCt } from './use-ct.tsx';
import { useHand, type HandControl } from './use-hand.ts';
import { offerUndo, useEvents } from './use-undo.ts';
import type { ShownCt } from './view-canvas.tsx';
import { ALONG_NAMES, cuspOf, listShownMarks, markOfView, movedMm, nameMark, placeView, type AlongName, type ViewName } from './view-model.ts';
import { ViewPane, type RingHandle } from './view-pane.tsx';
import { ViewStrip } from './view-strip.tsx';
import { chooseWindow, NO_SLAB, ViewerTools, type GreyName, type SeriesLine } from './viewer-tools.tsx';
import './viewer.css';

const HANDLES = 16;

/** The CT where a person must trust a mark. Without a measured root there is no plane to look along. */
export function RootViewer(props: RootViewerProps) {
  const { root } = props.plan;
  return root ? <MeasuredViewer {...props} root={root} /> : null;
}

function MeasuredViewer(props: RootViewerProps & { readonly root: RootSurvey }) {
  const { caseId, state, plan, isRecomputing, mayEdit, root } = props;
  const [poses, setPoses] = useState<Readonly<Partial<Record<ViewName, ViewPose>>>>({});
  const [chosen, setChosen] = useState<AlongName>('along:nadir.R');
  const [grey, setGreyName] = useState<GreyName>('blood');
  const bloodHu = plan.scan.contrastHu.value;
  const [own, setOwn] = useState(() => chooseWindow('blood', bloodHu, { lowHu: -150, highHu: 600 }));
  const window = useMemo(() => chooseWindow(grey, bloodHu, own), [grey, bloodHu, own]);
  const [slab, setSlab] = useState<ViewSlab>(NO_SLAB);
  const [seriesUid, setSeries] = useState<string | null>(null);
  const [isShaping, setShaping] = useState(false);
  const blockOf = `${state.scan?.scanId ?? ''} ${state.scan?.seriesUid ?? ''}`;
  const { ct, again } = useCt(caseId, blockOf, seriesUid);
  const series = useSeries(caseId, blockOf);

  // While a mark is held the planes stay: a view that moved under the hand could not be aimed at.
  const frameNow = useRef<RootFrame | null>(null);
  const isHolding = useRef(false);
  if (!frameNow.current || !isHolding.current) frameNow.current = keepFrame(frameNow.current, makeSurveyFrame(root));
  const frame = frameNow.current;

  const storedRing = state.ring?.contourLps ?? root.basalRing.contourLps;
  const listHandles = (ring: readonly Xyz[]): readonly number[] => chooseRingHandles(ring, HANDLES, lpsFromCylinder(frame, { azimuthRad: 0, heightMm: 0, radiusMm: 12 }));
  const markList = listShownMarks(root, state, null);
  const hand = useHand(props, markList, storedRing, listHandles);
  isHolding.current = hand.held !== null || hand.ringDraft !== null;
  // The frame was chosen before the hand was seen to open: it is looked at once more, or the planes would stay behind.
  const [, lookAgain] = useState(0);
  useEffect(() => lookAgain((n) => n + 1), [isHolding.current]);
  const marks = useMemo(() => listShownMarks(root, state, hand.moved), [root, state.marks, hand.moved?.marks]);
  // Once a nadir moves, the ring shown is the one answered for it.
  const ring = hand.ringDraft ?? (hand.moved && hand.moved.contourLps === null ? root.basalRing.contourLps : storedRing);
  const handles: readonly RingHandle[] = isShaping ? listHandles(hand.ringDraft ?? storedRing).map((index, i) => ({ name: `ring.${i}`, lps: ring[index] ?? ring[0]! })) : [];

  const poseOf = (view: ViewName): ViewPose => poses[view] ?? OPEN_POSE;
  const setPose = (view: ViewName) => (pose: ViewPose): void => setPoses((all) => ({ ...all, [view]: pose }));
  const across = poseOf('across');
  const along = poseOf(chosen);
  const heldMarks = useHeldStill(markList, isHolding.current);
  const acrossPlane = useMemo(() => placeView('across', frame, heldMarks, across), [frame, across]);
  const alongPlane = useMemo(() => placeView(chosen, frame, heldMarks, along), [frame, chosen, along, heldMarks]);
  const views = useMemo(() => ALONG_NAMES.filter((v) => marks.some((m) => m.name === markOfView(v))), [marks]);

  const events = useEvents(caseId, state.seq);
  const offer = useMemo(() => offerUndo(caseId, events, state, session.value?.person?.personId ?? null), [caseId, events, state, session.value]);
  const undo = offer.undo.length > 0 ? () => hand.send(offer.undo, VIEWER_EN.undo) : null;
  const redo = offer.redo.length > 0 ? () => hand.send(offer.redo, VIEWER_EN.redo) : null;
  const pressWay = (event: KeyboardEvent): void => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey || !mayEdit || event.target instanceof HTMLInputElement) return;
    const key = event.key.toLowerCase();
    const wish = key === 'z' ? (event.shiftKey ? 'redo' : 'undo') : key === 'y' ? 'redo' : null;
    if (!wish) return;
    event.preventDefault();
    waysWished.current = wish;
    goWished();
  };
  // A key that comes before the log has caught up waits for it.
  const isLogBehind = (events.at(-1)?.seq ?? 0) !== state.seq;
  const waysWished = useRef<'undo' | 'redo' | null>(null);
  const goWished = (): void => {
    const wish = waysWished.current;
    if (!wish || isLogBehind) return;
    waysWished.current = null;
    (wish === 'undo' ? undo : redo)?.();
  };
  useEffect(goWished, [offer]);

  const diameterMm = root.basalRing.perimeterDiameterMm.value;
  const storedMm = useHeldStill(diameterMm, isHolding.current);
  const shown: ShownCt | null = useMemo(() => (ct.kind === 'ready' ? { drawer: ct.drawer, key: ct.key, window, slab } : null), [ct, window, slab]);
  const pane = (view: ViewName, plane: typeof acrossPlane, otherPlane: typeof acrossPlane) => (
    <ViewPane
      view={view} ct={shown} root={root} frame={frame} plane={plane} otherPlane={otherPlane} pose={poseOf(view)} setPose={setPose(view)} ring={ring} marks={marks}
      handles={handles} held={hand.held} mayEdit={mayEdit && seriesUid === null} onMove={hand.move} onKeep={hand.keep} onPutBack={hand.putBack}
    />
  );
  return (
    <section class="viewer" aria-label={VIEWER_EN.title} onKeyDown={pressWay}>
      <ViewerTools
        grey={grey} window={window} setGrey={(name, next) => { setGreyName(name); setOwn(next); }} slab={slab} setSlab={setSlab}
        series={series} seriesUid={seriesUid} setSeries={setSeries} mayEdit={mayEdit} undo={undo} redo={redo}
      />
      {seriesUid !== null && <p class="tagged"><b class="tag">{VIEWER_EN.phase}</b> {VIEWER_EN.otherPhase}</p>}
      <CtNotice ct={ct} again={again} />
      <div class="views">
        {pane('across', acrossPlane, alongPlane)}
        {pane(chosen, alongPlane, acrossPlane)}
      </div>
      <LiveLine say={describeHand(hand, diameterMm, storedMm) ?? hand.say} diameterMm={diameterMm} storedMm={storedMm} interval={formatFact(root.basalRing.perimeterDiameterMm)?.interval ?? ''} isRecomputing={isRecomputing} />
      <ViewStrip views={views} chosen={chosen} choose={setChosen} ct={shown} root={root} frame={frame} ring={ring} marks={marks} />
      <RingTools
        mayEdit={mayEdit && seriesUid === null} isShaping={isShaping} setShaping={(on) => { setShaping(on); if (on) setPose('across')({ ...across, heightMm: 0 }); else hand.dropRing(); }}
        hasDraft={hand.ringDraft !== null} isByPerson={state.ring !== null} keep={() => { hand.keepRing(); setShaping(false); }} drop={hand.dropRing} giveBack={hand.giveBackRing}
      />
      <MarksTable
        state={state} frame={frame} marks={marks} mayEdit={mayEdit} onShow={(m) => setChosen(`along:${m}`)} onGiveBack={hand.giveBack}
        onPlace={(m) => { hand.send([{ kind: 'mark.moved', data: { mark: m, lps: guessOstium(frame, root, m), was: null } }], ''); setChosen(`along:${m}`); }}
      />
      <SolidPlace caseId={caseId} plan={plan} root={root} planSha256={props.planSha256} />
      <ReadingsPanel caseId={caseId} state={state} plan={plan} mayEdit={mayEdit} send={hand.send} />
      <details class="viewer-help"><summary>{VIEWER_EN.help}</summary><p>{mayEdit ? `${VIEWER_EN.hint} ${VIEWER_EN.hintView}` : VIEWER_EN.hintRead}</p></details>
    </section>
  );
}

/** The same frame again when a new plan says the same, so that nothing is drawn anew. */
function keepFrame(was: RootFrame | null, is: RootFrame): RootFrame {
  const same = was && [...was.originLps, ...was.normalLps, ...was.uLps].every((v, i) => v === [...is.originLps, ...is.normalLps, ...is.uLps][i]);
  return same ? was : is;
}

/** A value as it was before the hand closed. */
function useHeldStill<T>(value: T, isHolding: boolean): T {
  const kept = useRef(value);
  if (!isHolding && JSON.stringify(kept.current) !== JSON.stringify(value)) kept.current = value;
  return kept.current;
}

/** Where an ostium would be looked for: above the nadir of its sinus, on the wall. */
function guessOstium(frame: RootFrame, root: RootSurvey, mark: MarkName): Xyz {
  const nadir = cylinderFromLps(frame, root.basalPlane.nadirsLps[cuspOf(mark)]);
  return lpsFromCylinder(frame, { azimuthRad: nadir.azimuthRad, heightMm: 13, radiusMm: nadir.radiusMm + 3 });
}

function describeHand({ held, from, moved }: HandControl, diameterMm: number | null, storedMm: number | null): string | null {
  const name = held as MarkName | null;
  const to = name ? moved?.marks[name] : undefined;
  if (!name || !from || !to) return null;
  const mm = formatNumber(movedMm(from, to), 1);
  if (diameterMm === null || storedMm === null) return formatText(VIEWER_EN, 'moving', { name: nameMark(name), mm });
  const change = diameterMm - storedMm;
  return formatText(VIEWER_EN, 'movingRing', { name: nameMark(name), mm, diameter: formatNumber(diameterMm, 1), change: `${change >= 0 ? '+' : ''}${formatNumber(change, 1)}` });
}

function LiveLine({ say, diameterMm, storedMm, interval, isRecomputing }: { readonly say: string; readonly diameterMm: number | null; readonly storedMm: number | null; readonly interval: string; readonly isRecomputing: boolean }) {
  const [now, was] = [diameterMm, storedMm].map((v) => (v === null ? '–' : formatText(VIEWER_EN, 'mm', { mm: formatNumber(v, 1) })));
  return (
    <p class="live">
      <b>{VIEWER_EN.liveRing}</b> <output data-live="ring">{now}</output> <span class="interval">{interval}</span>
      {now !== was && <span class="soft"> ({formatText(VIEWER_EN, 'liveWas', { was: was! })})</span>}
      {isRecomputing && <span class="tag">{VIEWER_EN.recomputing}</span>}
      <span role="status" class="said">{say}</span>
    </p>
  );
}

const LazySolid = lazy(() => import('./solid-view.tsx').then((m) => ({ default: m.SolidView })));
function SolidPlace(solid: { readonly caseId: string; readonly plan: Plan; readonly root: RootSurvey; readonly planSha256: string }) {
  const [isOpen, setOpen] = useState(false);
  return (
    <section class="solid-place" aria-label={VIEWER_EN.solid}>
      <button type="button" aria-expanded={isOpen} onClick={() => setOpen(!isOpen)}>{isOpen ? VIEWER_EN.solidHide : VIEWER_EN.solidShow}</button>
      {isOpen && <Suspense fallback={<p role="status">{VIEWER_EN.solidReading}</p>}><LazySolid {...solid} /></Suspense>}
    </section>
  );
}

interface RingToolsProps {
  readonly mayEdit: boolean;
  readonly isShaping: boolean;
  readonly setShaping: (on: boolean) => void;
  readonly hasDraft: boolean;
  readonly isByPerson: boolean;
  readonly keep: () => void;
  readonly drop: () => void;
  readonly giveBack: () => void;
}
function RingTools({ mayEdit, isShaping, setShaping, hasDraft, isByPerson, keep, drop, giveBack }: RingToolsProps) {
  return (
    <div class="ring-tools">
      <span>{isByPerson ? VIEWER_EN.ringByPerson : VIEWER_EN.ringByTool}</span>
      {mayEdit && <button type="button" class="quiet" aria-pressed={isShaping} onClick={() => setShaping(!isShaping)}>{isShaping ? VIEWER_EN.endRing : VIEWER_EN.drawRing}</button>}
      {hasDraft && <button type="button" class="main" onClick={keep}>{VIEWER_EN.keepRing}</button>}
      {hasDraft && <button type="button" onClick={drop}>{VIEWER_EN.dropRing}</button>}
      {mayEdit && isByPerson && !hasDraft && <button type="button" class="quiet" onClick={giveBack}>{VIEWER_EN.giveBackRing}</button>}
      {isShaping && <p class="help">{VIEWER_EN.ringHelp}</p>}
      {isByPerson && !isShaping && <p class="help">{VIEWER_EN.ringLostHint}</p>}
    </div>
  );
}

function useSeries(caseId: string, blockOf: string): readonly SeriesLine[] {
  const [series, setSeries] = useState<readonly SeriesLine[]>([]);
  useEffect(() => {
    let isWanted = true;
    void callApi('listVolumes', { params: { caseId } }).then((answer) => isWanted && answer.ok && setSeries(answer.value));
    return () => void (isWanted = false);
  }, [caseId, blockOf]);
  return series;
}
