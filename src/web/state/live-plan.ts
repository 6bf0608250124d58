import { computed, effect, signal } from '@preact/signals';
import { listLandmarks, type CaseState } from '../../core/case/fold-case.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { recutPlan, type PendingSection } from '../../core/case/recut-plan.ts';
import type { Failure } from '../../core/result.ts';
import type { Xyz } from '../../core/root/root-types.ts';
import type { SurveyDocument } from '../../core/root/survey-document.ts';
import { parseSurveyDocument } from '../../formats/plan/parse-survey-document.ts';
import { callApi } from '../api/call-api.ts';
import { caseState, shownPlan } from './open-case.ts';
import { session } from './session.ts';
import type { MovedMarks } from './viewer-slot.ts';

/** What the page shows: the server's plan, or what the core answers here and now about marks that moved since. */
export interface LivePlan {
  readonly plan: Plan;
  /** SHA-256 of the server's plan behind it. */
  readonly sha256: string;
  /** Parts that still show the marks from before. */
  readonly pending: readonly PendingSection[];
  readonly isInstant: boolean;
  /** Why marks could not be answered here; the server's plan is then shown as it was. */
  readonly failure: Failure<string> | null;
}
/** Marks under the hand, not stored. */
export const preview = signal<MovedMarks | null>(null);
const survey = signal<{ readonly sha256: string; readonly document: SurveyDocument } | null>(null);

/** The document behind the shown plan is fetched once it is there: a drag must not wait for it. */
effect(() => {
  const state = caseState.value;
  const sha256 = state?.plan?.surveySha256 ?? null;
  if (!state || sha256 === null || survey.peek()?.sha256 === sha256) return;
  void readSurvey(state.caseId, sha256);
});
async function readSurvey(caseId: string, sha256: string): Promise<void> {
  const answer = await callApi('readSurvey', { params: { caseId, sha256 } });
  if (!answer.ok) return; // marks then wait for the server; nothing is lost
  const parsed = parseSurveyDocument(await answer.value.text().catch(() => ''));
  if (parsed.ok && caseState.value?.plan?.surveySha256 === sha256) survey.value = { sha256, document: parsed.value };
}

/** Marks of the case with those under the hand put over them. */
function withPreview(state: CaseState, moved: MovedMarks | null): CaseState {
  if (!moved) return state;
  const set = (lps: Xyz) => ({ lps, by: '', at: '', seq: state.seq });
  const marks = { ...state.marks, ...Object.fromEntries(Object.entries(moved.marks).map(([name, lps]) => [name, set(lps)])) };
  const ring = moved.contourLps === undefined ? state.ring : moved.contourLps === null ? null : { contourLps: moved.contourLps, by: '', at: '', seq: state.seq };
  return { ...state, marks, ring };
}

export const livePlan = computed<LivePlan | null>(() => {
  const [state, shown, moved] = [caseState.value, shownPlan.value, preview.value];
  if (!state || !shown || state.plan?.planSha256 !== shown.sha256) return shown && { ...shown, pending: [], isInstant: false, failure: null };
  const asStored: LivePlan = { ...shown, pending: [], isInstant: false, failure: null };
  const document = survey.value?.sha256 === state.plan.surveySha256 ? (survey.value?.document ?? null) : null;
  const marksSeq = Math.max(state.ring?.seq ?? 0, ...Object.values(state.marks).map((m) => m.seq));
  if (!document || (!moved && !(state.plan.isStale && marksSeq > state.plan.seq))) return asStored;
  const by = session.peek()?.person?.displayName ?? '';
  const landmarks = listLandmarks(withPreview(state, moved), shown.plan.root?.basalPlane.nadirsLps ?? null, document.frameOfReferenceUid ?? '', by);
  const recut = recutPlan(shown.plan, document, landmarks, { by: shown.plan.madeBy, at: new Date().toISOString() });
  if (!recut.ok) return { ...asStored, failure: recut.failure };
  return { plan: recut.value.plan, sha256: shown.sha256, pending: recut.value.pending, isInstant: true, failure: null };
});

/** The same, but once the hand rests: what is dear to draw follows this one. */
export const calmPlan = signal<LivePlan | null>(null);
const REST_MS = 150;
let timer: ReturnType<typeof setTimeout> | undefined;
effect(() => {
  const next = livePlan.value;
  clearTimeout(timer);
  if (preview.peek() === null) calmPlan.value = next;
  else timer = setTimeout(() => (calmPlan.value = next), REST_MS);
});
