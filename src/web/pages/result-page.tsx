import { useEffect } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { makeApiPath } from '../api/call-api.ts';
import { Markup } from '../parts/markup.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { Section } from '../parts/section.tsx';
import { AngiogramPanel } from '../result/angiogram-panel.tsx';
import { EchoPanel } from '../result/echo-panel.tsx';
import { findCounting, readTakenAt } from '../result/find-counting.ts';
import { GateLine, ReadersChoice, RoundLine } from '../result/gate-panel.tsx';
import { GradeForm } from '../result/grade-form.tsx';
import { readRoundStart } from '../result/read-round-start.ts';
import { PressurePanel } from '../result/pressure-panel.tsx';
import { SignsPanel } from '../result/signs-panel.tsx';
import { DecisionForm, readDrawn, VerdictAnswerPanel, WaitTimer, WallTap } from '../result/verdict-panel.tsx';
import { followRules } from '../state/chosen-rules.ts';
import { readNames } from '../state/names.ts';
import { caseState } from '../state/open-case.ts';
import { closeResult, hasGraded, mayAsk, readResult, result, resultFailure, shownVerdict } from '../state/result.ts';
import { openRoom, room } from '../state/room-log.ts';
import { may } from '../state/session.ts';
import '../room/depth.css';
import '../style/result.css';

/** News of a case come in bursts; the gate is asked once after them. */
const CALM_MS = 250;

/** Is it good enough to stop? Own grade first, then the verdict of three witnesses, what would settle it, and what was decided. */
export function ResultPage() {
  const state = caseState.value;
  const caseId = state?.caseId ?? '';
  useEffect(() => {
    void openRoom(caseId, 'desk'); // the clock of the verdict, and the tap that puts it on the wall
    void readNames();
    return closeResult;
  }, [caseId]);
  useEffect(() => {
    const timer = setTimeout(() => void readResult(caseId), result.peek() === null ? 0 : CALM_MS);
    return () => clearTimeout(timer);
  }, [caseId, state?.seq]);
  useEffect(() => void followRules(state?.tables.rulesSha256 ?? null), [state?.tables.rulesSha256]);
  if (!state) return null;
  const drawn = readDrawn();
  const hasReaders = (state.result.readers?.personIds.length ?? 0) > 0;
  return (
    <Section
      id="result" title={RESULT_PAGE_EN.title}
      answer={<>
        {resultFailure.value && <FailureNotice failure={resultFailure.value} onAgain={() => void readResult(caseId)} />}
        {!may('edit') && <p class="soft">{RESULT_PAGE_EN.mayNotEdit}</p>}
        <GateLine />
        <RoundLine />
        {!hasReaders && <ReadersChoice />}
        <VerdictAnswerPanel drawn={drawn} />
        {hasReaders && <GradeForm />}
        <WaitTimer />
        {hasReaders && <ReadersChoice />}
      </>}
      why={<>
        {drawn && (
          <div class="verdict-why">
            <Markup html={drawn.witnesses} />
            <Markup html={drawn.remedies} />
            <Markup html={drawn.diastole} />
            <Markup html={drawn.sites} />
            <Markup html={drawn.grades} />
          </div>
        )}
        <nav class="row go-to" aria-label={RESULT_PAGE_EN.goTo}>
          {([['pressures', RESULT_PAGE_EN.pressuresTitle], ['echo', RESULT_PAGE_EN.echoTitle], ['angiogram', RESULT_PAGE_EN.angiogramTitle], ['signs', RESULT_PAGE_EN.signsTitle]] as const).map(([id, name]) => <a key={id} href={`#${id}-name`}>{name}</a>)}
        </nav>
        <PressurePanel />
        <EchoPanel />
        <AngiogramPanel />
        <SignsPanel />
      </>}
      doubt={<>
        {room.value.releasedAt === null && <div class="note" data-code="not-released"><p>{RESULT_PAGE_EN.notReleased}</p></div>}
        {drawn ? <Markup html={drawn.doubt} /> : <p>{RESULT_PAGE_EN.doubtClosed}</p>}
        <p class="soft">{RESULT_PAGE_EN.doubtWitness}</p>
      </>}
      next={<>
        {drawn ? <><h4 id="settle-name">{RESULT_PAGE_EN.settleTitle}</h4><Markup html={drawn.settling} /></> : <Nexts />}
        <WallTap />
        <DecisionForm />
        {drawn && <p class="prints"><a class="button" href={makeApiPath('print', { params: { caseId, name: 'result' } })} target="_blank" rel="noopener">{RESULT_PAGE_EN.printResult}</a></p>}
        <ul class="acts"><li><a href={`/case/${caseId}/rhythm`}>{RESULT_PAGE_EN.nextRhythm}</a></li></ul>
      </>}
    />
  );
}

/** Before the verdict: what opens the gate, and which witness is not there. */
function Nexts() {
  const state = caseState.value!;
  const { recordings, echoes, angiograms, grades, readers } = state.result;
  const byEye = grades.filter((g) => g.of === 'angiogram').map((g) => g.at);
  const witnesses = ([['lacksPressure', findCounting(recordings.filter((r) => r.moment === 'after'))], ['lacksEcho', findCounting(echoes)], ['lacksAngiogram', findCounting(angiograms)]] as const)
    .map(([name, line]) => ({ name: RESULT_PAGE_EN[name], takenAt: [...(line ? [readTakenAt(line)] : []), ...(name === 'lacksAngiogram' ? byEye : [])] }));
  const lacks = witnesses.filter((w) => w.takenAt.length === 0).map((w) => w.name);
  // A manoeuvre may have changed the leak: what was read before it says nothing of this round.
  const roundMs = Date.parse(readRoundStart(room.value) ?? '');
  const isAfterManoeuvre = room.value.releasedAt !== null && roundMs > Date.parse(room.value.releasedAt);
  const old = isAfterManoeuvre ? witnesses.filter((w) => w.takenAt.length > 0 && w.takenAt.every((at) => Date.parse(at) <= roundMs)).map((w) => w.name) : [];
  const gate = (readers?.personIds.length ?? 0) === 0 ? RESULT_PAGE_EN.nextReaders : !hasGraded.value ? RESULT_PAGE_EN.nextGate : mayAsk.value ? RESULT_PAGE_EN.nextShow : RESULT_PAGE_EN.nextOthers;
  return (
    <ul class="acts">
      {room.value.releasedAt === null && <li><a href={`/case/${state.caseId}/room`}>{RESULT_PAGE_EN.notReleasedNext}</a></li>}
      {shownVerdict.value === null && <li>{gate}</li>}
      {old.length > 0 && <li>{formatText(RESULT_PAGE_EN, 'nextAgain', { list: old.join(', ') })}</li>}
      {lacks.length > 0 && <li>{formatText(RESULT_PAGE_EN, 'nextWitness', { list: lacks.join(', ') })}</li>}
    </ul>
  );
}
