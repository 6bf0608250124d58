import { useState } from 'preact/hooks';
import type { ContrastAnswer, ContrastRegions } from '../../core/angiogram/contrast-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import { FailureNotice } from '../parts/notice.tsx';
import { FrameBar } from '../room/frame-bar.tsx';
import { AS_IT_CAME, FramePicture, type Shade } from '../room/frame-picture.tsx';
import { EMPTY_SLOT, type RunInfo, type Slot } from '../room/slots.ts';
import { useRunFrame } from '../room/use-run-frame.ts';
import { may } from '../state/session.ts';
import { NO_NOTE, NoteFields, readNote, type NoteText } from './note-fields.tsx';
import { RegionOverlay } from './region-overlay.tsx';
import { addPoint, dropPoint, moveRegion, putPoint, type Polygon } from './regions.ts';

const KINDS = ['aorta', 'outflow', 'background'] as const;
type Kind = (typeof KINDS)[number];
type Regions = Readonly<Record<Kind, Polygon>>;
const NONE: Regions = { aorta: [], outflow: [], background: [] };
const SAID = ['isBreathHeld', 'isPaced', 'isTableMoved', 'hasOverlap'] as const;
type Said = Readonly<Record<(typeof SAID)[number], boolean | null>>;
const UNSAID: Said = { isBreathHeld: null, isPaced: null, isTableMoved: null, hasOverlap: null };
const readRegions = (given: ContrastRegions | null): Regions => (given ? { aorta: given.aorta, outflow: given.outflow, background: given.background ?? [] } : NONE);
const STEP_PX = 4;

