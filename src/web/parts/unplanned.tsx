import type { Plan } from '../../core/case/plan-types.ts';
import { lazy, Suspense } from 'preact/compat';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { addAndPlan, cancelJob, caseState, planFailure, planJob, shownPlan, startPlan } from '../state/open-case.ts';
import type { CasePageId } from '../state/page-states.ts';
import { may } from '../state/session.ts';
import { Section } from './section.tsx';

const PlacingViewer = lazy(() => import('../viewer/placing-viewer.tsx').then((m) => ({ default: m.PlacingViewer })));

/** A page that cannot answer yet says so in the place of the answer, why, and what to do. */
export function UnplannedSection({ page, plan, isPending }: { readonly page: CasePageId; readonly plan: Plan | null; readonly isPending?: boolean }) {
  const state = caseState.value;
  if (!state) return null;
  const job = planJob.value;
  // There is a plan, and it is on its way: nobody is told that nothing was answered, or offered to plan anew.
  const isReading = state.plan !== null && shownPlan.value === null && planFailure.value === null;
  const messages = plan ? plan.messages.filter((m) => m.section === page || (page !== 'root' && m.section === 'root')) : [];
  const why = (): string => {
    if (isReading) return '';
    if (job) return formatText(DESK_EN, 'planning', { step: job.progress.step });
    if (isPending) return DESK_EN.pendingPage;
    if (!state.scan) return DESK_EN.noPlanScan;
    if (state.refusal && !state.plan) return state.refusal.text;
    return plan ? DESK_EN.planNoSection : DESK_EN.noPlanYet;
  };
  const sayNone = (): string => {
    if (isReading) return DESK_EN.loading;
    if (job) return DESK_EN.noPlanSay;
    if (plan && page === 'root') return REPORT_EN.rootAbsent;
    return state.refusal && !state.plan ? DESK_EN.planRefused : DESK_EN.noPlanSay;
  };
  const nexts = [...messages.map((m) => m.next), ...(state.refusal && !state.plan ? [state.refusal.next] : [])];
  // The tool found no root: a person may set the three nadirs.
  const isAsked = page === 'root' && !job && state.scan !== null && may('edit') && (state.refusal !== null || (plan !== null && !plan.root));
  return (
    <Section
      id={page} title={DESK_EN[`page-${page}`]}
      answer={<p class="say">{sayNone()}</p>}
      why={<>
        <p>{why()}</p>
        {messages.map((m) => <p key={m.code}>{m.text}</p>)}
        {job && <PlanProgress ratio={job.progress.ratio} label={why()} />}
      </>}
      doubt={<p>{REPORT_EN.doubtNone}</p>}
      next={<>
        {isAsked && <Suspense fallback={<p role="status">{DESK_EN.viewerLoads}</p>}><PlacingViewer caseId={state.caseId} state={state} onEvents={addAndPlan} /></Suspense>}
        <ul class="acts">{nexts.map((n) => <li key={n}>{n}</li>)}{!state.scan && <li><a href={`/case/${state.caseId}/scan`}>{DESK_EN.noPlanScanNext}</a></li>}</ul>
        {job && may('edit') && <button type="button" onClick={() => void cancelJob(job.jobId)}>{DESK_EN.stopPlanning}</button>}
        {!job && !isReading && state.scan && may('edit') && <button type="button" class="main" onClick={() => void startPlan()}>{state.plan ? DESK_EN.planAgain : DESK_EN.planNow}</button>}
      </>}
    />
  );
}

export function PlanProgress({ ratio, label }: { readonly ratio: number; readonly label: string }) {
  return <progress max={1} value={ratio} aria-label={label} />;
}
