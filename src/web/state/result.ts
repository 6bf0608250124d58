import { computed, signal } from '@preact/signals';
import type { CaseState } from '../../core/case/fold-case.ts';
import { callApi, type ApiAnswer, type ApiFailure, type ApiResult } from '../api/call-api.ts';
import { caseState } from './open-case.ts';
import { session } from './session.ts';

export type Result = ApiAnswer<'readResult'>;
type GradeAsk = Parameters<typeof callApi<'giveGrade'>>[1]['body'];

/** Gate, own grades and what is waited for, as the server last said; never a verdict (that is only in `shownVerdict`). */
export const result = signal<Result | null>(null);
export const resultFailure = signal<ApiFailure | null>(null);
/** The verdict that this page was shown, with what the case held then. */
export const shownVerdict = signal<{ readonly result: Result; readonly basis: string } | null>(null);

/**
 * What a verdict rests on, as text to compare: all of the result but who was shown what and what was decided. What the room
 * logs is not in it: a manoeuvre closes the gate, and the tap that puts the verdict on the wall does not make it old.
 */
export function readBasis({ result: { shown: _shown, decided: _decided, ecgs: _ecgs, ...rest }, frozen }: Pick<CaseState, 'result' | 'frozen'>): string {
  return JSON.stringify([rest, frozen?.frozenSha256 ?? null]);
}
const basis = computed(() => (caseState.value ? readBasis(caseState.value) : ''));
/** Something came in after the verdict that is on the page. */
export const isVerdictOld = computed(() => shownVerdict.value !== null && shownVerdict.value.basis !== basis.value);

const me = (): string => session.value?.person?.personId ?? '';
export const isReader = computed(() => caseState.value?.result.readers?.personIds.includes(me()) === true);
/**
 * This person has stored a grade of their own since the last manoeuvre. Until then the page shows nothing that reads as a
 * grade: no index of leak, no density ratio, no word of a colleague (job.md, D43).
 */
export const hasGraded = computed(() => (result.value?.verdict.gate.visibleTo[me()]?.length ?? 0) > 0);
/** The gate is open and this person's own grade is stored: they may ask for the verdict. */
export const mayAsk = computed(() => hasGraded.value && result.value?.verdict.gate.isOpen === true);

/** Numbers that read as a grade wait for the person's own (job.md, D43). */
export const canSeeIndices = (): boolean => hasGraded.value || shownVerdict.value !== null;

let wanted = 0;
export async function readResult(caseId: string): Promise<void> {
  const asked = ++wanted;
  const answer = await callApi('readResult', { params: { caseId } });
  if (asked !== wanted || caseState.peek()?.caseId !== caseId) return;
  if (!answer.ok) {
    resultFailure.value = answer.failure;
    return;
  }
  takeResult(answer.value);
  // Seen in this round before: asked again, so that words and hash are of one answer. It is not logged a second time.
  if (answer.value.answerSha256 !== null && shownVerdict.value === null) await showVerdict();
}
function takeResult(next: Result): void {
  resultFailure.value = null;
  result.value = next;
  if (!mayAsk.value) shownVerdict.value = null; // a new round: what was shown belongs to the last one
}
export function closeResult(): void {
  wanted++;
  result.value = null;
  resultFailure.value = null;
  shownVerdict.value = null;
}

export async function giveGrade(body: GradeAsk): Promise<ApiResult<Result>> {
  const caseId = caseState.value?.caseId ?? '';
  const answer = await callApi('giveGrade', { params: { caseId }, body });
  wanted++; // an older answer must not hide the newer one
  if (answer.ok && caseState.peek()?.caseId === caseId) takeResult(answer.value);
  return answer;
}

export async function showVerdict(): Promise<ApiResult<Result>> {
  const caseId = caseState.value?.caseId ?? '';
  const before = basis.peek();
  const answer = await callApi('showVerdict', { params: { caseId }, body: {} });
  wanted++;
  if (caseState.peek()?.caseId !== caseId) return answer;
  if (!answer.ok) {
    resultFailure.value = answer.failure;
    void readResult(caseId);
    return answer;
  }
  takeResult(answer.value);
  shownVerdict.value = answer.value.verdict.verdict === null ? null : { result: answer.value, basis: before };
  return answer;
}
