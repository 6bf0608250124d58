import { useEffect, useState } from 'preact/hooks';
import type { ContrastAnswer } from '../../core/angiogram/contrast-types.ts';
import type { AngiogramLine } from '../../core/case/fold-result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { callApi, type ApiFailure } from '../api/call-api.ts';
import { FailureNotice } from '../parts/notice.tsx';
import { RunsList } from '../room/runs-list.tsx';
import type { RunInfo } from '../room/slots.ts';
import { sayMoment } from '../parts/days.ts';
import { caseState } from '../state/open-case.ts';
import { canSeeIndices } from '../state/result.ts';
import { DensityCurves } from './density-curves.tsx';
import { FactRows } from './fact-rows.tsx';
import { findCounting, readTakenAt } from './find-counting.ts';
import { RunRegions } from './run-regions.tsx';
import { WitnessCare } from './witness-care.tsx';
import { sayWithoutFlags } from './say-without-flags.ts';

const kept = new Map<string, ContrastAnswer>();

/** Angiogram: a run of the case, its regions, its density curves; the grade by eye is given apart, among the own grades. */
export function AngiogramPanel() {
  const state = caseState.value;
  const [run, setRun] = useState<RunInfo | null>(null);
  const [opened, setOpened] = useState<string | null>(null);
  if (!state) return null;
  const { angiograms } = state.result;
  const counts = findCounting(angiograms)?.angiogramId ?? null;
  const shown = angiograms.find((a) => a.angiogramId === opened) ?? angiograms.find((a) => a.angiogramId === counts) ?? angiograms.at(-1) ?? null;
  return (
    <section class="witness-panel" id="result-angiogram" aria-labelledby="angiogram-name">
      <h4 id="angiogram-name">{RESULT_PAGE_EN.angiogramTitle}</h4>
      <p class="help">{RESULT_PAGE_EN.angiogramHelp}</p>
      <RunsList caseId={state.caseId} runs={state.runs} onRun={setRun} onMarks={() => undefined} label={RESULT_PAGE_EN.handRun} />
      {run && <RunRegions key={run.runId} caseId={state.caseId} run={run} start={shown?.runId === run.runId ? (kept.get(shown.angiogramId)?.regions ?? null) : null} onMeasured={(id, answer) => { kept.set(id, answer); setOpened(id); }} />}
      {angiograms.length > 1 && (
        <ul class="witness-list">
          {angiograms.slice().reverse().map((a) => (
            <li key={a.angiogramId}>
              <button type="button" class="quiet" aria-expanded={shown?.angiogramId === a.angiogramId} onClick={() => setOpened(a.angiogramId)}>{formatText(RESULT_PAGE_EN, 'angiogramLine', { at: sayMoment(readTakenAt(a)) })}</button>{' '}
              {a.angiogramId === counts && <b>{RESULT_PAGE_EN.counts}</b>}{a.withdrawn && <span class="tag">{RESULT_PAGE_EN.withdrawnTag}</span>}
            </li>
          ))}
        </ul>
      )}
      {shown ? <AngiogramView key={shown.angiogramId} caseId={state.caseId} line={shown} /> : <p class="soft">{RESULT_PAGE_EN.noAngiogram}</p>}
    </section>
  );
}

function AngiogramView({ caseId, line }: { readonly caseId: string; readonly line: AngiogramLine }) {
  const [answer, setAnswer] = useState<ContrastAnswer | null>(kept.get(line.angiogramId) ?? null);
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  useEffect(() => {
    if (answer) return;
    void callApi('readAngiogram', { params: { caseId, angiogramId: line.angiogramId } }).then((read) => {
      if (!read.ok) return setFailure(read.failure);
      const found = read.value.answer as ContrastAnswer;
      kept.set(line.angiogramId, found);
      setAnswer(found);
    });
  }, [line.angiogramId]);
  const canSee = canSeeIndices();
  return (
    <div class="witness-view">
      {failure && <FailureNotice failure={failure} />}
      {answer && canSee && <FactRows caption={RESULT_PAGE_EN.tableRatio} rows={[{ name: RESULT_PAGE_EN.ratio, fact: answer.ratio }, { name: RESULT_PAGE_EN.areaAorta, fact: answer.aorta.area }, { name: RESULT_PAGE_EN.areaOutflow, fact: answer.outflow.area }, ...(answer.window ? [{ name: RESULT_PAGE_EN.cycles, fact: answer.window.cycles }] : [])]} />}
      {answer && canSee && <DensityCurves answer={answer} id={line.angiogramId} />}
      {answer && !canSee && <p class="sealed">{RESULT_PAGE_EN.ratioSealed}</p>}
      {answer && answer.quality.length > 0 && (
        <section class="quality" aria-label={RESULT_PAGE_EN.qualityTitle}>
          <h5>{RESULT_PAGE_EN.qualityTitle}</h5>
          {answer.quality.map((q, i) => <div key={`${q.code} ${i}`} class="note" data-code={q.code}><p><span class={q.weight === 'tell' ? 'soft' : 'tag'}>{RESULT_PAGE_EN[`weight-${q.weight}`]}</span> {q.text}</p><p class="soft">{sayWithoutFlags(q.next)}</p></div>)}
        </section>
      )}
      <WitnessCare key={`${line.angiogramId} ${line.note?.seq ?? 0} ${answer === null}`} of={line.angiogramId} takenAt={line.at} ratePerMin={answer?.cycle.ratePerMin.value ?? null} witness={line} />
    </div>
  );
}
