import { setTimeout as wait } from 'node:timers/promises';
import { formatCanonical } from '../../../core/audit/format-canonical.ts';
import type { CaseEventData } from '../../../core/case/case-events.ts';
import { compareIdentity } from '../../../core/case/compare-identity.ts';
import type { CaseState } from '../../../core/case/fold-case.ts';
import type { Plan } from '../../../core/case/plan-types.ts';
import type { ReleaseForecast } from '../../../core/release/release-types.ts';
import { fail, succeed, type Result } from '../../../core/result.ts';
import type { FrozenDocument, RescueCards } from '../../../core/room/frozen-types.ts';
import { listBlockers } from '../../../core/room/list-blockers.ts';
import { makeFrozen, type FreezeAsk } from '../../../core/room/make-frozen.ts';
import { readChosen } from '../../../core/room/read-chosen.ts';
import { DEFAULT_RESCUE_CARDS } from '../../../core/room/rescue-cards.ts';
import { FREEZE_EN } from '../../../core/text/freeze-en.ts';
import { readStamp } from '../../cli/clock.ts';
import { addCaseEvent } from '../../jobs/add-case-event.ts';
import { readEntered } from '../../jobs/desk-job-types.ts';
import { makeWhatIfDesk, type WhatIfDesk } from '../../jobs/what-if-desk.ts';
import type { CaseStore } from '../../storage/store-types.ts';
import { answerFailure } from '../api-status.ts';
import type { Handlers } from '../handler-types.ts';
import { FOR_EVER } from './plan-handlers.ts';

export type FreezeRoute = 'checkIdentity' | 'freezePlan' | 'readFrozen';

const FORECAST_WITHIN_MS = 20_000;
const FORECAST_LOOK_MS = 250;
const readNowIso = (): string => new Date().toISOString();

/** The huddle's end: comparison with the patient, the frozen plan, and its bytes for room and wall. */
export function makeFreezeHandlers(desk: WhatIfDesk = makeWhatIfDesk()): Pick<Handlers, FreezeRoute> {
  return {
    async checkIdentity({ params: { caseId }, body, caller }, services) {
      const given = [body.patientId, body.birthDate, body.name].filter((v) => v !== undefined && v.trim() !== '');
      if (given.length < 2) return fail('identity-too-few', FREEZE_EN.tooFew, FREEZE_EN.tooFewNext);
      const state = await services.store.readState(caseId);
      if (!state.ok) return state;
      const { verdict, fields } = compareGiven(body, state.value);
      const added = await addCaseEvent(services, caseId, caller!.personId, { kind: 'identity.checked', data: { verdict, fields } });
      if (!added.ok) return added;
      const now = await services.store.readState(caseId);
      return now.ok ? succeed({ state: now.value, verdict, fields: [...fields] }) : now;
    },

    async freezePlan({ params: { caseId }, body: { expectSeq }, caller }, { store, feed }) {
      const state = await store.readState(caseId);
      if (!state.ok) return state;
      const ask = await readAsk(store, state.value, caller!.displayName);
      if (!ask.ok) return ask;
      const first = makeFrozen(ask.value);
      if (!first.ok) return first;
      const forecast = await askForecast(desk, ask.value);
      if (!forecast.ok) return forecast;
      const frozen = forecast.value === null ? first : makeFrozen({ ...ask.value, forecast: forecast.value });
      if (!frozen.ok) return frozen;
      const kept = await store.putDocument('frozen', formatCanonical(frozen.value));
      if (!kept.ok) return kept;
      const { planSha256, amends, differences } = frozen.value;
      const frozenSha256 = kept.value.sha256;
      const added = await store.append({ caseId, expectSeq, by: caller!.personId, events: [{ kind: 'plan.frozen', data: { frozenSha256, planSha256, basedOnSeq: state.value.seq, amends, differences } }] });
      if (!added.ok && added.failure.code === 'case-changed') {
        const newer = await store.listEvents(caseId, expectSeq);
        return newer.ok ? succeed(answerFailure(added.failure, { newer: newer.value })) : newer;
      }
      if (!added.ok) return added;
      const now = await store.readState(caseId);
      if (!now.ok) return now;
      feed.publish(caseId, { kind: 'case', state: now.value, events: added.value });
      return succeed({ state: now.value, frozenSha256 });
    },

    async readFrozen({ params: { caseId, sha256 } }, { store }) {
      const read = await readFrozenText(store, caseId, sha256);
      return read.ok ? succeed(new Response(read.value, { headers: { ...FOR_EVER, 'Content-Type': 'application/json; charset=utf-8' } })) : read;
    },
  };
}