/** The frames of a run with root and outflow tract drawn on them: proposed, moved by hand or key, and measured. */
export function RunRegions({ caseId, run, start, onMeasured }: { readonly caseId: string; readonly run: RunInfo; readonly start: ContrastRegions | null; readonly onMeasured: (angiogramId: string, answer: ContrastAnswer) => void }) {
  const [slot, setSlot] = useState<Slot>({ ...EMPTY_SLOT, run, size: run.size, frame: Math.max(1, Math.round(run.frames / 2)) });
  const [shade, setShade] = useState<Shade>(AS_IT_CAME);
  const [regions, setRegions] = useState<Regions>(() => readRegions(start));
  const [isTouched, setTouched] = useState(false);
  const [chosen, setChosen] = useState<{ readonly kind: Kind; readonly point: number }>({ kind: 'aorta', point: 0 });
  const [said, setSaid] = useState<Said>(UNSAID);
  const [frames, setFrames] = useState<readonly [string, string]>(['', '']);
  const [note, setNote] = useState<NoteText>(NO_NOTE);
  const [problem, setProblem] = useState('');
  const [isBusy, setBusy] = useState(false);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const picture = useRunFrame(caseId, slot);
  const { kind, point } = chosen;
  const change = (which: Kind, region: Polygon): void => {
    setTouched(true);
    setRegions((now) => ({ ...now, [which]: region }));
  };
  const region = regions[kind];
  const mark = (at: readonly [number, number]): void => {
    if (region.length < 3) return change(kind, [...region, [Math.round(at[0] * 10) / 10, Math.round(at[1] * 10) / 10]]);
    change(kind, putPoint(region, point, at, run.size));
    setChosen({ kind, point: (point + 1) % region.length });
  };
  const pressKey = (event: KeyboardEvent): boolean => {
    if (event.key === 'n' || event.key === 'p') setChosen({ kind, point: region.length === 0 ? 0 : (point + (event.key === 'n' ? 1 : region.length - 1)) % region.length });
    else if (event.key === ',' || event.key === '.') setSlot((s) => ({ ...s, frame: Math.max(1, Math.min(run.frames, s.frame + (event.key === '.' ? 1 : -1))) }));
    else return false;
    return true;
  };
  const measure = async (isProposed: boolean): Promise<void> => {
    const read = readNote(note, new Date());
    const span = readFrames(frames, run.frames);
    const wrong = typeof read === 'string' ? read : typeof span === 'string' ? span : !isProposed && (regions.aorta.length < 3 || regions.outflow.length < 3) ? RESULT_PAGE_EN.regionsMissing : '';
    setProblem(wrong);
    if (wrong !== '' || typeof read === 'string' || typeof span === 'string') return;
    setBusy(true);
    const drawn = { aorta: copy(regions.aorta), outflow: copy(regions.outflow), ...(regions.background.length >= 3 ? { background: copy(regions.background) } : {}) };
    const answer = await callApi('measureAngiogram', { params: { caseId }, body: { runId: run.runId, regions: isProposed ? null : drawn, frames: span, ratePerMin: read.heartRatePerMin, said, ...read } });
    setBusy(false);
    setFailure(answer.ok ? null : answer.failure);
    if (!answer.ok) return;
    const measured = answer.value.answer as ContrastAnswer;
    if (measured.regions) setRegions(readRegions(measured.regions));
    setTouched(false);
    onMeasured(answer.value.angiogramId, measured);
  };
  const hasRegions = regions.aorta.length >= 3 && regions.outflow.length >= 3;
  const current = formatText(RESULT_PAGE_EN, region.length < 3 ? 'pointNew' : 'pointMove', { region: RESULT_PAGE_EN[`region-${kind}`], point: region.length < 3 ? region.length + 1 : point + 1 });
  return (
    <div class="run-regions">
      <div class="run-picture">
        {picture.failure && <FailureNotice failure={picture.failure} onAgain={picture.again} />}
        <FramePicture
          size={run.size} grey={picture.grey} shade={shade} onShade={setShade} isBusy={picture.grey === null && picture.failure === null} current={current} onMark={mark} onKey={pressKey}
          label={formatText(RESULT_PAGE_EN, 'runLabel', { frame: slot.frame, frames: run.frames })}
          draw={(at) => KINDS.map((each) => <RegionOverlay key={each} kind={each} name={RESULT_PAGE_EN[`regionShort-${each}`]} region={regions[each]} size={run.size} at={at} isChosen={each === kind} chosenPoint={point} onChoose={(index) => setChosen({ kind: each, point: index ?? 0 })} onRegion={(r) => change(each, r)} />)}
        />
        <FrameBar slot={slot} shade={shade} onFrame={(frame) => setSlot({ ...slot, frame })} onShade={setShade} canUndo={region.length > 0 && region.length < 3} onUndo={() => change(kind, dropPoint(region, region.length - 1))} />
      </div>
      <div class="run-controls">
        <fieldset class="choices">
          <legend>{RESULT_PAGE_EN.regionChoose}</legend>
          {KINDS.map((each) => <label key={each} class="inline"><input type="radio" name={`region-${run.runId}`} checked={kind === each} onChange={() => setChosen({ kind: each, point: 0 })} /> {RESULT_PAGE_EN[`region-${each}`]}{regions[each].length === 0 && <span class="soft"> ({RESULT_PAGE_EN.regionNone})</span>}</label>)}
        </fieldset>
        <div class="row moves" role="group" aria-label={RESULT_PAGE_EN.regionMove}>
          {([['←', -STEP_PX, 0, 'moveLeft'], ['→', STEP_PX, 0, 'moveRight'], ['↑', 0, -STEP_PX, 'moveUp'], ['↓', 0, STEP_PX, 'moveDown']] as const).map(([sign, dc, dr, words]) => <button key={words} type="button" aria-label={RESULT_PAGE_EN[words]} title={RESULT_PAGE_EN[words]} disabled={region.length < 3} onClick={() => change(kind, moveRegion(region, [dc, dr], run.size))}>{sign}</button>)}
          <button type="button" disabled={region.length < 3 || region.length >= 60} onClick={() => change(kind, addPoint(region, middleOf(region, point)))}>{RESULT_PAGE_EN.pointAdd}</button>
          <button type="button" disabled={region.length < 4} onClick={() => { change(kind, dropPoint(region, point)); setChosen({ kind, point: 0 }); }}>{RESULT_PAGE_EN.pointDrop}</button>
          <button type="button" disabled={region.length === 0} onClick={() => change(kind, [])}>{RESULT_PAGE_EN.regionAnew}</button>
        </div>
        <p class="help">{RESULT_PAGE_EN.regionHelp}</p>
        <fieldset class="said">
          <legend>{RESULT_PAGE_EN.saidTitle}</legend>
          {SAID.map((each) => (
            <label key={each} class="inline">{RESULT_PAGE_EN[each]}{' '}
              <select value={said[each] === null ? '' : String(said[each])} onChange={(e) => setSaid({ ...said, [each]: e.currentTarget.value === '' ? null : e.currentTarget.value === 'true' })}>
                <option value="">{RESULT_PAGE_EN.saidNot}</option><option value="true">{RESULT_PAGE_EN.yes}</option><option value="false">{RESULT_PAGE_EN.no}</option>
              </select>
            </label>
          ))}
        </fieldset>
        <div class="row frames">
          <label class="inline">{RESULT_PAGE_EN.framesFrom} <input class="tiny" inputMode="numeric" value={frames[0]} placeholder="–" onInput={(e) => setFrames([e.currentTarget.value, frames[1]])} /></label>
          <label class="inline">{RESULT_PAGE_EN.framesTo} <input class="tiny" inputMode="numeric" value={frames[1]} placeholder="–" onInput={(e) => setFrames([frames[0], e.currentTarget.value])} /></label>
          <span class="help">{RESULT_PAGE_EN.framesHelp}</span>
        </div>
        <NoteFields text={note} onText={setNote} />
        {problem !== '' && <p class="problem" role="alert">{problem}</p>}
        {failure && <FailureNotice failure={failure} />}
        {may('edit') && (
          <p class="row">
            <button type="button" class={hasRegions ? '' : 'main'} disabled={isBusy} onClick={() => void measure(true)}>{RESULT_PAGE_EN.propose}</button>
            <button type="button" class={hasRegions ? 'main' : ''} disabled={isBusy || !hasRegions} onClick={() => void measure(false)}>{RESULT_PAGE_EN.measure}</button>
          </p>
        )}
        <p role="status">{isBusy ? RESULT_PAGE_EN.measuring : isTouched && hasRegions ? RESULT_PAGE_EN.regionsTouched : ''}</p>
      </div>
    </div>
  );
}

const copy = (region: Polygon): [number, number][] => region.map(([c, r]) => [c, r]);
/** Between the chosen point and the next: there a further one changes nothing yet. */
function middleOf(region: Polygon, point: number): readonly [number, number] {
  const [a, b] = [region[point] ?? region[0]!, region[(point + 1) % region.length]!];
  return [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
}

/** Both or none; null: the published cycles. */
function readFrames([from, to]: readonly [string, string], all: number): [number, number] | null | string {
  if (from.trim() === '' && to.trim() === '') return null;
  const [a, b] = [Number(from), Number(to)];
  return Number.isInteger(a) && Number.isInteger(b) && a >= 1 && b > a && b <= all ? [a, b] : formatText(RESULT_PAGE_EN, 'framesWrong', { all });
}
