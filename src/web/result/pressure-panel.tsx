import { useEffect, useState } from 'preact/hooks';
import type { RecordingLine } from '../../core/case/fold-result.ts';
import type { RecordingMoment } from '../../core/case/result-events.ts';
import type { PressureAnswer } from '../../core/haemodynamics/pressure-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { MOST_RECORDING_BYTES, type RecordingAnswer } from '../../formats/api/result-schemas.ts';
import { BECAUSE_HEADER } from '../../formats/api/run-schemas.ts';
import { callApi, sendFile, type ApiFailure, type ApiResult } from '../api/call-api.ts';
import { sayMoment } from '../parts/days.ts';
import { Field } from '../parts/field.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { caseState } from '../state/open-case.ts';
import { canSeeIndices } from '../state/result.ts';
import { FactRows } from './fact-rows.tsx';
import { FilePlace } from './file-place.tsx';
import { findCounting, readTakenAt } from './find-counting.ts';
import { LivePanel } from './live-panel.tsx';
import { readMoment } from './moments.ts';
import { packRecording } from './pack-recording.ts';
import { PressureTrace } from './pressure-trace.tsx';
import { WitnessCare } from './witness-care.tsx';
import { sayWithoutFlags } from './say-without-flags.ts';

const refuseHere = (code: string, message: string, nextStep: string): ApiResult<never> => ({ ok: false, failure: { status: 0, code, message, nextStep, evidence: {}, newer: [] } });

/** Only the ending of the name goes with the bytes; a reason goes in a header, since addresses stand in logs. */
async function sendRecording(caseId: string, files: readonly File[], ask: { readonly moment: RecordingMoment; readonly takenAt: string; readonly channels: string }, because: string | null, tell: (ratio: number) => void): Promise<ApiResult<RecordingAnswer>> {
  const bytes = files.reduce((sum, f) => sum + f.size, 0);
  if (bytes > MOST_RECORDING_BYTES) return refuseHere('recording-too-large', formatText(RESULT_PAGE_EN, 'tooLarge', { mb: MOST_RECORDING_BYTES / 1024 ** 2 }), RESULT_PAGE_EN.tooLargeNext);
  const packed = packRecording(await Promise.all(files.map(async (f) => ({ name: f.name, bytes: new Uint8Array(await f.arrayBuffer()) }))));
  if (!packed) return refuseHere('recording-none', RESULT_PAGE_EN.noFile, RESULT_PAGE_EN.noFileNext);
  const query = { moment: ask.moment, takenAt: ask.takenAt, ending: packed.ending, ...(ask.channels.trim() === '' ? {} : { channels: ask.channels.trim() }) };
  return sendFile('addRecording', { params: { caseId }, query }, new Blob([packed.bytes]), tell, because === null ? {} : { [BECAUSE_HEADER]: encodeURIComponent(because) });
}

