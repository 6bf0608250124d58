import { useRef, useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { IMPORT_EN } from '../../core/text/import-en.ts';
import { cancelImport, importFailure, pauseImport, resumeImport, retryImport, sendingHere, startImport, type Sending } from '../state/import.ts';
import { readDropped, readPicked, type HandedFile } from '../state/import-files.ts';
import { cancelJob, importJob, type Job } from '../state/open-case.ts';
import { Field } from './field.tsx';
import { FailureNotice, Notice } from './notice.tsx';
import { saySize, sayTimeLeft } from './sizes.ts';

const MOST_FILES = 50_000;
const MOST_BYTES = 4 * 1024 ** 3;

/** Where a CT is handed in, and everything that can be said about one that is on its way. */
export function ImportPlace({ caseId, hasScan }: { readonly caseId: string; readonly hasScan: boolean }) {
  const now = sendingHere();
  const job = importJob.value;
  const failure = importFailure.value;
  const isReading = job !== null && (job.state === 'waiting' || job.state === 'running');
  return (
    <div class="import">
      {now && <SendingState now={now} />}
      {failure && <FailureNotice failure={failure} />}
      {!now && job?.state === 'receiving' && (
        <Notice>
          <p>{IMPORT_EN.waitingElsewhere}</p>
          <p class="soft">{formatText(DESK_EN, 'next', { next: IMPORT_EN.waitingElsewhereNext })}</p>
          <button type="button" onClick={() => void cancelJob(job.jobId)}>{IMPORT_EN.stop}</button>
        </Notice>
      )}
      {isReading && <Reading job={job} />}
      {!now && job?.state === 'failed' && <FailedImport job={job} />}
      {!now && !isReading && <DropPlace caseId={caseId} hasScan={hasScan} />}
    </div>
  );
}

function DropPlace({ caseId, hasScan }: { readonly caseId: string; readonly hasScan: boolean }) {
  const [isOver, setOver] = useState(false);
  const [problem, setProblem] = useState<readonly [string, string] | null>(null);
  const folder = useRef<HTMLInputElement>(null);
  const files = useRef<HTMLInputElement>(null);
  const take = (handed: readonly HandedFile[]): void => {
    const bytes = handed.reduce((sum, f) => sum + f.file.size, 0);
    if (handed.length === 0) return setProblem([IMPORT_EN.nothingDropped, IMPORT_EN.nothingDroppedNext]);
    if (handed.length > MOST_FILES || bytes > MOST_BYTES) return setProblem([formatText(IMPORT_EN, 'tooMany', { files: handed.length, size: saySize(bytes) }), IMPORT_EN.tooManyNext]);
    setProblem(null);
    void startImport(caseId, handed);
  };
  const drop = (event: DragEvent): void => {
    event.preventDefault();
    setOver(false);
    if (event.dataTransfer) void readDropped(event.dataTransfer.items).then(take);
  };
  const picked = (input: HTMLInputElement): void => {
    if (input.files) take(readPicked(input.files));
    input.value = '';
  };
  return (
    <div
      class={isOver ? 'drop over' : 'drop'}
      onDragOver={(e) => { e.preventDefault(); setOver(true); }}
      onDragLeave={() => setOver(false)}
      onDrop={drop}
    >
      <p><b>{hasScan ? IMPORT_EN.dropAgain : IMPORT_EN.dropTitle}</b></p>
      {hasScan && <p>{IMPORT_EN.dropAgainSay}</p>}
      <p>{IMPORT_EN.dropSay}</p>
      <p>
        <button type="button" class={hasScan ? '' : 'main'} onClick={() => folder.current?.click()}>{IMPORT_EN.pickFolder}</button>{' '}
        <button type="button" onClick={() => files.current?.click()}>{IMPORT_EN.pickFiles}</button>
      </p>
      <input ref={folder} type="file" hidden multiple {...{ webkitdirectory: true }} aria-label={IMPORT_EN.pickFolder} onChange={(e) => picked(e.currentTarget)} />
      <input ref={files} type="file" hidden multiple aria-label={IMPORT_EN.pickFiles} onChange={(e) => picked(e.currentTarget)} />
      {problem && <Notice isUrgent><p>{problem[0]}</p><p class="soft">{formatText(DESK_EN, 'next', { next: problem[1] })}</p></Notice>}
    </div>
  );
}

function SendingState({ now }: { readonly now: Sending }) {
  const said = formatText(IMPORT_EN, 'progress', { sent: saySize(now.sentBytes), all: saySize(now.bytes), file: Math.min(now.sentFiles + 1, now.files), files: now.files });
  const left = now.bytesPerS ? formatText(IMPORT_EN, 'timeLeft', { left: sayTimeLeft((now.bytes - now.sentBytes) / now.bytesPerS), rate: saySize(now.bytesPerS) }) : IMPORT_EN.timeUnknown;
  return (
    <div class="sending">
      <progress max={now.bytes} value={now.sentBytes} aria-label={said} />
      <p class="value">{said}</p>
      <p class="soft">{now.state === 'paused' ? <b class="tag">{IMPORT_EN.paused}</b> : now.state === 'failed' ? <b class="tag">{IMPORT_EN.brokenOff}</b> : left}</p>
      {now.state === 'sending' ? <button type="button" onClick={pauseImport}>{IMPORT_EN.pause}</button> : <button type="button" class="main" onClick={resumeImport}>{IMPORT_EN.goOn}</button>}{' '}
      <button type="button" onClick={() => void cancelImport()}>{IMPORT_EN.stop}</button>
    </div>
  );
}

function Reading({ job }: { readonly job: Job }) {
  return (
    <div class="sending">
      <progress max={1} value={job.progress.ratio} aria-label={job.progress.step} />
      <p role="status">{job.progress.step}</p>
      <button type="button" onClick={() => void cancelJob(job.jobId)}>{IMPORT_EN.stop}</button>
    </div>
  );
}

/** A scan that was refused. When its patient differs, a person may join it with a reason; nothing else can be overruled. */
function FailedImport({ job }: { readonly job: Job }) {
  const { failure } = job;
  if (!failure) return null;
  const isIdentity = failure.code.startsWith('identity');
  const join = (event: SubmitEvent): void => {
    event.preventDefault();
    const because = String(new FormData(event.currentTarget as HTMLFormElement).get('because')).trim();
    if (because.length >= 3) void retryImport(job.jobId, because);
  };
  return (
    <Notice title={isIdentity ? IMPORT_EN.identityTitle : IMPORT_EN.jobFailed} isUrgent>
      <p>{failure.text}</p>
      <p class="soft">{formatText(DESK_EN, 'next', { next: failure.next })}</p>
      {isIdentity ? (
        <form onSubmit={join}>
          <Field label={IMPORT_EN.identityBecause} help={IMPORT_EN.identityHelp}>{(p) => <textarea {...p} name="because" required minLength={3} maxLength={400} rows={2} />}</Field>
          <button type="submit">{IMPORT_EN.identityJoin}</button>
        </form>
      ) : (
        <button type="button" onClick={() => void retryImport(job.jobId, null)}>{IMPORT_EN.again}</button>
      )}
    </Notice>
  );
}
