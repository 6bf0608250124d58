import { useMemo, useState } from 'preact/hooks';
import type { CaseState } from '../../core/case/fold-case.ts';
import { nameView } from '../../core/projection/camera-view.ts';
import type { DepthPlan, DepthReading } from '../../core/projection/depth-types.ts';
import { readShareOut } from '../../core/room/judge-recapture.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { readDepthWindow } from '../../core/room/judge-depth-place.ts';
import type { RoomState } from '../../core/room/room-state.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { drawDepthRuler } from '../../formats/report/draw-depth-ruler.ts';
import { Markup } from '../parts/markup.tsx';
import { FailureNotice, Notice } from '../parts/notice.tsx';
import { readServerNow } from '../state/room-log.ts';
import { AnswerLine, DepthDoubts } from './depth-answer.tsx';
import { DepthCompare } from './depth-compare.tsx';
import { TableLine } from './table-line.tsx';
import { FrameBar } from './frame-bar.tsx';
import { AS_IT_CAME, FramePicture } from './frame-picture.tsx';
import { GeometryFields } from './geometry-fields.tsx';
import { judgeMarks, stampFrame } from './marks-age.ts';
import { MarksOverlay } from './marks-overlay.tsx';
import { listMissing, measureSlots } from './measure-slots.ts';
import { PointsTable } from './points-table.tsx';
import type { FramePoint } from './picture-pose.ts';
import { readDepthKey } from './read-depth-key.ts';
import { RunsList } from './runs-list.tsx';
import { addClick, clearPoint, countRounds, findNext, listClicks, listMeans, NEEDED, undoClick, type PointName } from './shot.ts';
import { EMPTY_SLOT, hasClicks, MOST_SLOTS, placeRun, putShot, readShot, showFrame, type RunInfo, type Slot } from './slots.ts';
import { useNow } from './times.ts';
import { useRunFrame } from './use-run-frame.ts';

/** Further rounds of clicks are asked for up to here: four halve the noise of one (job.md, D36). */
const ENOUGH_ROUNDS = 4;

export interface DepthDeskProps {
  readonly frozen: FrozenDocument;
  readonly plan: DepthPlan;
  readonly room: RoomState;
  readonly runs: CaseState['runs'];
  /** Gives the entry's id, so that a better reading of the same frames replaces it. */
  readonly onKeep: (reading: DepthReading, corrects: string | null) => string | null;
}

