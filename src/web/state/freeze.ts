import { signal } from '@preact/signals';
import { compareFrozen } from '../../core/room/compare-frozen.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { makeFrozen } from '../../core/room/make-frozen.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { listDifferences, type Difference } from '../../formats/report/list-differences.ts';
import { callApi, type ApiAnswer, type ApiFailure } from '../api/call-api.ts';
import { nameOf } from './names.ts';
import { caseState, openCase, shownPlan } from './open-case.ts';
import { chosenForecast } from './rehearsal.ts';

export const isFreezing = signal(false);
export const freezeFailure = signal<ApiFailure | null>(null);
export type IdentityAnswer = Pick<ApiAnswer<'checkIdentity'>, 'verdict' | 'fields'>;

/** Freezes what this page shows: a case that changed meanwhile is read again and not frozen unseen. */
export async function freezePlan(): Promise<void> {
  const state = caseState.peek();
  if (!state || isFreezing.peek()) return;
  isFreezing.value = true;
  const answer = await callApi('freezePlan', { params: { caseId: state.caseId }, body: { expectSeq: state.seq } });
  freezeFailure.value = answer.ok ? null : answer.failure;
  await openCase(state.caseId);
  isFreezing.value = false;
}

/** What was typed goes to the server and nowhere else. */
export async function checkIdentity(read: { readonly patientId?: string; readonly birthDate?: string; readonly name?: string }): Promise<{ readonly ok: true; readonly value: IdentityAnswer } | { readonly ok: false; readonly failure: ApiFailure }> {
  const state = caseState.peek();
  if (!state) return { ok: false, failure: { status: 0, code: 'case-not-open', message: DESK_EN.caseClosed, nextStep: DESK_EN.unreachableNext, evidence: {}, newer: [] } };
  const answer = await callApi('checkIdentity', { params: { caseId: state.caseId }, body: read });
  if (answer.ok) await openCase(state.caseId);
  return answer.ok ? { ok: true, value: { verdict: answer.value.verdict, fields: answer.value.fields } } : answer;
}

/** Frozen documents by hash; they never change. */
const documents = new Map<string, FrozenDocument>();
export async function readFrozen(caseId: string, sha256: string): Promise<FrozenDocument | null> {
  const known = documents.get(sha256);
  if (known) return known;
  const answer = await callApi('readFrozen', { params: { caseId, sha256 } });
  const document = answer.ok ? ((await answer.value.json().catch(() => null)) as FrozenDocument | null) : null;
  if (document?.format !== 'trinadir.frozen/1') return null;
  documents.set(sha256, document);
  return document;
}

/** What the frozen plan changed against the one before it. */
export async function readLastDifferences(): Promise<readonly Difference[]> {
  const frozen = caseState.peek()?.frozen;
  const caseId = caseState.peek()?.caseId;
  if (!frozen?.amends || !caseId) return [];
  const [before, after] = [await readFrozen(caseId, frozen.amends), await readFrozen(caseId, frozen.frozenSha256)];
  return before && after ? listDifferences(before, after, frozen.differences) : [];
}

/** What freezing now would change; null while it cannot be frozen. `before` is the document that acts. */
export function previewDifferences(before: FrozenDocument): readonly Difference[] | null {
  const [state, shown] = [caseState.peek(), shownPlan.peek()];
  if (!state || !shown) return null;
  const next = makeFrozen({
    state, plan: shown.plan, planSha256: shown.sha256, forecast: chosenForecast.peek().forecast, rescue: before.rescue, before: null,
    by: '', at: new Date().toISOString(), nameOf,
  });
  return next.ok ? listDifferences(before, next.value, compareFrozen(before, next.value)) : null;
}
