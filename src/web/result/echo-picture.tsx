import { useEffect, useRef, useState } from 'preact/hooks';
import type { EchoLine } from '../../core/case/fold-result.ts';
import type { TracePoint, TraceRegion } from '../../core/echo/trace-region.ts';
import { ECHO_FIELDS } from '../../core/echo/echo-fields.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { ECHO_EN } from '../../core/text/echo-en.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import { FailureNotice } from '../parts/notice.tsx';
import { FrameBar } from '../room/frame-bar.tsx';
import { AS_IT_CAME, FramePicture, type Shade } from '../room/frame-picture.tsx';
import { EMPTY_SLOT, type RunInfo, type Slot } from '../room/slots.ts';
import { readGrey } from '../room/use-run-frame.ts';
import { addEvents } from '../state/open-case.ts';
import { may, session } from '../state/session.ts';
import { FactRows } from './fact-rows.tsx';
import { sayUnit } from './say-unit.ts';
import { TraceOverlay } from './trace-overlay.tsx';
import { kindOf, listMarks, measureTrace, MOST_JETS, readHalfWidth, roundEntry, TRACE_TARGETS, type ClockMarks, type TraceTarget } from './trace-targets.ts';

/** As the server tells of a picture (echo-jobs.ts); the route leaves its shape to the core. */
interface PictureInfo {
  readonly rows: number;
  readonly columns: number;
  readonly frames: number;
  readonly regions: readonly TraceRegion[];
  readonly findings: readonly { readonly code: string; readonly text: string; readonly next: string }[];
}
const NO_CLOCK: ClockMarks = { ring: [], jets: [] };

/** An ultrasound picture on which an envelope, a slope, a distance or the clock is marked; numbers follow each mark at once. */
export function EchoPicture({ caseId, echo, blobSha256 }: { readonly caseId: string; readonly echo: EchoLine; readonly blobSha256: string }) {
  const [info, setInfo] = useState<PictureInfo | null>(null);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  useEffect(() => {
    void callApi('readEchoPicture', { params: { caseId, echoId: echo.echoId, sha256: blobSha256 } }).then(async (read) => {
      if (!read.ok) return setFailure(read.failure);
      const given: unknown = read.value instanceof Response ? await read.value.json().catch(() => null) : read.value;
      setInfo(given as PictureInfo | null);
    });
  }, [blobSha256]);
  if (failure) return <FailureNotice failure={failure} />;
  return info ? <Tracing caseId={caseId} echo={echo} blobSha256={blobSha256} info={info} /> : <p role="status">{DEPTH_PAGE_EN.fetching}</p>;
}

