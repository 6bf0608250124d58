import { useRef, useState } from 'preact/hooks';
import type { MarkName } from '../../core/case/case-events.ts';
import { lpsFromCut } from '../../core/root/make-root-cuts.ts';
import type { CutPlane, CutPoint } from '../../core/root/cut-types.ts';
import { moveInView, OPEN_POSE, type ViewPose } from '../../core/root/place-view.ts';
import type { RootFrame } from '../../core/root/root-frame.ts';
import type { RootSurvey, Xyz } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import { findGrip, readKeyStep, type Grip } from './hit-marks.ts';
import { useSide } from './use-side.ts';
import { readPoseKey, scrollPose, useWheel, zoomPose } from './use-view-input.ts';
import { ViewCanvas, type ShownCt } from './view-canvas.tsx';
import { describePlace, describeView, nameMark, placeMarks, toPx, type ShownMark, type ViewName } from './view-model.ts';
import { CasedPath, MarkShape, ViewGround } from './view-overlay.tsx';

/** A mark, or a point of the ring by its number among the handles. */
export type HandName = MarkName | `ring.${number}`;
export interface RingHandle {
  readonly name: `ring.${number}`;
  readonly lps: Xyz;
}
export interface PaneProps {
  readonly view: ViewName;
  readonly ct: ShownCt | null;
  readonly root: RootSurvey;
  readonly frame: RootFrame;
  readonly plane: CutPlane;
  readonly otherPlane: CutPlane | null;
  readonly pose: ViewPose;
  readonly setPose: (pose: ViewPose) => void;
  readonly ring: readonly Xyz[];
  readonly marks: readonly ShownMark[];
  /** Points by which the ring is pulled; empty unless it is being reshaped. */
  readonly handles: readonly RingHandle[];
  readonly held: HandName | null;
  readonly mayEdit: boolean;
  /** A grip is moved to a place; `isDone` when it was let go. */
  readonly onMove: (name: HandName, lps: Xyz) => void;
  readonly onKeep: () => void;
  readonly onPutBack: () => void;
}

interface Drag {
  readonly pointerId: number;
  readonly grip: HandName | null;
  /** On the screen: the page may move under a hand that holds still. */
  readonly fromPx: CutPoint;
  readonly fromLps: Xyz | null;
  readonly fromPose: ViewPose;
  hasMoved: boolean;
}
/** A press that moves less is a click. */
const SLIP_PX = 2;