/** Pressures: recordings of before and after, what was measured in them, and what was found wrong. */
export function PressurePanel() {
  const state = caseState.value;
  const [moment, setMoment] = useState<RecordingMoment>('after');
  const [at, setAt] = useState('');
  const [channels, setChannels] = useState('');
  const [opened, setOpened] = useState<string | null>(null);
  if (!state) return null;
  const { recordings } = state.result;
  const newest = recordings.at(-1) ?? null;
  const shown = recordings.find((r) => r.recordingId === opened) ?? newest;
  const counts = findCounting(recordings.filter((r) => r.moment === 'after'))?.recordingId ?? null;
  const send = async (files: readonly File[], because: string | null, tell: (ratio: number) => void): Promise<ApiResult<unknown>> => {
    const takenAt = at.trim() === '' ? new Date().toISOString() : readMoment(at, new Date());
    if (takenAt === null) return refuseHere('moment-unreadable', RESULT_PAGE_EN.momentWrong, RESULT_PAGE_EN.momentWrongNext);
    const answer = await sendRecording(state.caseId, files, { moment, takenAt, channels }, because, tell);
    if (answer.ok) {
      kept.set(keyOf(state.caseId, answer.value.recordingId), answer.value);
      setOpened(answer.value.recordingId);
      setAt('');
    }
    return answer;
  };
  return (
    <section class="witness-panel" id="result-pressures" aria-labelledby="pressures-name">
      <h4 id="pressures-name">{RESULT_PAGE_EN.pressuresTitle}</h4>
      <div class="hand-in">
        <fieldset class="choices row">
          <legend>{RESULT_PAGE_EN.takenWhen}</legend>
          {(['baseline', 'after'] as const).map((each) => <label key={each} class="inline"><input type="radio" name="moment" checked={moment === each} onChange={() => setMoment(each)} /> {RESULT_PAGE_EN[`moment-${each}`]}</label>)}
        </fieldset>
        <Field label={RESULT_PAGE_EN.moment}>{(p) => <input {...p} class="moment" placeholder={RESULT_PAGE_EN.momentNow} maxLength={19} autocomplete="off" value={at} onInput={(e) => setAt(e.currentTarget.value)} />}</Field>
        <details>
          <summary class="act">{RESULT_PAGE_EN.channelsOpen}</summary>
          <Field label={RESULT_PAGE_EN.channels} help={RESULT_PAGE_EN.channelsHelp}>{(p) => <input {...p} maxLength={2000} autocomplete="off" spellcheck={false} placeholder="AO=aortic,LV=ventricular" value={channels} onInput={(e) => setChannels(e.currentTarget.value)} />}</Field>
        </details>
        <LivePanel channels={channels} moment={moment} onKept={setOpened} />
        <FilePlace label={RESULT_PAGE_EN.handRecording} help={RESULT_PAGE_EN.handRecordingHelp} isMany send={send} />
      </div>
      {recordings.length === 0 ? <p class="soft">{RESULT_PAGE_EN.noRecordings}</p> : (
        <ul class="witness-list">
          {recordings.slice().reverse().map((r) => (
            <li key={r.recordingId}>
              <button type="button" class="quiet" aria-expanded={shown?.recordingId === r.recordingId} onClick={() => setOpened(r.recordingId)}>
                {formatText(RESULT_PAGE_EN, 'recordingLine', { moment: RESULT_PAGE_EN[`moment-${r.moment}`], at: sayMoment(readTakenAt(r)), s: Math.round(r.durationS), format: r.format.toUpperCase() })}
              </button>{' '}
              <RecordingTags line={r} isCounted={r.recordingId === counts} />
            </li>
          ))}
        </ul>
      )}
      {shown && <RecordingView key={shown.recordingId} caseId={state.caseId} line={shown} />}
    </section>
  );
}

function RecordingTags({ line, isCounted }: { readonly line: RecordingLine; readonly isCounted: boolean }) {
  return (
    <>
      {isCounted && <b>{RESULT_PAGE_EN.counts}</b>}
      {line.withdrawn && <span class="tag">{RESULT_PAGE_EN.withdrawnTag}</span>}
      {line.refusal && <span class="tag">{RESULT_PAGE_EN.refusedTag}</span>}
      {line.identity.verdict !== 'same' && <span class="tag">{RESULT_PAGE_EN.otherIdentity}</span>}
    </>
  );
}

const kept = new Map<string, RecordingAnswer>();
const keyOf = (caseId: string, recordingId: string): string => `${caseId} ${recordingId}`;

