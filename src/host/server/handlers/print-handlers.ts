import type { CaseState } from '../../../core/case/fold-case.ts';
import { formatPlan } from '../../../core/case/format-plan.ts';
import type { Plan } from '../../../core/case/plan-types.ts';
import { fail, succeed, type Result } from '../../../core/result.ts';
import type { FrozenDocument } from '../../../core/room/frozen-types.ts';
import { putChosen, readChosen } from '../../../core/room/read-chosen.ts';
import { PRINTS_EN } from '../../../core/text/prints-en.ts';
import { RESULT_SHEET_EN } from '../../../core/text/result-sheet-en.ts';
import type { VerdictAnswer } from '../../../core/verdict/compose-verdict.ts';
import { readHuddleCase } from '../../../formats/report/make-huddle-section.ts';
import { makeResultSheet } from '../../../formats/report/make-result-sheet.ts';
import type { PrintAsk } from '../../jobs/draw-print.ts';
import { WorkerPool } from '../../jobs/worker-pool.ts';
import type { CaseStore } from '../../storage/store-types.ts';
import { noteAudit } from '../door.ts';
import { findCasePlan } from '../find-case-plan.ts';
import type { Handlers } from '../handler-types.ts';

/** PDFs of a case's newest plan. What goes to the wall or into a hand must be the case as it is: a stale plan is not printed for them. */
export const makePrintHandlers = (makePool: () => WorkerPool = () => new WorkerPool(1, { isQuiet: true })): Pick<Handlers, 'print'> => ({
  async print({ params: { caseId, name }, caller }, { store }) {
    if (name === 'result') return printResult(store, makePool, caseId, caller!.personId);
    const plan = await findCasePlan(store, caseId);
    if (!plan.ok) return plan;
    const { planSha256, surveySha256, isStale } = plan.value;
    if (isStale && name !== 'plan') return fail('plan-stale', PRINTS_EN.stale, PRINTS_EN.staleNext);
    const state = await store.readState(caseId);
    if (!state.ok) return state;
    const planRead = await store.readDocument(planSha256);
    if (!planRead.ok) return planRead;
    const survey = name === 'plan' && surveySha256 !== null ? await store.readDocument(surveySha256) : null;
    if (survey && !survey.ok) return survey;
    const people = await store.listPeople();
    if (!people.ok) return people;
    const names = new Map(people.value.map((p) => [p.personId, p.displayName]));
    const nameOf = (personId: string): string => names.get(personId) ?? personId;
    const made = JSON.parse(planRead.value.text) as Plan;
    const printed = name === 'plan' ? succeed(null) : await readPrinted(store, state.value, made);
    if (!printed.ok) return printed;
    const about = readHuddleCase(state.value, planSha256, nameOf, { plan: made, day: new Date().toISOString().slice(0, 10) });
    const planText = printed.value ? formatPlan(printed.value) : planRead.value.text;
    const drawn = await drawInThread(makePool(), { name, planText, surveyText: survey?.value.text ?? null, about });
    if (!drawn.ok) return drawn;
    const noted = await noteAudit(store, caller!.personId, 'export.made', { what: name, planSha256 }, caseId);
    if (!noted.ok) return noted;
    return succeed(answerPdf(drawn.value, `${name}-${planSha256.slice(0, 8)}`));
  },
});

const answerPdf = (bytes: Uint8Array, name: string): Response =>
  new Response(bytes as Uint8Array<ArrayBuffer>, { headers: { 'Content-Type': 'application/pdf', 'Content-Disposition': `inline; filename="${name}.pdf"`, 'Cache-Control': 'no-store' } });

/**
 * The verdict that this person was shown last, with the decisions of the case: what stands on paper was seen before, by the
 * same person, after a grade of their own (job.md, D43).
 * Fails    verdict-not-shown
 */
async function printResult(store: CaseStore, makePool: () => WorkerPool, caseId: string, personId: string): Promise<Result<Response, string>> {
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const { result, label } = state.value;
  const shown = result.shown.filter((s) => s.by === personId && s.what === 'verdict').at(-1);
  const none = fail('verdict-not-shown', RESULT_SHEET_EN.printNone, RESULT_SHEET_EN.printNoneNext);
  if (!shown) return none;
  const document = await store.readDocument(shown.answerSha256);
  if (!document.ok) return document;
  const people = await store.listPeople();
  if (!people.ok) return people;
  const names = new Map(people.value.map((p) => [p.personId, p.displayName]));
  const sheet = makeResultSheet(JSON.parse(document.value.text) as VerdictAnswer, {
    label, answerSha256: shown.answerSha256, shownAt: shown.at, readers: result.readers?.personIds ?? [], decided: result.decided, nameOf: (id) => names.get(id) ?? id,
  });
  if (sheet === null) return none;
  const drawn = await drawInThread(makePool(), { name: 'result', sheet: { ...sheet, isTraining: sheet.isTraining || state.value.training } });
  if (!drawn.ok) return drawn;
  const noted = await noteAudit(store, personId, 'export.made', { what: 'result', answerSha256: shown.answerSha256 }, caseId);
  return noted.ok ? succeed(answerPdf(drawn.value, `result-${shown.answerSha256.slice(0, 8)}`)) : noted;
}

/** What goes to hand and wall: the frozen plan while it is the case, else the plan with what the huddle has chosen so far. */
async function readPrinted(store: CaseStore, state: CaseState, plan: Plan): Promise<Result<Plan | null, string>> {
  if (state.frozen && !state.frozen.isBehind) {
    const frozen = await store.readDocument(state.frozen.frozenSha256);
    return frozen.ok ? succeed((JSON.parse(frozen.value.text) as FrozenDocument).plan) : frozen;
  }
  const chosen = readChosen(state, plan);
  return succeed(chosen ? putChosen(plan, chosen, null) : null);
}

/** A thread of its own: a PDF takes about a second, and the server answers others meanwhile. */
export async function drawInThread(pool: WorkerPool, ask: PrintAsk): Promise<Result<Uint8Array, string>> {
  try {
    return await pool.run<Result<Uint8Array, string>>('draw-print', ask);
  } finally {
    await pool.close();
  }
}
