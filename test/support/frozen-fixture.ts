import { createHash } from 'node:crypto';
import { formatCanonical } from '../../src/core/audit/format-canonical.ts';
import type { CaseEvent, NewCaseEvent } from '../../src/core/case/case-events.ts';
import { foldCase, type CaseState } from '../../src/core/case/fold-case.ts';
import { formatPlan } from '../../src/core/case/format-plan.ts';
import { listOpenPoints } from '../../src/core/case/list-open-points.ts';
import type { Plan } from '../../src/core/case/plan-types.ts';
import type { FrozenDocument } from '../../src/core/room/frozen-types.ts';
import { makeFrozen, type FreezeAsk } from '../../src/core/room/make-frozen.ts';
import { DEFAULT_RESCUE_CARDS } from '../../src/core/room/rescue-cards.ts';
import type { CaseStore } from '../../src/host/storage/store-types.ts';
import { makeCompletedPlan } from './example-plan.ts';

const sha256Of = (text: string): string => createHash('sha256').update(text).digest('hex');
let made: { readonly plan: Plan; readonly planText: string; readonly planSha256: string } | null = null;
/** The training plan without its CT, as stored. */
export function makeStoredPlan(): { readonly plan: Plan; readonly planText: string; readonly planSha256: string } {
  if (made) return made;
  const planText = formatPlan(makeCompletedPlan());
  made = { plan: JSON.parse(planText) as Plan, planText, planSha256: sha256Of(planText) };
  return made;
}

/** Entries of a huddle that lacks nothing. */
export const HUDDLE_ENTRIES: Readonly<Record<string, string | number | boolean>> = {
  'team.firstOperator': 'Colleague One', 'team.secondOperator': 'Colleague Two', 'team.decides': 'Colleague One', 'team.nurse': 'Colleague Three', 'team.sedation': 'Colleague Four',
  'rescue.surgery': 'agreed', 'team.surgeon': 'Colleague Five', 'consent.given': true, 'access.site': 'femoral', 'access.side': 'right', 'wire.kind': 'pre-shaped, stiff',
  'pacing.route': 'ventricular-wire', 'views.first': 'start', 'views.second': 'three-cusps', 'stop.when': 'The edge passes the stop depth, or the pressure does not come back in 10 s.',
  ...Object.fromEntries(['first', 'spare', 'smaller', 'larger', 'sheath', 'snare', 'drain'].flatMap((slot) => [[`kit.${slot}.ready`, true], [`kit.${slot}.place`, `shelf ${slot}`], [`kit.${slot}.expires`, '2030-01-31']])),
};
/** Everything that makes this plan's case ready to freeze but the plan itself, the identity and overrides. */
export function listReadyEvents(plan: Plan): readonly NewCaseEvent[] {
  return [
    ...Object.entries(HUDDLE_ENTRIES).map(([field, value]): NewCaseEvent => ({ kind: 'huddle.entered', data: { field, value } })),
    ...(['moved-up', 'moved-down', 'leaks'] as const).map((branch): NewCaseEvent => ({ kind: 'branch.agreed', data: { branch, plan: { person: 'Colleague One', item: 'snare', place: 'shelf snare' } } })),
    ...listOpenPoints(plan).map(({ section, code }): NewCaseEvent => ({ kind: 'doubt.accepted', data: { section, code, because: 'Looked at by the team.' } })),
  ];
}
export function foldEvents(events: readonly NewCaseEvent[], caseId = 'training-case'): CaseState {
  return foldCase(caseId, events.map((event, k): CaseEvent => ({
    caseId, seq: k + 1, at: `2026-03-02T09:${String(Math.floor(k / 60)).padStart(2, '0')}:${String(k % 60).padStart(2, '0')}.000Z`, by: 'person-one', kind: event.kind, data: event.data,
    supersedes: event.supersedes ?? null, prevSha256: '', sha256: '',
  })));
}
/** All events of a training case that is ready to freeze. */
export function listFrozenCaseEvents(more: readonly NewCaseEvent[] = []): readonly NewCaseEvent[] {
  const { plan, planSha256 } = makeStoredPlan();
  return [
    { kind: 'case.opened', data: { label: 'Training A 7', procedureOn: '2026-03-02', training: true } },
    { kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: 1 } },
    ...listReadyEvents(plan),
    { kind: 'identity.checked', data: { verdict: 'same', fields: [] } },
    ...more,
  ];
}
export function makeFreezeAsk(state: CaseState, change: Partial<FreezeAsk> = {}): FreezeAsk {
  const { plan, planSha256 } = makeStoredPlan();
  return { state, plan, planSha256, forecast: null, rescue: DEFAULT_RESCUE_CARDS, before: null, by: 'Colleague One', at: '2026-03-02T10:00:00.000Z', nameOf: () => 'Colleague One', ...change };
}
/** The frozen training plan without its CT, with the hash its canonical bytes have. `change` puts other values into it. */
export function makeFrozenFixture(change: Partial<FrozenDocument> = {}): { readonly document: FrozenDocument; readonly text: string; readonly sha256: string } {
  const frozen = makeFrozen(makeFreezeAsk(foldEvents(listFrozenCaseEvents())));
  if (!frozen.ok) throw new Error(`${frozen.failure.code} ${JSON.stringify(frozen.failure.evidence)}`);
  const document: FrozenDocument = { ...frozen.value, ...change };
  const text = formatCanonical(document);
  return { document, text, sha256: sha256Of(text) };
}

/** Makes a case of a test desk ready to freeze, by events of this person (`append` of the store). */
export async function makeReadyCase(store: CaseStore, caseId: string, by: string): Promise<{ readonly planSha256: string; readonly seq: number }> {
  const { plan, planText } = makeStoredPlan();
  const state = await store.readState(caseId);
  const kept = await store.putDocument('plan', planText);
  if (!state.ok || !kept.ok) throw new Error('the store refused');
  const { seq } = state.value;
  const first = await store.append({ caseId, expectSeq: seq, by: 'trinadir', events: [{ kind: 'plan.made', data: { planSha256: kept.value.sha256, surveySha256: null, basedOnSeq: seq } }] });
  if (!first.ok) throw new Error(first.failure.code);
  const training = state.value.training ? [] : [{ kind: 'blocker.overridden', data: { code: 'training-sizes', because: 'This is a rehearsal.' } } as const];
  const events: readonly NewCaseEvent[] = [...listReadyEvents(plan), { kind: 'identity.checked', data: { verdict: 'same', fields: [] } }, ...training];
  const added = await store.append({ caseId, expectSeq: seq + 1, by, events });
  if (!added.ok) throw new Error(added.failure.code);
  return { planSha256: kept.value.sha256, seq: seq + 1 + events.length };
}
