import { useRef, useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { DEPTH_PAGE_EN } from '../../core/text/depth-page-en.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import type { ApiFailure, ApiResult } from '../api/call-api.ts';
import { Field } from '../parts/field.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { may } from '../state/session.ts';

/** These a person may settle with a reason; everything else about a file is settled by another file. */
const SETTLED_BY_REASON = /identity-(differs|open)$/;

/**
 * A place where files are dropped or chosen. `send` hands them in; when they do not name this patient a reason is asked and
 * they are sent again with it, unless the person leaves them.
 */
export function FilePlace({ label, help, isMany = false, send }: { readonly label: string; readonly help: string; readonly isMany?: boolean; readonly send: (files: readonly File[], because: string | null, tell: (ratio: number) => void) => Promise<ApiResult<unknown>> }) {
  const [sending, setSending] = useState<number | null>(null);
  const [isOver, setOver] = useState(false);
  const [refused, setRefused] = useState<{ readonly failure: ApiFailure; readonly files: readonly File[] } | null>(null);
  const chooser = useRef<HTMLInputElement>(null);
  if (!may('edit')) return null;
  const hand = async (files: readonly File[], because: string | null): Promise<void> => {
    if (files.length === 0 || sending !== null) return;
    setRefused(null);
    setSending(0);
    const answer = await send(files, because, setSending);
    setSending(null);
    if (chooser.current) chooser.current.value = '';
    if (!answer.ok) setRefused({ failure: answer.failure, files });
  };
  const drop = (event: DragEvent): void => {
    event.preventDefault();
    setOver(false);
    void hand([...(event.dataTransfer?.files ?? [])].slice(0, isMany ? undefined : 1), null);
  };
  const isOther = refused !== null && SETTLED_BY_REASON.test(refused.failure.code);
  return (
    <div class={isOver ? 'drop over' : 'drop'} onDragOver={(e) => { e.preventDefault(); setOver(true); }} onDragLeave={() => setOver(false)} onDrop={drop}>
      <p>
        <label class="button load-file">
          {label}
          <input ref={chooser} class="hidden" type="file" multiple={isMany} disabled={sending !== null} onChange={(e) => void hand([...(e.currentTarget.files ?? [])], null)} />
        </label>{' '}
        <span class="soft">{RESULT_PAGE_EN.orDrop}</span>
      </p>
      <p class="help">{help}</p>
      {sending !== null && <p role="status">{sending < 1 ? formatText(RESULT_PAGE_EN, 'sending', { percent: Math.round(100 * sending) }) : RESULT_PAGE_EN.measuring}</p>}
      {refused && <FailureNotice failure={refused.failure} title={!isOther ? RESULT_PAGE_EN.notTaken : refused.failure.code.endsWith('-open') ? RESULT_PAGE_EN.unprovenTitle : DEPTH_PAGE_EN.otherPatient} />}
      {refused && isOther && <Because onJoin={(because) => void hand(refused.files, because)} onLeave={() => setRefused(null)} />}
    </div>
  );
}

function Because({ onJoin, onLeave }: { readonly onJoin: (because: string) => void; readonly onLeave: () => void }) {
  const [because, setBecause] = useState('');
  return (
    <form class="row" onSubmit={(e) => { e.preventDefault(); if (because.trim().length >= 3) onJoin(because.trim()); }}>
      <Field label={RESULT_PAGE_EN.becauseFile}>{(p) => <input {...p} name="because" maxLength={400} value={because} onInput={(e) => setBecause(e.currentTarget.value)} />}</Field>
      <button type="submit" disabled={because.trim().length < 3}>{RESULT_PAGE_EN.joinAll}</button>
      <button type="button" class="quiet" onClick={onLeave}>{RESULT_PAGE_EN.leaveFile}</button>
    </form>
  );
}
