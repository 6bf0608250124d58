import { useRef, useState } from 'preact/hooks';
import type { EcgMoment } from '../../core/rhythm/rhythm-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import { BECAUSE_HEADER } from '../../formats/api/run-schemas.ts';
import { MOST_RECORDING_BYTES } from '../../formats/api/result-schemas.ts';
import { sendFile, type ApiFailure } from '../api/call-api.ts';
import { Field } from '../parts/field.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { caseState } from '../state/open-case.ts';

/** Where the record of one ECG is handed in. One that does not name this patient asks for a reason. */
export function EcgFile({ moment, takenAt }: { readonly moment: EcgMoment; readonly takenAt: string | null }) {
  const [isOver, setOver] = useState(false);
  const [ratio, setRatio] = useState<number | null>(null);
  const [isSent, setSent] = useState(false);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [because, setBecause] = useState('');
  const waiting = useRef<File | null>(null);
  const input = useRef<HTMLInputElement>(null);
  const refuse = (code: string, message: string, nextStep: string): void => setFailure({ status: 0, code, message, nextStep, evidence: {}, newer: [] });
  const send = async (file: File | null, reason: string | null): Promise<void> => {
    const caseId = caseState.peek()?.caseId;
    setSent(false);
    if (!file || caseId === undefined) return;
    waiting.current = file;
    if (takenAt === null) return refuse('time-missing', RHYTHM_PAGE_EN.wrongTime, RHYTHM_PAGE_EN.fileTime);
    if (file.size > MOST_RECORDING_BYTES) return refuse('recording-too-large', formatText(RHYTHM_PAGE_EN, 'fileTooLarge', { mb: MOST_RECORDING_BYTES / 1024 ** 2 }), RHYTHM_PAGE_EN.fileTooLargeNext);
    setFailure(null);
    setRatio(0);
    // The name of the file stays here: it might be the patient's.
    const ending = /\.([a-z0-9]{1,8})$/.exec(file.name.toLowerCase())?.[1] ?? 'bin';
    const answer = await sendFile('addEcg', { params: { caseId }, query: { moment, takenAt, ending } }, file, setRatio, reason === null ? {} : { [BECAUSE_HEADER]: encodeURIComponent(reason) });
    setRatio(null);
    setFailure(answer.ok ? null : answer.failure);
    setSent(answer.ok);
  };
  const needsReason = failure !== null && failure.code.startsWith('file-identity');
  return (
    <div
      class={isOver ? 'drop over' : 'drop'}
      onDragOver={(e) => { e.preventDefault(); setOver(true); }}
      onDragLeave={() => setOver(false)}
      onDrop={(e) => { e.preventDefault(); setOver(false); void send(e.dataTransfer?.files[0] ?? null, null); }}
    >
      <p><b>{RHYTHM_PAGE_EN.fileTitle}</b> {RHYTHM_PAGE_EN.fileSay} {RHYTHM_PAGE_EN.fileTime}</p>
      <p><button type="button" disabled={ratio !== null} onClick={() => input.current?.click()}>{RHYTHM_PAGE_EN.pickFile}</button></p>
      <input
        ref={input} type="file" hidden aria-label={RHYTHM_PAGE_EN.pickFile}
        onChange={(e) => { void send(e.currentTarget.files?.[0] ?? null, null); e.currentTarget.value = ''; }}
      />
      {ratio !== null && <p role="status">{formatText(RHYTHM_PAGE_EN, 'sending', { percent: Math.round(100 * ratio) })}</p>}
      {isSent && <p role="status"><b>{RHYTHM_PAGE_EN.sent}</b></p>}
      {failure && <FailureNotice failure={failure} {...(needsReason ? {} : { title: DESK_EN.refusedPlain })} />}
      {needsReason && (
        <div class="reason">
          <Field label={RHYTHM_PAGE_EN.because}>{(p) => <input {...p} maxLength={400} value={because} onInput={(e) => setBecause(e.currentTarget.value)} />}</Field>
          <button type="button" disabled={because.trim().length < 3} onClick={() => void send(waiting.current, because.trim())}>{RHYTHM_PAGE_EN.handInSo}</button>
        </div>
      )}
    </div>
  );
}
