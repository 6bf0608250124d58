import type { ComponentChildren } from 'preact';
import { useRef, useState } from 'preact/hooks';
import type { CaseState } from '../../core/case/fold-case.ts';
import { nameView } from '../../core/projection/camera-view.ts';
import { parseFrames } from '../../formats/frames/parse-frames.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import { Field } from '../parts/field.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { makeSlots } from './read-frames-file.ts';
import { readRunInfo, sendRun } from './send-run.ts';
import type { RunInfo, Slot } from './slots.ts';

/** These a person may settle with a reason; everything else about a run is settled by another file. */
const SETTLED_BY_REASON: ReadonlySet<string> = new Set(['run-identity-differs', 'run-identity-open']);

/** Runs of the case, and the way in for a new one: chosen, or dropped on the panel. */
export function RunsList({ caseId, runs, onRun, onMarks, children, label = DEPTH_PAGE_EN.loadRun }: { readonly label?: string; readonly onMarks: (slots: readonly Slot[]) => void; readonly caseId: string; readonly runs: CaseState['runs']; readonly onRun: (run: RunInfo) => void; readonly children?: ComponentChildren }) {
  const [sending, setSending] = useState<number | null>(null);
  const [failure, setFailure] = useState<{ readonly failure: ApiFailure; readonly file: File | null } | null>(null);
  const chooser = useRef<HTMLInputElement>(null);
  const send = async (file: File, because: string | null): Promise<void> => {
    setFailure(null);
    if (file.name.toLowerCase().endsWith('.json')) return takeMarks(file);
    setSending(0);
    const answer = await sendRun(caseId, file, because, setSending);
    setSending(null);
    if (chooser.current) chooser.current.value = '';
    if (answer.ok) onRun(readRunInfo(answer.value));
    else setFailure({ failure: answer.failure, file });
  };
  const takeMarks = async (file: File): Promise<void> => {
    const frames = parseFrames(await file.text());
    if (chooser.current) chooser.current.value = '';
    if (frames.ok) onMarks(makeSlots(frames.value));
    else setFailure({ failure: { ...frames.failure, status: 0, newer: [] }, file: null });
  };
  const open = async (runId: string): Promise<void> => {
    setFailure(null);
    const answer = await callApi('readRun', { params: { caseId, runId } });
    if (answer.ok) onRun(readRunInfo(answer.value));
    else setFailure({ failure: answer.failure, file: null });
  };
  const drop = (event: DragEvent): void => {
    const file = event.dataTransfer?.files[0];
    event.preventDefault();
    if (file && sending === null) void send(file, null);
  };
  return (
    <div class="runs" onDragOver={(e) => e.preventDefault()} onDrop={drop}>
      <label class="button main load-run">
        {label}
        <input ref={chooser} class="hidden" type="file" disabled={sending !== null} onChange={(e) => { const file = e.currentTarget.files?.[0]; if (file) void send(file, null); }} />
      </label>
      {runs.map((run) => (
        <button key={run.runId} type="button" data-run={run.runId} onClick={() => void open(run.runId)}>
          {formatText(DEPTH_PAGE_EN, 'runLine', { view: run.view ? nameView(run.view) : DEPTH_PAGE_EN.runNoView, frames: run.frames })}
          {run.identity.verdict !== 'same' && <span class="tag">{DEPTH_PAGE_EN.runOther}</span>}
        </button>
      ))}
      {children}
      {sending !== null && <p role="status">{formatText(DEPTH_PAGE_EN, 'loading', { percent: Math.round(100 * sending) })}</p>}
      {failure && <FailureNotice failure={failure.failure} {...(failure.file && SETTLED_BY_REASON.has(failure.failure.code) ? { title: DEPTH_PAGE_EN.otherPatient } : {})} />}
      {failure?.file && SETTLED_BY_REASON.has(failure.failure.code) && <JoinAnyway onJoin={(because) => void send(failure.file!, because)} onLeave={() => setFailure(null)} />}
    </div>
  );
}

function JoinAnyway({ onJoin, onLeave }: { readonly onJoin: (because: string) => void; readonly onLeave: () => void }) {
  const [because, setBecause] = useState('');
  return (
    <form class="row" onSubmit={(e) => { e.preventDefault(); if (because.trim().length >= 3) onJoin(because.trim()); }}>
      <Field label={DEPTH_PAGE_EN.because}>{(p) => <input {...p} maxLength={400} value={because} onInput={(e) => setBecause(e.currentTarget.value)} />}</Field>
      <button type="submit" disabled={because.trim().length < 3}>{DEPTH_PAGE_EN.joinAll}</button>
      <button type="button" class="quiet" onClick={onLeave}>{DEPTH_PAGE_EN.leaveRun}</button>
    </form>
  );
}
