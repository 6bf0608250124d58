import { useEffect, useRef, useState } from 'preact/hooks';
import type { RecordingMoment } from '../../core/case/result-events.ts';
import type { LiveBeat } from '../../core/haemodynamics/live-pressure.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { callApi, sendText, type ApiFailure, type ApiResult } from '../api/call-api.ts';
import { FailureNotice } from '../parts/notice.tsx';
import { formatSpan, useNow } from '../room/times.ts';
import { caseState } from '../state/open-case.ts';
import { canSeeIndices } from '../state/result.ts';
import { readServerNow } from '../state/room-log.ts';
import { may } from '../state/session.ts';
import { FactRows } from './fact-rows.tsx';
import { cutText, LINE_RATES, openSerial, type SerialSource } from './serial-source.ts';
import { sayWithoutFlags } from './say-without-flags.ts';

interface Live {
  readonly liveId: string;
  readonly beganAt: string;
  readonly count: number;
  readonly last: { readonly beat: LiveBeat; readonly heardMs: number } | null;
  readonly findings: readonly { readonly code: string; readonly text: string; readonly next: string }[];
}
/** A beat that is older than this is not the present pressure any more (hazard 11). */
const OLD_MS = 5000;

/** Pressures as they come: from a serial line where the browser has one, or from a CSV text in parts; each beat is read at once. */
export function LivePanel({ channels, moment, onKept }: { readonly channels: string; readonly moment: RecordingMoment; readonly onKept: (recordingId: string) => void }) {
  const caseId = caseState.value?.caseId ?? '';
  const [live, setLive] = useState<Live | null>(null);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [rate, setRate] = useState<number>(LINE_RATES[0]);
  const line = useRef<SerialSource | null>(null);
  const queue = useRef<Promise<unknown>>(Promise.resolve());
  useEffect(() => () => line.current?.stop(), []);
  if (!may('edit')) return null;

  const fail = (problem: ApiFailure): void => {
    line.current?.stop();
    line.current = null;
    setFailure(problem);
    setLive(null); // the server has forgotten the stream
  };
  const begin = async (): Promise<string | null> => {
    setFailure(null);
    const opened = await callApi('openLive', { params: { caseId }, body: { channels: channels.trim() === '' ? null : channels.trim() } });
    if (!opened.ok) {
      setFailure(opened.failure);
      return null;
    }
    setLive({ liveId: opened.value.liveId, beganAt: new Date().toISOString(), count: 0, last: null, findings: [] });
    return opened.value.liveId;
  };
  /** Parts go one after another: their order is that of the samples. */
  const append = (liveId: string, text: string): void => {
    for (const part of cutText(text)) {
      queue.current = queue.current.then(async () => {
        const answer = await sendText('appendLive', { params: { caseId, liveId } }, part);
        if (!answer.ok) return fail(answer.failure);
        const { beats, findings } = answer.value;
        const newest = beats.at(-1);
        setLive((was) => was && { ...was, count: was.count + beats.length, last: newest ? { beat: newest, heardMs: readServerNow() } : was.last, findings: [...was.findings, ...findings].slice(-5) });
      });
    }
  };
  const beginLine = async (): Promise<void> => {
    const source = await openSerial(rate);
    if (source === null) return;
    const liveId = await begin();
    if (liveId === null) return source.stop();
    line.current = source;
    source.follow((text) => append(liveId, text));
  };
  const end = async (keep: boolean): Promise<void> => {
    if (!live) return;
    line.current?.stop();
    line.current = null;
    await queue.current;
    const answer: ApiResult<{ readonly recordingId: string } | null> = await callApi('endLive', { params: { caseId, liveId: live.liveId }, body: { keep: keep ? { moment, takenAt: live.beganAt } : null } });
    if (!answer.ok) return setFailure(answer.failure);
    setLive(null);
    if (answer.value) onKept(answer.value.recordingId);
  };
  return (
    <details class="live" open={live !== null}>
      <summary class="act">{RESULT_PAGE_EN.liveTitle}</summary>
      {failure && <FailureNotice failure={failure} />}
      {live === null ? (
        <>
          <p class="help">{RESULT_PAGE_EN.liveHelp}</p>
          <div class="row">
            <button type="button" onClick={() => void begin()}>{RESULT_PAGE_EN.liveBegin}</button>
            {'serial' in navigator && (
              <>
                <button type="button" onClick={() => void beginLine()}>{RESULT_PAGE_EN.liveSerial}</button>
                <label class="inline">{RESULT_PAGE_EN.liveRate} <select value={rate} onChange={(e) => setRate(Number(e.currentTarget.value))}>{LINE_RATES.map((r) => <option key={r} value={r}>{r}</option>)}</select></label>
              </>
            )}
          </div>
        </>
      ) : (
        <>
          <LiveNumbers live={live} />
          {live.findings.map((f, i) => <div key={`${f.code} ${i}`} class="note" data-code={f.code}><p>{f.text}</p><p class="soft">{sayWithoutFlags(f.next)}</p></div>)}
          {line.current === null && <Paste onText={(text) => append(live.liveId, text)} />}
          <div class="row">
            <button type="button" class="main" onClick={() => void end(true)}>{RESULT_PAGE_EN.liveKeep}</button>
            <button type="button" class="quiet" onClick={() => void end(false)}>{RESULT_PAGE_EN.liveForget}</button>
          </div>
        </>
      )}
    </details>
  );
}

function LiveNumbers({ live: { last, count } }: { readonly live: Live }) {
  const now = useNow();
  if (last === null) return <p role="status">{RESULT_PAGE_EN.liveWaits}</p>;
  const { beat, over } = last.beat;
  const ageMs = now - last.heardMs;
  const isOld = ageMs > OLD_MS;
  const name = RESULT_PAGE_EN;
  return (
    <div class={isOld ? 'live-numbers old' : 'live-numbers'}>
      <p>{isOld && <span class="tag">{name.liveOld}</span>} {formatText(name, 'liveBeats', { count, age: formatSpan(Math.max(0, ageMs)) })}</p>
      <FactRows caption={name.liveBeat} rows={[{ name: name.systolic, fact: beat.systolic }, { name: name.diastolic, fact: beat.diastolic }, { name: name.endDiastolic, fact: beat.endDiastolic }, { name: name.rate, fact: beat.ratePerMin }, { name: name.gradientMean, fact: beat.meanGradient }]} />
      {canSeeIndices() ? <FactRows caption={name.liveOver} rows={[{ name: name.arIndex, fact: over.leak.arIndex }, { name: name.diastolicDelta, fact: over.leak.diastolicDeltaMmHg }]} /> : <p class="sealed">{name.indicesSealed}</p>}
      {over.quality.filter((q) => q.weight !== 'tell').map((q, i) => <div key={`${q.code} ${i}`} class="note" data-code={q.code}><p>{q.text}</p><p class="soft">{sayWithoutFlags(q.next)}</p></div>)}
    </div>
  );
}

/** Text that a recorder's export or a person pastes; the next part goes on where the last one ended. */
function Paste({ onText }: { readonly onText: (text: string) => void }) {
  const [text, setText] = useState('');
  const send = (): void => {
    if (text === '') return;
    onText(text.endsWith('\n') ? text : `${text}\n`);
    setText('');
  };
  return (
    <div class="field">
      <label for="live-paste">{RESULT_PAGE_EN.livePaste}</label>
      <textarea id="live-paste" rows={3} spellcheck={false} value={text} onInput={(e) => setText(e.currentTarget.value)} />
      <p><button type="button" disabled={text === ''} onClick={send}>{RESULT_PAGE_EN.liveSend}</button></p>
    </div>
  );
}
