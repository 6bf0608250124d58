import { computed, signal } from '@preact/signals';
import type { CaseEvent, NewCaseEvent } from '../../core/case/case-events.ts';
import { findClashes } from '../../core/case/event-subject.ts';
import { applyEvent, type CaseState } from '../../core/case/fold-case.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import type { PersonEvent } from '../../formats/api/case-schemas.ts';
import { callApi, makeApiPath, type ApiAnswer, type ApiFailure, type ApiResult } from '../api/call-api.ts';

export type Job = ApiAnswer<'readJob'>;
export interface ShownPlan {
  readonly sha256: string;
  readonly plan: Plan;
}
/** Own events that were not taken because somebody else changed the same thing in between. */
export interface Clash {
  readonly own: readonly NewCaseEvent[];
  readonly newer: readonly CaseEvent[];
}

/** The case on the page; null while none is open or it is still read. */
export const caseState = signal<CaseState | null>(null);
const caseJobs = signal<readonly Job[]>([]);
export const caseFailure = signal<ApiFailure | null>(null);
export const shownPlan = signal<ShownPlan | null>(null);
export const planFailure = signal<ApiFailure | null>(null);
export const clash = signal<Clash | null>(null);
/** A refusal of the newest edit, until the next one. */
export const editFailure = signal<ApiFailure | null>(null);
/** False while the server sends no news: what is shown may be old. */
export const isFollowing = signal(true);
export const savesUnderWay = signal(0);

const isOver = (job: Job): boolean => job.state === 'done' || job.state === 'failed' || job.state === 'cancelled';
/** The newest plan job that is not over. */
export const planJob = computed(() => caseJobs.value.find((j) => j.kind === 'plan' && !isOver(j)) ?? null);
export const importJob = computed(() => caseJobs.value.filter((j) => j.kind === 'import').at(-1) ?? null);
/** What is on the page is older than the marks: the server plans again. */
export const isRecomputing = computed(() => caseState.value?.plan?.isStale === true && planJob.value !== null);

let feed: EventSource | null = null;
let queue: Promise<unknown> = Promise.resolve();

/** Opens a case and follows it; opening the one that is open reads it again. */
export async function openCase(caseId: string): Promise<void> {
  if (caseState.value?.caseId !== caseId) {
    closeCase();
    follow(caseId);
  }
  await readCase(caseId);
}
function closeCase(): void {
  feed?.close();
  feed = null;
  caseState.value = null;
  caseJobs.value = [];
  caseFailure.value = null;
  shownPlan.value = null;
  planFailure.value = null;
  clash.value = null;
  editFailure.value = null;
  isFollowing.value = true;
}

let wanted = '';
async function readCase(caseId: string): Promise<void> {
  wanted = caseId;
  const answer = await callApi('readCase', { params: { caseId } });
  if (wanted !== caseId) return;
  if (!answer.ok) {
    caseFailure.value = answer.failure;
    return;
  }
  caseFailure.value = null;
  takeState(answer.value.state);
  caseJobs.value = answer.value.jobs;
}

/** A state is taken when it is newer: news and answers may overtake one another. */
function takeState(next: CaseState): void {
  const now = caseState.value;
  if (now && now.caseId === next.caseId && now.seq > next.seq) return;
  caseState.value = next;
  void readPlan(next);
}

async function readPlan(state: CaseState): Promise<void> {
  const sha256 = state.plan?.planSha256 ?? null;
  if (sha256 === null) {
    shownPlan.value = null;
    return;
  }
  if (shownPlan.value?.sha256 === sha256) return;
  const answer = await callApi('readPlan', { params: { caseId: state.caseId, sha256 } });
  if (caseState.value?.plan?.planSha256 !== sha256) return;
  if (!answer.ok) {
    planFailure.value = answer.failure;
    return;
  }
  const plan = (await answer.value.json().catch(() => null)) as Plan | null;
  if (caseState.value?.plan?.planSha256 !== sha256) return;
  if (plan?.format !== 'trinadir.plan/1') {
    planFailure.value = { status: 200, code: 'answer-not-understood', message: DESK_EN.notUnderstood, nextStep: DESK_EN.notUnderstoodNext, evidence: {}, newer: [] };
    return;
  }
  planFailure.value = null;
  shownPlan.value = { sha256, plan };
}

