import { randomUUID } from 'node:crypto';
import type { CaseEventData, NewCaseEvent } from '../../../core/case/case-events.ts';
import type { CaseState } from '../../../core/case/fold-case.ts';
import { checkEntry, findField } from '../../../core/patient/referral-fields.ts';
import { checkHuddleEntry } from '../../../core/room/huddle-fields.ts';
import { nameField } from '../../../core/room/list-blockers.ts';
import { fail, succeed, type Result } from '../../../core/result.ts';
import { formatText } from '../../../core/text/catalogue.ts';
import { FREEZE_EN } from '../../../core/text/freeze-en.ts';
import { SERVER_EN } from '../../../core/text/server-en.ts';
import { answerFailure } from '../api-status.ts';
import { checkResultEvents } from '../check-result-event.ts';
import { findCaller, type Door } from '../door.ts';
import type { Handlers } from '../handler-types.ts';
import { mayOverride } from './freeze-handlers.ts';
import { showJob } from '../show-job.ts';
import { readLastEventId, streamFeed } from '../stream-feed.ts';
import type { CaseStore, DocumentKind, StoredJob } from '../../storage/store-types.ts';

export type CaseRoute = 'listCases' | 'openCase' | 'readCase' | 'listEvents' | 'addEvents' | 'followCase';

/** The work list, cases and their events. */
export function makeCaseHandlers(door: Door): Pick<Handlers, CaseRoute> {
  return {
    async listCases({ query }, { store }) {
      const listed = await store.listCases({ find: query.find, missing: query.missing, afterCaseId: query.after, limit: query.limit });
      return listed.ok ? succeed({ cases: listed.value.cases.map((line) => ({ ...line, missing: [...line.missing] })), total: listed.value.total }) : listed;
    },

    async openCase({ body, caller }, { store, feed }) {
      const caseId = randomUUID();
      const opened = await store.append({ caseId, expectSeq: 0, by: caller!.personId, events: [{ kind: 'case.opened', data: { label: body.label, procedureOn: body.procedureOn, training: false } }] });
      if (!opened.ok) return opened;
      const state = await store.readState(caseId);
      if (state.ok) feed.publish(caseId, { kind: 'case', state: state.value, events: opened.value });
      return state;
    },

    async readCase({ params: { caseId } }, { store }) {
      const state = await store.readState(caseId);
      if (!state.ok) return state;
      const jobs = await store.listJobs({ caseId });
      return jobs.ok ? succeed({ state: state.value, jobs: jobs.value.filter(isOfInterest).map(showJob) }) : jobs;
    },

    async listEvents({ params: { caseId }, query: { after } }, { store }) {
      const events = await store.listEvents(caseId, after);
      return events.ok ? succeed([...events.value]) : events;
    },

    async addEvents({ params: { caseId }, body, caller }, { store, feed }) {
      const before = await store.readState(caseId);
      if (!before.ok) return before;
      const fits = await checkEvents(body.events, before.value, store, door.readNow());
      if (!fits.ok) return fits;
      const added = await store.append({ caseId, expectSeq: body.expectSeq, by: caller!.personId, events: body.events });
      if (!added.ok && added.failure.code === 'case-changed') {
        const newer = await store.listEvents(caseId, body.expectSeq);
        return newer.ok ? succeed(answerFailure(added.failure, { newer: newer.value })) : newer;
      }
      if (!added.ok) return added;
      const state = await store.readState(caseId);
      if (!state.ok) return state; // written all the same: the page reads the case again and finds it
      feed.publish(caseId, { kind: 'case', state: state.value, events: added.value });
      return succeed({ state: state.value, events: [...added.value] });
    },

    async followCase({ params: { caseId }, caller, request }, { store, feed }) {
      const state = await store.readState(caseId);
      if (!state.ok) return state;
      const seen = readLastEventId(request.headers) ?? state.value.seq;
      const events = seen < state.value.seq ? await store.listEvents(caseId, seen) : succeed([]);
      if (!events.ok) return events;
      const mayStay = async (): Promise<boolean> => {
        const now = await findCaller(request.headers, door);
        return now.ok ? now.value?.person.personId === caller!.personId : true; // a store that is away for a moment ends nobody's session
      };
      return succeed(streamFeed({ feed, caseId, first: { kind: 'case', state: state.value, events: events.value }, mayStay, signal: request.signal }));
    },
  };
}