/** From a run to a depth: frame, clicks, answer, and what would make it better. */
export function DepthDesk({ frozen, plan, room, runs, onKeep }: DepthDeskProps) {
  const { caseId } = frozen;
  const now = useNow(); // marks get too old while nobody does anything
  const [slots, setSlots] = useState<readonly Slot[]>([EMPTY_SLOT]);
  const [shown, setShown] = useState(0);
  const [chosen, setChosen] = useState<PointName | null>(null);
  const [shade, setShade] = useState(AS_IT_CAME);
  const [kept, setKept] = useState<{ readonly entryId: string | null; readonly text: string; readonly frame: string } | null>(null);
  const [said, say] = useState('');
  const [isByHand, setByHand] = useState(false);
  const slot = slots[shown] ?? EMPTY_SLOT;
  const shot = readShot(slot);
  const means = listMeans(shot);
  const current = chosen ?? findNext(shot);
  const { grey, failure: frameFailure, again } = useRunFrame(caseId, slot);
  // Marks from before the frame moved are history: they are shown, and nothing is measured with them.
  const ages = slots.map((s) => judgeMarks(s.marked, room, now, frozen.limits));
  const marksAre = ages[shown] ?? 'same';
  const measured = useMemo(() => measureSlots(slots.map((s, i) => (ages[i] === 'same' ? s : EMPTY_SLOT)), shown, plan), [slots, shown, plan, ages.join()]);
  const { answer } = measured;
  const unsheathedRatio = readShareOut(room)?.ratio ?? null;
  const reading = answer && { ...answer.reading, unsheathedRatio };
  const window = useMemo(() => readDepthWindow(frozen), [frozen]);
  /** The entry of this reading's frames, when one is kept already. */
  const replaces = kept?.frame === stampFrame(room) ? kept.entryId : null;
  const isKept = kept !== null && kept.text === JSON.stringify(reading);
  const mmPerPx = answer?.frames.find((f) => shot.geometry.view && f.view.primaryDeg === shot.geometry.view.primaryDeg && f.view.secondaryDeg === shot.geometry.view.secondaryDeg)?.mmPerPx ?? null;

  const readNow = () => ({ frame: stampFrame(room), atMs: readServerNow() });
  const putSlot = (next: Slot): void => setSlots((all) => all.map((s, i) => (i === shown ? next : s)));
  const mark = (at: FramePoint, point: PointName = current): void => {
    const next = addClick(shot, point, at);
    if (next === shot) return say(DEPTH_PAGE_EN.enough);
    putSlot({ ...putShot(slot, next), marked: slot.marked ?? readNow() });
    const meant = next.clicks.at(-1)!.point;
    say(formatText(DEPTH_PAGE_EN, 'marked', { point: DEPTH_PAGE_EN[`point-${meant}`], count: listClicks(next, meant).length }));
    // A pair goes on to its other end; then the needed points are asked for again.
    setChosen(point === 'axisA' && listClicks(next, 'axisB').length < listClicks(next, 'axisA').length ? 'axisB' : point === 'knownA' && listClicks(next, 'knownB').length < listClicks(next, 'knownA').length ? 'knownB' : null);
  };
  const undo = (): void => {
    putSlot(putShot(slot, undoClick(shot)));
    setChosen(null);
    say(DEPTH_PAGE_EN.undone);
  };
  const keep = (): void => {
    if (!reading || isKept) return;
    const entryId = onKeep(reading, replaces);
    say(replaces !== null ? DEPTH_PAGE_EN.keptAgain : DEPTH_PAGE_EN.kept);
    setKept({ entryId, text: JSON.stringify(reading), frame: stampFrame(room) });
  };
  const goTo = (at: number): void => {
    setShown(at);
    setChosen(null);
  };
  const addSlot = (): void => {
    if (slots.length >= MOST_SLOTS) return;
    setSlots([...slots, EMPTY_SLOT]);
    goTo(slots.length);
  };
  const openByHand = (): void => {
    // The C-arm stands where the log last said.
    if (room.view) putSlot({ ...slot, entered: { ...slot.entered, view: room.view.view } });
    setByHand(true);
  };
  const startAgain = (): void => {
    // The runs stay at hand, their marks do not: the frame has moved since.
    setSlots((all) => all.map((s) => ({ ...s, clicks: {}, marked: null })));
    goTo(0);
    setKept(null);
  };
  const takeRun = (run: RunInfo): void => {
    // After a movement a new run begins a new reading.
    const fresh = slots.filter((_, i) => ages[i] === 'same');
    const placed = placeRun(fresh.length > 0 ? fresh : [EMPTY_SLOT], Math.min(shown, Math.max(0, fresh.length - 1)), run);
    if (fresh.length < slots.length) setKept(null);
    setSlots(placed.slots);
    goTo(placed.shown);
    setShade(AS_IT_CAME);
  };
  const takeMarks = (marked: readonly Slot[]): void => {
    setSlots(marked.length > 0 ? marked.map((s) => ({ ...s, marked: readNow() })) : [EMPTY_SLOT]);
    setByHand(true);
    goTo(0);
    setKept(null);
  };
  const pressKey = (event: KeyboardEvent): boolean => {
    const asked = readDepthKey(event.key, (point) => listClicks(shot, point).length > 0);
    if (!asked) return false;
    if (asked.wish === 'point') setChosen(asked.point);
    else if (asked.wish === 'frame') putSlot(showFrame(slot, slot.frame + Math.max(-1e6, Math.min(1e6, asked.by))));
    else if (asked.wish === 'undo') undo();
    else if (asked.wish === 'keep') keep();
    else if (asked.wish === 'invert') setShade({ ...shade, isInverted: !shade.isInverted });
    else goTo((shown + 1) % slots.length);
    return true;
  };
  const missing = listMissing(shot);
  const isOpen = isByHand || slots.some((s) => s.run !== null);
  const label = formatText(DEPTH_PAGE_EN, 'pictureLabel', { frame: slot.frame, frames: slot.run?.frames ?? 1, view: shot.geometry.view ? nameView(shot.geometry.view) : DEPTH_PAGE_EN.runNoView });
  return (
    <div class="depth-desk">
      <AnswerLine reading={reading} separationDeg={answer?.separationDeg ?? null} window={window} />
      <p class="depth-next">
        <b>{sayNext(slots, shown, current, missing)}</b>{' '}
        {reading && (isKept ? <span class="soft">{DEPTH_PAGE_EN.keptIs}</span> : <button type="button" class="main" data-key="K" onClick={keep}>{replaces !== null ? DEPTH_PAGE_EN.keepAgain : DEPTH_PAGE_EN.keep}</button>)}
        <span role="status" class="said">{said}</span>
      </p>
      <div class="slots" role="group" aria-label={DEPTH_PAGE_EN.runs}>
        {isOpen && slots.map((s, i) => (
          <button key={i} type="button" class="quiet" aria-pressed={i === shown} onClick={() => goTo(i)}>
            {readShot(s).geometry.view ? formatText(DEPTH_PAGE_EN, 'slotWith', { number: i + 1, view: nameView(readShot(s).geometry.view!) }) : formatText(DEPTH_PAGE_EN, 'slot', { number: i + 1 })}
          </button>
        ))}
        {slots.length < MOST_SLOTS && hasClicks(slot) && <button type="button" class="quiet" onClick={addSlot}>+ {DEPTH_PAGE_EN.addSlot}</button>}
        {slots.some(hasClicks) && <button type="button" class="quiet" onClick={startAgain}>{DEPTH_PAGE_EN.newReading}</button>}
      </div>
      <RunsList caseId={caseId} runs={runs} onRun={takeRun} onMarks={takeMarks}>
        {!isOpen && <button type="button" class="quiet" onClick={openByHand}>{DEPTH_PAGE_EN.byHand}</button>}
      </RunsList>
      {slot.run && slot.run.findings.length > 0 && <Notice title={DEPTH_PAGE_EN.aboutRun}><ul>{slot.run.findings.map((f) => <li key={f.code}>{f.text} <span class="soft">{f.next}</span></li>)}</ul></Notice>}
      {marksAre !== 'same' && (
        <Notice title={DEPTH_PAGE_EN.newReading} isUrgent>
          <p>{marksAre === 'moved' ? DEPTH_PAGE_EN.frameMoved : DEPTH_PAGE_EN.marksOld}</p>
          <button type="button" onClick={startAgain}>{DEPTH_PAGE_EN.newReading}</button>
        </Notice>
      )}
      {frameFailure && <FailureNotice failure={frameFailure} onAgain={again} />}
      {isOpen && <div class="depth-bench">
        {slot.run && (
          <div class="depth-left" data-shown={slot.run.runId}>
            <FramePicture
              key={shown} size={slot.size} grey={grey} shade={shade} onShade={setShade} label={label} current={DEPTH_PAGE_EN[`point-${current}`]} isBusy={grey === null && !frameFailure}
              draw={(at, widthPx) => <MarksOverlay means={means} current={current} at={at} widthPx={widthPx} />} onMark={(at) => mark(at)} onKey={pressKey}
            />
            <FrameBar slot={slot} shade={shade} onFrame={(frame) => putSlot(showFrame(slot, frame))} onShade={setShade} canUndo={shot.clicks.length > 0} onUndo={undo} />
          </div>
        )}
        <div class="depth-right">
          {frozen.plan.landing && <Markup html={drawDepthRuler(frozen.plan.landing, { id: 'read-ruler', isTraining: frozen.training, pin: reading })} />}
          <PointsTable shot={shot} means={means} current={current} mmPerPx={mmPerPx} onChoose={setChosen} onClear={(point) => { putSlot(putShot(slot, clearPoint(shot, point))); setChosen(point); }} onMark={(point, at) => mark(at, point)} />
          <GeometryFields key={`${shown} ${slot.run?.runId ?? ''} ${slots.length}`} slot={slot} mmPerPx={mmPerPx} isOpen={missing.includes('view') || missing.includes('calibration')} onSlot={putSlot} />
        </div>
      </div>}
      <DepthDoubts answer={answer} failure={measured.failure} />
      <TableLine slots={slots} frozen={frozen} />
      {reading && <DepthCompare reading={reading} frozen={frozen} room={room} />}
      <details class="depth-keys"><summary>{DEPTH_PAGE_EN.keysTitle}</summary><p>{DEPTH_PAGE_EN.keys}</p></details>
    </div>
  );
}

/** One thing to do now. */
function sayNext(slots: readonly Slot[], shown: number, current: PointName, missing: readonly string[]): string {
  const slot = slots[shown] ?? EMPTY_SLOT;
  const shot = readShot(slot);
  if (missing.includes('marks') || !NEEDED.includes(current)) {
    if (slots.length === 1 && slot.run === null && shot.clicks.length === 0) return DEPTH_PAGE_EN.nextRun;
    return formatText(DEPTH_PAGE_EN, 'nextMark', { point: DEPTH_PAGE_EN[`point-${current}`] });
  }
  if (missing.includes('view')) return DEPTH_PAGE_EN.nextView;
  if (missing.includes('calibration')) return DEPTH_PAGE_EN.nextScale;
  const rounds = countRounds(shot);
  const marked = slots.filter((s) => listMissing(readShot(s)).length === 0).length;
  const wishes = [marked < 2 ? DEPTH_PAGE_EN.nextSecond : '', rounds < ENOUGH_ROUNDS ? DEPTH_PAGE_EN.nextRound : ''].filter((w) => w !== '');
  return wishes.length === 0 ? DEPTH_PAGE_EN.nextNone : wishes.join(' ');
}