function Tracing({ caseId, echo, blobSha256, info }: { readonly caseId: string; readonly echo: EchoLine; readonly blobSha256: string; readonly info: PictureInfo }) {
  const size = { columns: info.columns, rows: info.rows };
  const run: RunInfo = { runId: blobSha256, frames: info.frames, size, views: [null], sourceToImageMm: null, sourceToPatientMm: null, pixelMm: null, pixelAt: 'detector', findings: [] };
  const [slot, setSlot] = useState<Slot>({ ...EMPTY_SLOT, run, size, frame: 1 });
  const [shade, setShade] = useState<Shade>(AS_IT_CAME);
  const [target, setTarget] = useState<TraceTarget>('valve');
  const [points, setPoints] = useState<readonly TracePoint[]>([]);
  const [clock, setClock] = useState<ClockMarks>(NO_CLOCK);
  const [isRingDone, setRingDone] = useState(false);
  const [begun, setBegun] = useState<TracePoint | null>(null);
  const [isStored, setStored] = useState(false);
  const { grey, failure } = useEchoFrame(caseId, echo.echoId, blobSha256, slot.frame);
  const kind = kindOf(target);
  const anew = (next: TraceTarget = target): void => {
    setTarget(next);
    setPoints([]);
    setClock(NO_CLOCK);
    setRingDone(false);
    setBegun(null);
    setStored(false);
  };
  const mark = (at: TracePoint): void => {
    setStored(false);
    if (kind === 'clock') {
      if (!isRingDone) return setClock({ ...clock, ring: [...clock.ring, at] });
      if (begun === null) return clock.jets.length < MOST_JETS ? setBegun(at) : undefined;
      setClock({ ...clock, jets: [...clock.jets, [begun, at]] });
      return setBegun(null);
    }
    setPoints(kind === 'envelope' ? [...points, at].sort((a, b) => a[0] - b[0]) : [...points.slice(-1), at]);
  };
  const undo = (): void => {
    setStored(false);
    if (kind !== 'clock') return setPoints(points.slice(0, -1));
    if (begun !== null) return setBegun(null);
    if (clock.jets.length > 0) return setClock({ ...clock, jets: clock.jets.slice(0, -1) });
    setRingDone(false);
    setClock({ ...clock, ring: clock.ring.slice(0, isRingDone ? undefined : -1) });
  };
  const marks = listMarks(target, points, clock);
  const read = measureTrace(target, points, clock, info.regions, { by: session.value?.person?.personId ?? '', at: echo.takenAt });
  const take = async (): Promise<void> => {
    if (!read.ok) return;
    const trace = { blobSha256, frame: slot.frame, is: kind, points: marks.map(([c, r]): [number, number] => [Math.round(c * 10) / 10, Math.round(r * 10) / 10]) };
    const answer = await addEvents(read.value.map(({ field, fact }) => ({ kind: 'echo.entered' as const, data: { echoId: echo.echoId, field, value: roundEntry(field, fact.value!), trace, halfWidth: readHalfWidth(fact) }, supersedes: echo.entries[field]?.seq ?? null })));
    setStored(answer.ok);
  };
  const pressKey = (event: KeyboardEvent): boolean => {
    if (event.key === 'Backspace' || event.key === 'Delete') undo();
    else if (event.key === ',' || event.key === '.') setSlot({ ...slot, frame: Math.max(1, Math.min(info.frames, slot.frame + (event.key === '.' ? 1 : -1))) });
    else return false;
    return true;
  };
  const clockStep = !isRingDone ? RESULT_PAGE_EN.traceRing : begun ? RESULT_PAGE_EN.traceJetEnd : RESULT_PAGE_EN.traceJetBegin;
  const current = formatText(RESULT_PAGE_EN, 'tracePoint', { what: kind === 'clock' ? clockStep : RESULT_PAGE_EN[`traceIs-${target}`], number: kind !== 'clock' ? points.length + 1 : isRingDone ? clock.jets.length + 1 : clock.ring.length + 1 });
  return (
    <div class="echo-tracing">
      <div class="run-picture">
        {failure && <FailureNotice failure={failure} />}
        <FramePicture
          size={size} grey={grey} shade={shade} onShade={setShade} isBusy={grey === null && failure === null} current={current} onMark={mark} onKey={pressKey}
          label={formatText(RESULT_PAGE_EN, 'echoLabel', { frame: slot.frame, frames: info.frames })}
          draw={(at) => <TraceOverlay at={at} regions={info.regions} kind={kind} points={points} clock={clock} begun={begun} onPoints={(next) => { setStored(false); setPoints(next); }} />}
        />
        <FrameBar slot={slot} shade={shade} onFrame={(frame) => setSlot({ ...slot, frame })} onShade={setShade} canUndo={marks.length > 0 || begun !== null} onUndo={undo} />
      </div>
      <div class="run-controls">
        {info.findings.map((f) => <div key={f.code} class="note" data-code={f.code}><p>{f.text}</p><p class="soft">{f.next}</p></div>)}
        <label class="inline">{RESULT_PAGE_EN.traceWhat}{' '}
          <select value={target} onChange={(e) => anew(e.currentTarget.value as TraceTarget)}>{TRACE_TARGETS.map((each) => <option key={each} value={each}>{RESULT_PAGE_EN[`traceIs-${each}`]}</option>)}</select>
        </label>
        <p class="help">{RESULT_PAGE_EN[`traceHelp-${kind}`]}</p>
        <p class="row">
          {kind === 'clock' && !isRingDone && <button type="button" disabled={clock.ring.length < 4} onClick={() => setRingDone(true)}>{RESULT_PAGE_EN.traceRingDone}</button>}
          <button type="button" class="quiet" disabled={marks.length === 0} onClick={() => anew()}>{RESULT_PAGE_EN.traceAnew}</button>
        </p>
        <div aria-live="polite">
          {marks.length > 0 && (read.ok
            ? <FactRows caption={RESULT_PAGE_EN.traceGives} rows={read.value.filter((t) => ECHO_FIELDS[t.field].unit !== 'h').map((t) => ({ name: ECHO_EN[`field-${t.field}`], fact: t.fact }))} />
            : <div class="note" data-code={read.failure.code}><p>{read.failure.message}</p><p class="soft">{read.failure.nextStep}</p></div>)}
          {read.ok && read.value.some((t) => ECHO_FIELDS[t.field].unit === 'h') && <p>{read.value.filter((t) => ECHO_FIELDS[t.field].unit === 'h').map((t) => `${ECHO_EN[`field-${t.field}`]} ${roundEntry(t.field, t.fact.value!).toFixed(1)}`).join('; ')} {sayUnit('h')}</p>}
        </div>
        {may('edit') && <p><button type="button" class="main" disabled={!read.ok || isStored || marks.length < 2} onClick={() => void take()}>{RESULT_PAGE_EN.traceTake}</button> <span role="status">{isStored ? RESULT_PAGE_EN.traceTaken : ''}</span></p>}
      </div>
    </div>
  );
}

/** Frames that were looked at last, by picture and number. */
const kept = new Map<string, Uint8Array>();
const MOST_KEPT = 30;
function useEchoFrame(caseId: string, echoId: string, sha256: string, frame: number): { readonly grey: Uint8Array | null; readonly failure: ApiFailure | null } {
  const [, drawAgain] = useState(0);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const key = `${sha256} ${frame}`;
  const wanted = useRef(key);
  wanted.current = key;
  useEffect(() => {
    if (kept.has(key)) return;
    void callApi('readEchoFrame', { params: { caseId, echoId, sha256, number: String(frame) } }).then(async (answer) => {
      const grey = answer.ok ? await readGrey(answer.value) : null;
      if (grey) kept.set(key, grey);
      for (const old of kept.keys()) {
        if (kept.size <= MOST_KEPT) break;
        kept.delete(old);
      }
      if (wanted.current !== key) return;
      setFailure(answer.ok ? (grey ? null : { status: 200, code: 'picture-unreadable', message: DEPTH_PAGE_EN.unreadable, nextStep: DEPTH_PAGE_EN.unreadableNext, evidence: {}, newer: [] }) : answer.failure);
      drawAgain((n) => n + 1);
    });
  }, [key]);
  return { grey: kept.get(key) ?? null, failure };
}