function follow(caseId: string): void {
  const source = new EventSource(makeApiPath('followCase', { params: { caseId } }));
  feed = source;
  let wasAway = false;
  source.onopen = () => {
    isFollowing.value = true;
    if (wasAway) void readCase(caseId); // what happened meanwhile was not sent
    wasAway = false;
  };
  source.onerror = () => {
    isFollowing.value = false;
    wasAway = true;
  };
  source.addEventListener('case', (e) => takeState((JSON.parse(e.data as string) as { readonly state: CaseState }).state));
  source.addEventListener('job', (e) => takeJob(JSON.parse(e.data as string) as Job));
}

export function takeJob(job: Job): void {
  if (job.caseId !== caseState.value?.caseId) return;
  caseJobs.value = [...caseJobs.value.filter((j) => j.jobId !== job.jobId), job];
}

/**
 * Stores events of this person, one request after another; a clash with somebody else's edit is shown, never overwritten.
 * `seenSeq`: the case as the person saw it when they began, when that is older than what the page knows by now.
 */
export function addEvents(events: readonly NewCaseEvent[], seenSeq?: number): Promise<ApiResult<null>> {
  const next = queue.then(() => sendEvents(events, 3, seenSeq));
  queue = next;
  return next;
}

async function sendEvents(events: readonly NewCaseEvent[], tries: number, seenSeq?: number): Promise<ApiResult<null>> {
  const state = caseState.value;
  if (!state) return { ok: false, failure: { status: 0, code: 'case-not-open', message: DESK_EN.caseClosed, nextStep: DESK_EN.unreachableNext, evidence: {}, newer: [] } };
  savesUnderWay.value += 1;
  const answer = await callApi('addEvents', { params: { caseId: state.caseId }, body: { expectSeq: seenSeq ?? state.seq, events: [...events] as PersonEvent[] } });
  savesUnderWay.value -= 1;
  if (answer.ok) {
    editFailure.value = null;
    takeState(answer.value.state);
    return { ok: true, value: null };
  }
  const { failure } = answer;
  if (failure.code !== 'case-changed') {
    editFailure.value = failure;
    return answer;
  }
  await catchUp(state, failure.newer);
  if (findClashes(events, failure.newer).length === 0 && tries > 1) return sendEvents(events, tries - 1);
  clash.value = { own: events, newer: failure.newer };
  return answer;
}

/** Newer events are put on top of what this page has; with a hole between them the case is read again. */
async function catchUp(state: CaseState, newer: readonly CaseEvent[]): Promise<void> {
  const isWhole = newer.length > 0 && newer.every((e, i) => e.seq === state.seq + 1 + i);
  if (isWhole) takeState(newer.reduce(applyEvent, state));
  else await readCase(state.caseId);
}

/** The person looked at the other edit and wants their own all the same. */
export async function keepOwn(): Promise<void> {
  const { value } = clash;
  clash.value = null;
  if (value) await addEvents(value.own);
}

export async function startPlan(): Promise<void> {
  const state = caseState.value;
  if (!state) return;
  const answer = await callApi('startPlan', { params: { caseId: state.caseId }, body: {} });
  if (answer.ok) takeJob(answer.value);
  else editFailure.value = answer.failure;
}
export async function cancelJob(jobId: string): Promise<void> {
  const answer = await callApi('cancelJob', { params: { jobId }, body: {} });
  if (answer.ok) takeJob(answer.value);
  else editFailure.value = answer.failure;
}

/** Events after which the case is planned again at once. */
const PLANS_AGAIN: ReadonlySet<string> = new Set(['mark.moved', 'ring.drawn', 'consensus.set', 'series.chosen', 'tables.chosen']);

export async function addAndPlan(events: readonly NewCaseEvent[]): Promise<ApiResult<null>> {
  const answer = await addEvents(events);
  if (answer.ok && events.some((e) => PLANS_AGAIN.has(e.kind))) void startPlan();
  return answer;
}
