import { useState } from 'preact/hooks';
import type { ResultDecision } from '../../core/case/result-events.ts';
import { makeVerdictEntry } from '../../core/room/make-verdict-entry.ts';
import { REMEDIES } from '../../core/verdict/verdict-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { RESULT_SHEET_EN } from '../../core/text/result-sheet-en.ts';
import { VERDICT_EN } from '../../core/text/verdict-en.ts';
import { drawVerdict, type DrawnVerdict } from '../../formats/report/make-result-section.ts';
import type { ApiFailure } from '../api/call-api.ts';
import { sayMoment } from '../parts/days.ts';
import { Field } from '../parts/field.tsx';
import { Markup } from '../parts/markup.tsx';
import { FailureNotice, Notice } from '../parts/notice.tsx';
import { formatClock, formatSpan, useNow } from '../room/times.ts';
import { nameOf } from '../state/names.ts';
import { addEvents, caseState } from '../state/open-case.ts';
import { isVerdictOld, mayAsk, result, showVerdict, shownVerdict } from '../state/result.ts';
import { isOnline, logEntry, room } from '../state/room-log.ts';
import { may } from '../state/session.ts';

/** The verdict that this page was shown, drawn; null while there is none on it. */
export function readDrawn(): DrawnVerdict | null {
  const shown = shownVerdict.value?.result ?? null;
  if (!shown) return null;
  const grades = shown.grades.map((g) => ({ who: nameOf(g.by), of: g.of, interval: [g.low, g.high] as const, at: g.at, heartRatePerMin: g.heartRatePerMin, loadingNote: g.loadingNote }));
  return drawVerdict(shown.verdict, grades, { id: 'result-bars', nameOf, formatTime: (at) => formatClock(at) });
}

/** The word, what it means, and one thing to do; or the way to it. */
export function VerdictAnswerPanel({ drawn }: { readonly drawn: DrawnVerdict | null }) {
  const [isAsking, setAsking] = useState(false);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const ask = async (): Promise<void> => {
    setAsking(true);
    const answer = await showVerdict();
    setAsking(false);
    setFailure(answer.ok ? null : answer.failure);
  };
  const isOpen = mayAsk.value;
  const shown = shownVerdict.value?.result ?? null;
  return (
    <>
      {drawn && shown && (
        <div class={isVerdictOld.value ? 'leak-verdict old' : 'leak-verdict'} data-word={drawn.word} data-side={shown.verdict.verdict?.side ?? ''}>
          {isVerdictOld.value && <Notice title={RESULT_PAGE_EN.verdictOld}><p>{RESULT_PAGE_EN.verdictOldSay}</p></Notice>}
          <p class="word"><span>{drawn.heading}</span></p>
          <p class="say">{drawn.say}</p>
          <p class="next-act">{shown.verdict.next}</p>
          <Markup html={drawn.bars} />
          <nav class="row go-to" aria-label={RESULT_PAGE_EN.toNext}>
            {shown.verdict.settling.length > 0 && <a href="#settle-name">{RESULT_PAGE_EN.toSettle}</a>}
            <a href="#decision-name">{RESULT_PAGE_EN.toDecision}</a>
          </nav>
        </div>
      )}
      {isOpen && may('edit') && (!drawn || isVerdictOld.value) && <p><button type="button" class="main show-verdict" disabled={isAsking} onClick={() => void ask()}>{drawn ? RESULT_PAGE_EN.showAgain : RESULT_PAGE_EN.show}</button></p>}
      {isOpen && !may('edit') && !drawn && <p class="soft">{RESULT_PAGE_EN.mayNotShow}</p>}
      {failure && <FailureNotice failure={failure} />}
    </>
  );
}

/** How long the signed rule lets the frame open by itself, running; it says nothing of any grade. */
export function WaitTimer() {
  const now = useNow();
  const waiting = (shownVerdict.value?.result ?? result.value)?.verdict.waiting;
  if (!waiting) return null;
  const leftMs = waiting.dueMs === null ? null : waiting.dueMs - now;
  return (
    <div class="wait" role="group" aria-label={RESULT_PAGE_EN.waitTitle}>
      <h4>{RESULT_PAGE_EN.waitTitle}</h4>
      {leftMs === null ? <p>{waiting.because}</p> : (
        <p><span class="value">{leftMs > 0 ? formatSpan(leftMs) : RESULT_PAGE_EN.waitOver}</span>{leftMs > 0 && ` ${RESULT_PAGE_EN.waitLeft}`}{waiting.isUnverified && <> <span class="tag">{RESULT_PAGE_EN.unverified}</span></>}</p>
      )}
      <p class="soft">{waiting.expected}</p>
    </div>
  );
}