function RecordingView({ caseId, line }: { readonly caseId: string; readonly line: RecordingLine }) {
  const key = keyOf(caseId, line.recordingId);
  const [answer, setAnswer] = useState<RecordingAnswer | null>(kept.get(key) ?? null);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  useEffect(() => {
    if (kept.has(key)) return;
    void callApi('readRecording', { params: { caseId, recordingId: line.recordingId } }).then((read) => {
      if (!read.ok) return setFailure(read.failure);
      kept.set(key, read.value);
      setAnswer(read.value);
    });
  }, [key]);
  return (
    <div class="witness-view">
      {failure && <FailureNotice failure={failure} />}
      {line.refusal && (
        <div class="notice" role="status" data-code={line.refusal.code}>
          <b class="tag">{RESULT_PAGE_EN.refusedTag}</b>
          <div><p>{line.refusal.text}</p><p class="soft">{sayWithoutFlags(line.refusal.next)}</p></div>
        </div>
      )}
      {answer?.answer && <PressureWords answer={answer.answer} />}
      <PressureTrace caseId={caseId} recordingId={line.recordingId} answer={answer?.answer ?? null} durationS={line.durationS} />
      {answer?.answer && <PressureFacts answer={answer.answer} />}
      {answer?.answer && <Quality answer={answer.answer} />}
      <WitnessCare key={`${line.recordingId} ${line.note?.seq ?? 0} ${answer === null}`} of={line.recordingId} isWitness={line.moment === 'after'} takenAt={line.takenAt} ratePerMin={answer?.answer?.rhythm.ratePerMin.value ?? null} witness={line} />
    </div>
  );
}

function PressureWords({ answer: { rhythm } }: { readonly answer: PressureAnswer }) {
  return <p>{formatText(RESULT_PAGE_EN, 'rhythmLine', { word: rhythm.word, rate: rhythm.ratePerMin.value === null ? RESULT_PAGE_EN.rateUnknown : Math.round(rhythm.ratePerMin.value), counted: rhythm.counted, beats: rhythm.beats })}</p>;
}

function PressureFacts({ answer: { aortic, ventricular, gradients, leak } }: { readonly answer: PressureAnswer }) {
  const name = RESULT_PAGE_EN;
  return (
    <>
      <div class="tables">
        <FactRows caption={name.tableAorta} rows={[{ name: name.systolic, fact: aortic.systolic }, { name: name.diastolic, fact: aortic.diastolic }, { name: name.mean, fact: aortic.mean }, { name: name.pulse, fact: aortic.pulse }, { name: name.notch, fact: aortic.notchShare }]} />
        <FactRows caption={name.tableVentricle} rows={[{ name: name.systolic, fact: ventricular.systolic }, { name: name.endDiastolic, fact: ventricular.endDiastolic }]} />
        <FactRows caption={gradients.how === 'pullback' ? name.tableGradientPullback : name.tableGradient} rows={[{ name: name.gradientMean, fact: gradients.meanMmHg }, { name: name.gradientPeakToPeak, fact: gradients.peakToPeakMmHg }, { name: name.gradientPeak, fact: gradients.peakInstantaneousMmHg }]} />
        {canSeeIndices() && <FactRows caption={name.tableLeak} rows={[{ name: name.arIndex, fact: leak.arIndex }, { name: name.arIndexRatio, fact: leak.arIndexRatio }, { name: name.diastolicDelta, fact: leak.diastolicDeltaMmHg }, { name: name.rateAdjusted, fact: leak.hrAdjustedMmHg }, { name: name.pressureTime, fact: leak.dptAdjusted }]} />}
      </div>
      {!canSeeIndices() && <p class="sealed">{name.indicesSealed}</p>}
    </>
  );
}
function Quality({ answer: { quality } }: { readonly answer: PressureAnswer }) {
  if (quality.length === 0) return <p class="soft">{RESULT_PAGE_EN.qualityNone}</p>;
  return (
    <section class="quality" aria-label={RESULT_PAGE_EN.qualityTitle}>
      <h5>{RESULT_PAGE_EN.qualityTitle}</h5>
      {quality.map((q, i) => (
        <div key={`${q.code} ${i}`} class="note" data-code={q.code}>
          <p><span class={q.weight === 'tell' ? 'soft' : 'tag'}>{RESULT_PAGE_EN[`weight-${q.weight}`]}</span> {q.channel !== null && q.channel !== undefined && <b>{RESULT_PAGE_EN[`channel-${q.channel}`]}: </b>}{q.text}{q.fromS !== null && ` ${formatText(RESULT_PAGE_EN, 'qualityAt', { from: q.fromS.toFixed(1), to: (q.toS ?? q.fromS).toFixed(1) })}`}</p>
          <p class="soft">{sayWithoutFlags(q.next)}</p>
        </div>
      ))}
    </section>
  );
}