/** Bytes of a frozen document of this case, the newest or one that was amended. Fails: case-unknown, frozen-unknown, store-… */
async function readFrozenText(store: CaseStore, caseId: string, sha256: string): Promise<Result<string, string>> {
  const unknown = fail('frozen-unknown', FREEZE_EN.frozenUnknown, FREEZE_EN.frozenUnknownNext);
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  if (state.value.frozen === null) return unknown;
  if (state.value.frozen.frozenSha256 !== sha256) {
    const events = await store.listEvents(caseId, 0);
    if (!events.ok) return events;
    if (!events.value.some((e) => e.kind === 'plan.frozen' && (e.data as CaseEventData['plan.frozen']).frozenSha256 === sha256)) return unknown;
  }
  const document = await store.readDocument(sha256);
  if (!document.ok) return document;
  return document.value.kind === 'frozen' ? succeed(document.value.text) : unknown;
}

/** Whether a person may take this blocker on themselves, for the case as it is. */
export async function mayOverride(code: string, state: CaseState, store: CaseStore): Promise<Result<null, string>> {
  const plan = await readPlan(store, state);
  if (!plan.ok) return plan;
  const found = listBlockers(state, plan.value, readNowIso().slice(0, 10)).find((b) => b.code === code);
  return found && !found.isHard ? succeed(null) : fail('override-not-allowed', FREEZE_EN.noOverride, FREEZE_EN.noOverrideNext, { code });
}

/** What was read from the patient against what was entered; the values themselves end here. */
export function compareGiven({ name, birthDate, patientId }: { readonly name?: string | undefined; readonly birthDate?: string | undefined; readonly patientId?: string | undefined }, state: CaseState): CaseEventData['identity.checked'] {
  const { verdict, fields } = compareIdentity({ ...readEntered(state), sex: null }, { name: name ?? null, birthDate: birthDate ?? null, patientId: patientId ?? null, sex: null });
  return { verdict, fields: fields.filter((f) => f.field !== 'sex') };
}

async function readPlan(store: CaseStore, state: CaseState): Promise<Result<Plan | null, string>> {
  if (!state.plan) return succeed(null);
  const document = await store.readDocument(state.plan.planSha256);
  return document.ok ? succeed(JSON.parse(document.value.text) as Plan) : document;
}

export type StoredAsk = FreezeAsk & { readonly planText: string };
async function readAsk(store: CaseStore, state: CaseState, by: string): Promise<Result<StoredAsk, string>> {
  if (!state.plan) return fail('freeze-blocked', FREEZE_EN.planMissing, FREEZE_EN.planMissingNext, { codes: 'plan-missing' });
  const { planSha256 } = state.plan;
  const stored = await store.readDocument(planSha256);
  if (!stored.ok) return stored;
  const last = state.frozen ? await store.readDocument(state.frozen.frozenSha256) : null;
  if (last && !last.ok) return last;
  const rescue = await readRescue(store, state.tables.rescueSha256 ?? null);
  if (!rescue.ok) return rescue;
  const people = await store.listPeople();
  if (!people.ok) return people;
  const names = new Map(people.value.map((p) => [p.personId, p.displayName]));
  return succeed({
    state, plan: JSON.parse(stored.value.text) as Plan, planText: stored.value.text, planSha256, forecast: null, rescue: rescue.value,
    before: last && state.frozen ? { sha256: state.frozen.frozenSha256, document: JSON.parse(last.value.text) as FrozenDocument } : null,
    by, at: readNowIso(), nameOf: (personId) => names.get(personId) ?? personId,
  });
}

export async function readRescue(store: { readDocument(sha256: string): Promise<Result<{ readonly text: string }, string>> }, sha256: string | null): Promise<Result<RescueCards, string>> {
  if (sha256 === null) return succeed(DEFAULT_RESCUE_CARDS);
  const document = await store.readDocument(sha256);
  return document.ok ? succeed({ ...(JSON.parse(document.value.text) as RescueCards), isDefault: false }) : document;
}

/** The forecast of the chosen release where the plan's own is of another; it waits for all draws, so that the same choice has the same bytes. */
export async function askForecast(desk: WhatIfDesk, ask: StoredAsk): Promise<Result<ReleaseForecast | null, string>> {
  const chosen = readChosen(ask.state, ask.plan);
  if (!chosen?.choice || chosen.isForecast || !ask.plan.root) return succeed(null);
  const stamp = readStamp();
  if (!stamp.ok) return stamp;
  const untilMs = performance.now() + FORECAST_WITHIN_MS;
  while (performance.now() < untilMs) {
    const answer = await desk.answer(`freeze ${ask.state.caseId}`, { planSha256: ask.planSha256, planText: ask.planText, choice: chosen.choice, stamp: stamp.value });
    if (answer !== null && !answer.ok) return succeed(null); // this choice has no forecast: said on the page, and nothing of another one is shown
    if (answer?.value.isFull) return succeed(answer.value.forecast);
    await wait(FORECAST_LOOK_MS);
  }
  return succeed(null);
}