/** Puts the shown verdict on the wall: a tap of the room, like all that the wall shows. */
export function WallTap() {
  const shown = shownVerdict.value?.result ?? null;
  if (!shown || shown.answerSha256 === null) return null;
  const entry = makeVerdictEntry(shown.verdict, shown.answerSha256);
  const mine = room.value.records.filter((r) => r.standing === 'current' && r.entry?.is === 'verdict' && r.entry.answerSha256 === shown.answerSha256).at(-1) ?? null;
  if (!may('edit') || entry === null) return null;
  return (
    <div class="wall-tap">
      {mine ? <p role="status">✓ {formatText(RESULT_PAGE_EN, 'onWall', { at: formatClock(mine.happenedAt) })}{!isOnline.value && ` ${RESULT_PAGE_EN.onWallWaits}`}</p> : (
        <p><button type="button" disabled={isVerdictOld.value} onClick={() => void logEntry(entry)}>{RESULT_PAGE_EN.putOnWall}</button> <span class="soft">{RESULT_PAGE_EN.putOnWallSay}</span></p>
      )}
    </div>
  );
}

/** What the team did and why, by a person; the tool only keeps it beside the verdict that was looked at. */
export function DecisionForm() {
  const state = caseState.value;
  const [decision, setDecision] = useState<ResultDecision | null>(null);
  const [because, setBecause] = useState('');
  if (!state) return null;
  const shown = shownVerdict.value?.result ?? null;
  const rows = shown?.verdict.remedies ?? [];
  const store = async (event: SubmitEvent): Promise<void> => {
    event.preventDefault();
    if (decision === null || because.trim().length < 3) return;
    const answer = await addEvents([{ kind: 'result.decided', data: { decision, because: because.trim(), answerSha256: shown?.answerSha256 ?? null } }]);
    if (!answer.ok) return;
    setDecision(null);
    setBecause('');
  };
  return (
    <section class="decision" aria-labelledby="decision-name">
      <h4 id="decision-name">{RESULT_SHEET_EN.decisionTitle}</h4>
      {state.result.decided.length === 0 ? <p class="soft">{RESULT_SHEET_EN.decisionNone}</p> : (
        <ul class="plain">
          {state.result.decided.map((d) => (
            <li key={d.seq}>
              {formatText(RESULT_SHEET_EN, 'decision', { what: sayDecision(d.decision), who: nameOf(d.by), at: sayMoment(d.at), because: d.because })}
              {d.answerSha256 === null && <> <span class="tag">{RESULT_SHEET_EN.decisionUnseen}</span></>}
            </li>
          ))}
        </ul>
      )}
      {may('edit') && (
        <form onSubmit={(e) => void store(e)}>
          <fieldset class="choices">
            <legend>{RESULT_PAGE_EN.decide}</legend>
            {([...REMEDIES, 'finish'] as const).map((code) => {
              const row = rows.find((r) => r.code === code);
              return (
                <label key={code} class="inline">
                  <input type="radio" name="decision" checked={decision === code} onChange={() => setDecision(code)} /> {sayDecision(code)}
                  {row && <span class="soft">({VERDICT_EN[`state-${row.state}`]})</span>}
                </label>
              );
            })}
          </fieldset>
          <Field label={RESULT_PAGE_EN.decideBecause}>{(p) => <input {...p} name="because" maxLength={400} autocomplete="off" value={because} onInput={(e) => setBecause(e.currentTarget.value)} />}</Field>
          {!shown && <p class="note">{RESULT_PAGE_EN.decideUnseen}</p>}
          <button type="submit" class="main" disabled={decision === null || because.trim().length < 3}>{RESULT_PAGE_EN.decideStore}</button>
        </form>
      )}
    </section>
  );
}
const sayDecision = (code: ResultDecision): string => (code === 'finish' ? RESULT_SHEET_EN['decision-finish'] : VERDICT_EN[`remedy-${code}`]);