/** One big view: the grey picture, its marks, and everything a hand or a keyboard does to them. */
export function ViewPane(props: PaneProps) {
  const { view, ct, root, frame, plane, otherPlane, pose, setPose, ring, marks, handles, held, mayEdit, onMove, onKeep, onPutBack } = props;
  const place = useRef<HTMLDivElement>(null);
  const sidePx = useSide(place);
  const drag = useRef<Drag | null>(null);
  const [pointed, setPointed] = useState<string>('');
  const isAcross = view === 'across';
  useWheel(place, isAcross, pose, plane, setPose);

  const perPx = plane.widthMm / Math.max(1, sidePx);
  const placed = placeMarks(marks, view, plane, sidePx);
  const ringGrips: readonly Grip<HandName>[] = isAcross ? handles.map((h) => ({ name: h.name, atPx: toPx(plane, sidePx, h.lps) })) : [];
  const grips: readonly Grip<HandName>[] = mayEdit ? [...placed, ...ringGrips] : [];
  const findLps = (name: HandName): Xyz | null => marks.find((m) => m.name === name)?.lps ?? handles.find((h) => h.name === name)?.lps ?? null;
  const readAt = (event: PointerEvent): CutPoint => {
    const box = place.current!.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };

  const press = (event: PointerEvent): void => {
    if (event.button !== 0 || drag.current) return;
    const at = readAt(event);
    const grip = findGrip(grips, at, event.pointerType === 'touch' ? 26 : undefined)?.name ?? null;
    // On a narrow screen a finger on the ground scrolls the page; a finger on a mark moves it.
    if (event.pointerType === 'touch' && grip === null) return;
    event.preventDefault();
    setPointed('');
    place.current!.setPointerCapture(event.pointerId);
    drag.current = { pointerId: event.pointerId, grip, fromPx: [event.clientX, event.clientY], fromLps: grip ? findLps(grip) : null, fromPose: pose, hasMoved: false };
    const target = grip ? place.current!.querySelector<SVGElement>(`[data-grip="${grip}"]`) : place.current!;
    target?.focus({ preventScroll: true });
  };
  const slide = (event: PointerEvent): void => {
    const d = drag.current;
    if (!d || d.pointerId !== event.pointerId) {
      const at = readAt(event);
      setPointed(describePlace(frame, lpsFromCut(plane, [at[0] * perPx, at[1] * perPx])));
      return;
    }
    const [dx, dy] = [event.clientX - d.fromPx[0], event.clientY - d.fromPx[1]];
    if (!d.hasMoved && Math.hypot(dx, dy) < SLIP_PX) return;
    d.hasMoved = true;
    if (d.grip && d.fromLps) onMove(d.grip, moveInView(plane, d.fromLps, [dx * perPx, dy * perPx]));
    else setPose({ ...pose, shiftMm: [d.fromPose.shiftMm[0] - dx * perPx, d.fromPose.shiftMm[1] - dy * perPx] });
  };
  const letGo = (event: PointerEvent): void => {
    const d = drag.current;
    if (!d || d.pointerId !== event.pointerId) return;
    drag.current = null;
    if (d.grip && d.hasMoved) onKeep();
  };
  const cancel = (): void => {
    const d = drag.current;
    drag.current = null;
    if (d?.grip && d.hasMoved) onPutBack();
  };
  const pressGripKey = (event: KeyboardEvent, name: HandName): void => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === 'Enter' && held === name) onKeep();
    else if (event.key === 'Escape' && held === name) {
      drag.current = null;
      onPutBack();
    } else {
      const step = readKeyStep(event.key, event.shiftKey);
      const from = findLps(name);
      if (!step || !from) return;
      onMove(name, moveInView(plane, from, step.moved, name.startsWith('ring.') ? 0 : step.offMm));
    }
    event.preventDefault();
    event.stopPropagation();
  };
  const pressViewKey = (event: KeyboardEvent): void => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target !== place.current) return;
    const next = readPoseKey(pose, plane, isAcross, event.key, event.shiftKey);
    if (!next) return;
    event.preventDefault();
    setPose(next);
  };
  const title = describeView(view, pose);
  const gripLabel = (name: HandName): string => (name.startsWith('ring.')
    ? formatText(VIEWER_EN, 'ringPoint', { number: Number(name.slice(5)) + 1, count: handles.length })
    : nameMark(name as MarkName));
  const gripProps = (name: HandName) => (mayEdit
    ? {
        'data-grip': name, tabIndex: 0, role: 'button' as const, 'aria-roledescription': VIEWER_EN.movableMark, 'aria-label': gripLabel(name), 'aria-pressed': held === name,
        class: `grip${held === name ? ' held' : ''}`, onKeyDown: (event: KeyboardEvent) => pressGripKey(event, name),
        onBlur: () => held === name && !drag.current && onKeep(),
      }
    : { class: 'still' });

  return (
    <figure class="view">
      <figcaption>{title}</figcaption>
      <div
        ref={place} class="picture" tabIndex={0} role="group" aria-label={title} data-view={view}
        onPointerDown={press} onPointerMove={slide} onPointerUp={letGo} onPointerCancel={cancel} onPointerLeave={() => setPointed('')} onKeyDown={pressViewKey}
      >
        {ct && sidePx > 0 && <ViewCanvas view={view} ct={ct} plane={plane} sidePx={sidePx} />}
        {sidePx > 0 && (
          <svg class="overlay" viewBox={`0 0 ${sidePx} ${sidePx}`}>
            <ViewGround view={view} root={root} frame={frame} plane={plane} heightMm={pose.heightMm} sidePx={sidePx} ring={ring} marks={placed} otherPlane={otherPlane} isSmall={false} />
            {pointed && <text class="edge end" x={sidePx - 6} y="34" aria-hidden="true">{pointed}</text>}
            {placed.map((mark) => (
              <g key={mark.name} {...gripProps(mark.name)}>
                <MarkShape mark={mark} view={view} middlePx={sidePx / 2} isSmall={false} isHeld={held === mark.name} />
                {mayEdit && <circle class="reach" cx={mark.atPx[0]} cy={mark.atPx[1]} r="14" />}
              </g>
            ))}
            {ringGrips.map((g) => (
              <g key={g.name} {...gripProps(g.name)}>
                <CasedPath kind="thin" d={`M${g.atPx[0] - 4} ${g.atPx[1] - 4}h8v8h-8z`} />
                <circle class="reach" cx={g.atPx[0]} cy={g.atPx[1]} r="12" />
              </g>
            ))}
          </svg>
        )}
      </div>
      <div class="viewbar" role="group" aria-label={formatText(VIEWER_EN, 'viewControls', { view: title })}>
        <button type="button" class="quiet" aria-label={isAcross ? VIEWER_EN.scrollDown : VIEWER_EN.turnLeft} title={isAcross ? VIEWER_EN.scrollDown : VIEWER_EN.turnLeft} onClick={() => setPose(scrollPose(pose, isAcross, -1, false))}>{isAcross ? '↓' : '↺'}</button>
        <button type="button" class="quiet" aria-label={isAcross ? VIEWER_EN.scrollUp : VIEWER_EN.turnRight} title={isAcross ? VIEWER_EN.scrollUp : VIEWER_EN.turnRight} onClick={() => setPose(scrollPose(pose, isAcross, 1, false))}>{isAcross ? '↑' : '↻'}</button>
        <button type="button" class="quiet" aria-label={VIEWER_EN.zoomOut} title={VIEWER_EN.zoomOut} onClick={() => setPose(zoomPose(pose, plane, -1))}>−</button>
        <button type="button" class="quiet" aria-label={VIEWER_EN.zoomIn} title={VIEWER_EN.zoomIn} onClick={() => setPose(zoomPose(pose, plane, 1))}>+</button>
        <button type="button" class="quiet" onClick={() => setPose(OPEN_POSE)} disabled={pose === OPEN_POSE}>{VIEWER_EN.resetView}</button>
      </div>
    </figure>
  );
}