/** Jobs that are not over, and an import that failed with none begun after it: a person may still join it with a reason. */
function isOfInterest(job: StoredJob, _i: number, all: readonly StoredJob[]): boolean {
  if (job.state !== 'failed') return job.state === 'receiving' || job.state === 'waiting' || job.state === 'running';
  return job.kind === 'import' && !all.some((each) => each.kind === 'import' && each.createdAt > job.createdAt);
}

/** Whether a field takes this value in this unit; the page asks the same before it sends. */
function isEntry({ field, value, unit }: CaseEventData['referral.entered']): boolean {
  const about = findField(field);
  return about !== null && checkEntry(field, value) === null && (value === null || unit === (about.kind === 'number' ? about.unit : null));
}

/** What an event names must be there (the case's own scan, a table, a plan), and an entry must fit its field. */
async function checkEvents(events: readonly NewCaseEvent[], state: CaseState, store: CaseStore, nowMs: number): Promise<Result<null, string>> {
  const notHere = fail('event-not-here', SERVER_EN.eventNotHere, SERVER_EN.eventNotHereNext);
  const wanted: [string, DocumentKind][] = [];
  for (const event of events) {
    if (event.supersedes != null && event.supersedes > state.seq) return notHere;
    if (event.kind === 'referral.entered' && !isEntry(event.data)) return fail('entry-invalid', formatText(SERVER_EN, 'entryInvalid', { field: event.data.field }), SERVER_EN.entryInvalidNext, { field: event.data.field });
    if (event.kind === 'series.chosen' && event.data.scanId !== state.scan?.scanId) return notHere;
    if ((event.kind === 'mark.moved' || event.kind === 'ring.drawn' || event.kind === 'consensus.set') && state.scan === null) return notHere;
    if (event.kind === 'tables.chosen') {
      if (event.data.devicesSha256 !== null) wanted.push([event.data.devicesSha256, 'devices']);
      if (event.data.rulesSha256 !== null) wanted.push([event.data.rulesSha256, 'rules']);
      if (event.data.rescueSha256 != null) wanted.push([event.data.rescueSha256, 'rescue']);
      if (event.data.rhythmSha256 != null) wanted.push([event.data.rhythmSha256, 'rhythm-rules']);
    }
    if (event.kind === 'huddle.entered' && checkHuddleEntry(event.data.field, event.data.value) !== null) return fail('entry-invalid', formatText(FREEZE_EN, 'fieldInvalid', { field: nameField(event.data.field) }), FREEZE_EN.fieldInvalidNext, { field: event.data.field });
    if (event.kind === 'blocker.overridden') {
      const allowed = await mayOverride(event.data.code, state, store);
      if (!allowed.ok) return allowed;
    }
    if (event.kind === 'reading.saved') {
      wanted.push([event.data.planSha256, 'plan']);
      if (event.data.landmarksSha256 !== null) wanted.push([event.data.landmarksSha256, 'landmarks']);
    }
    if (event.kind === 'consensus.set' && event.data.fromReadings.some((id) => !state.readings.some((each) => each.readingId === id))) return notHere;
  }
  const ofResult = await checkResultEvents(events, state, store, nowMs);
  if (!ofResult.ok) return ofResult;
  for (const [sha256, kind] of wanted) {
    const found = await store.readDocument(sha256);
    if (!found.ok && found.failure.code !== 'blob-unknown') return found;
    if (!found.ok || found.value.kind !== kind) return notHere;
  }
  return succeed(null);
}
