import { request } from 'node:http';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { codeOf, makeTestDesk, must, PASSWORD, type Ask, type TestDesk, type Visitor } from '../../../test/support/make-desk.ts';
import type { CaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { TRAINING_RULES, TRAINING_TABLE } from '../../core/device/training-table.ts';
import { DEFAULT_RESCUE_CARDS } from '../../core/room/rescue-cards.ts';
import { fail } from '../../core/result.ts';
import { hashSigned } from '../cli/signed-hash.ts';

let desk: TestDesk;
let isAway = false;
let isLogFull = false;
beforeAll(async () => {
  // The database gone and back: every call of the store answers as it does then.
  desk = await makeTestDesk({
    breakStore: (store) => new Proxy(store, {
      get: (target, name) => (...args: unknown[]) => (isAway ? Promise.resolve(fail('store-unreachable', 'away', 'wait')) : isLogFull && name === 'addAudit' ? Promise.resolve(fail('store-full', 'full', 'free space')) : (target[name as keyof typeof target] as (...a: unknown[]) => unknown)(...args)),
    }),
  });
});
afterAll(() => desk.close());

const openCase = async (visitor: Visitor, label = 'Case'): Promise<CaseState> => (await visitor.ask('/api/cases', { method: 'POST', body: { label, procedureOn: '2026-12-01' } })).json<CaseState & Record<string, unknown>>();
const add = (visitor: Visitor, caseId: string, expectSeq: number, events: unknown[], more: Ask = {}) => visitor.ask(`/api/cases/${caseId}/events`, { method: 'POST', body: { expectSeq, events }, ...more });
const risk = (value: number) => ({ kind: 'referral.entered', data: { field: 'risk.euroscorePercent', value, unit: '%' } });

/** Server-sent events of a case, as they arrive. */
function follow(visitor: Visitor, caseId: string, lastEventId?: number): Promise<{ read(until: (text: string) => boolean): Promise<string>; isEnded(): boolean; close(): void }> {
  return new Promise((resolve, reject) => {
    let text = '';
    let ended = false;
    let wake: () => void = () => {};
    const headers = { host: `127.0.0.1:${desk.server.port}`, cookie: visitor.cookie, ...(lastEventId === undefined ? {} : { 'last-event-id': String(lastEventId) }) };
    const call = request({ host: '127.0.0.1', port: desk.server.port, path: `/api/cases/${caseId}/feed`, headers, agent: false }, (answer) => {
      expect([answer.statusCode, answer.headers['content-type']]).toEqual([200, 'text/event-stream']);
      answer.on('data', (data: Buffer) => ((text += data.toString()), wake()));
      answer.on('close', () => ((ended = true), wake()));
      resolve({
        async read(until) {
          while (!until(text) && !ended) await new Promise<void>((next) => (wake = next));
          return text;
        },
        isEnded: () => ended,
        close: () => call.destroy(),
      });
    });
    call.on('error', (problem) => (ended ? undefined : reject(problem)));
    call.end();
  });
}

describe('cases', () => {
  test('a case is opened, listed, read and edited, and every step is in the logs', async () => {
    const planner = await desk.enter('planner');
    const opened = await openCase(planner, 'First');
    expect(opened).toMatchObject({ label: 'First', procedureOn: '2026-12-01', seq: 1, training: false });
    const list = (await planner.ask('/api/cases?find=First')).json<{ cases: { caseId: string }[]; total: number }>();
    expect(list.cases.map((c) => c.caseId)).toEqual([opened.caseId]);
    const added = (await add(planner, opened.caseId, 1, [risk(80), { kind: 'case.dated', data: { procedureOn: null } }])).json<{ state: CaseState; events: CaseEvent[] }>();
    expect([added.state.seq, added.state.procedureOn, added.events.map((e) => e.by)]).toEqual([3, null, [planner.personId, planner.personId]]);
    const viewer = await desk.enter('viewer');
    expect((await viewer.ask(`/api/cases/${opened.caseId}`)).json()).toEqual({ state: added.state, jobs: [] });
    expect((await viewer.ask(`/api/cases/${opened.caseId}/events?after=1`)).json()).toEqual(added.events);
    const audit = must(await desk.opened.store.listAudit({ caseId: opened.caseId, afterSeq: 0, limit: 100 }));
    expect(audit.map((e) => [e.by, e.kind, e.data['what']])).toEqual([[viewer.personId, 'case.read', 'readCase'], [viewer.personId, 'case.read', 'listEvents']]);
  });

  test('two tabs that edit the same case: the second is told what it had not seen, and nothing is lost', async () => {
    const [one, two] = [await desk.enter('planner'), await desk.enter('planner')];
    const { caseId } = await openCase(one);
    const outcomes = await Promise.all([add(one, caseId, 1, [risk(80)]), add(two, caseId, 1, [risk(81)])]);
    const lost = outcomes.find((o) => o.status !== 200)!;
    const won = outcomes.find((o) => o.status === 200)!;
    expect(outcomes.map((o) => o.status).sort()).toEqual([200, 409]);
    const refusal = lost.json<{ error: { code: string; next: string }; newer: CaseEvent[] }>();
    expect(refusal.error.code).toBe('case-changed');
    expect(refusal.newer).toEqual(won.json<{ events: CaseEvent[] }>().events);
    const again = await add(two, caseId, refusal.newer.at(-1)!.seq, [risk(82)]);
    expect(again.json<{ state: CaseState }>().state.referral['risk.euroscorePercent']!.value).toBe(82);
    const all = (await one.ask(`/api/cases/${caseId}/events`)).json<CaseEvent[] & Record<string, unknown>>();
    expect(all.map((e) => e.seq)).toEqual([1, 2, 3]); // both values stay in the log
    expect(codeOf(await add(one, caseId, 99, [risk(1)]))).toBe('case-changed'); // a writer ahead of the store is not believed
  });

  test('twenty writers at once: every acknowledged edit is in the log, once', async () => {
    const planner = await desk.enter('planner');
    const { caseId } = await openCase(planner);
    const acknowledged: number[] = [];
    await Promise.all(Array.from({ length: 20 }, async (_, k) => {
      for (let seq = 1; ;) {
        const answer = await add(planner, caseId, seq, [risk(k)]);
        if (answer.status === 200) return void acknowledged.push(k);
        seq = answer.json<{ newer: CaseEvent[] }>().newer.at(-1)!.seq;
      }
    }));
    const events = must(await desk.opened.store.listEvents(caseId, 1));
    expect(events.map((e) => (e.data as { value: number }).value)).toEqual(acknowledged);
  });

  test('an event that names what the case does not have is refused', async () => {
    const planner = await desk.enter('planner');
    const { caseId } = await openCase(planner);
    const lps = [0, 0, 0];
    const events = [
      { kind: 'mark.moved', data: { mark: 'nadir.R', lps, was: null } }, // no scan yet
      { kind: 'series.chosen', data: { scanId: 'scan-other', seriesUid: '1.2.3' } },
      { kind: 'tables.chosen', data: { devicesSha256: 'a'.repeat(64), rulesSha256: null } },
      { kind: 'consensus.set', data: { fromReadings: ['read-a', 'read-b'], nadirsLps: { R: lps, L: lps, N: lps } } },
      { ...risk(80), supersedes: 7 },
    ];
    for (const event of events) expect(codeOf(await add(planner, caseId, 1, [event])), event.kind).toBe('event-not-here');
    const entries = [
      { field: 'plan.valveForm', value: 'tricuspid', unit: null }, { field: 'body.heightCm', value: 1.7, unit: 'cm' }, { field: 'body.heightCm', value: 170, unit: 'm' }, { field: 'body.shoeSize', value: 42, unit: null },
    ];
    for (const data of entries) expect(codeOf(await add(planner, caseId, 1, [{ kind: 'referral.entered', data }])), data.field).toBe('entry-invalid');
    const made = await add(planner, caseId, 1, [{ kind: 'scan.joined', data: {} }]); // the tool's own words are not a person's
    expect([made.status, codeOf(made)]).toEqual([400, 'request-invalid']);
    expect((await planner.ask('/api/cases/case-unknown')).status).toBe(404);
    expect(must(await desk.opened.store.readState(caseId)).seq).toBe(1);
  });

  test('a page that follows a case hears of each edit, catches up after an absence, and is let go with its session', async () => {
    const [planner, viewer] = [await desk.enter('planner'), await desk.enter('viewer')];
    const { caseId } = await openCase(planner);
    const page = await follow(viewer, caseId);
    await page.read((t) => t.includes('id: 1\n'));
    await add(planner, caseId, 1, [risk(80)]);
    const text = await page.read((t) => t.includes('id: 2\n'));
    const news = JSON.parse(/id: 2\nevent: case\ndata: (.*)\n\n/.exec(text)![1]!) as { state: CaseState; events: CaseEvent[] };
    expect([news.state.seq, news.events.map((e) => e.seq)]).toEqual([2, [2]]);
    page.close();
    const back = await follow(viewer, caseId, 1);
    const caught = await back.read((t) => t.includes('id: 2\n'));
    expect(caught).toContain('"events":[{');
    desk.server.services.feed.publish(caseId, { kind: 'job', job: { jobId: 'job-1', caseId, kind: 'plan', state: 'running', by: 'secret-person', progress: { step: 'x', ratio: 0.5 }, failure: null, ask: { inner: 1 }, answer: null, createdAt: '', changedAt: '' } });
    const told = await back.read((t) => t.includes('event: job'));
    expect(told).not.toMatch(/secret-person|inner/);
    back.close();
    expect((await desk.visit().ask(`/api/cases/${caseId}/feed`)).status).toBe(401);
    expect((await viewer.ask('/api/cases/case-unknown/feed')).status).toBe(404);
  });

  test('the database gone and back: coded refusals, no write half done, and then on as before', async () => {
    const planner = await desk.enter('planner');
    const { caseId } = await openCase(planner);
    isAway = true;
    const away = [await planner.ask('/api/cases'), await planner.ask(`/api/cases/${caseId}`), await add(planner, caseId, 1, [risk(80)]), await planner.ask('/api/session'), await planner.ask('/api/session', { method: 'POST', body: { login: planner.login, password: 'x' } })];
    const health = await planner.ask('/api/health');
    const shell = await planner.ask('/');
    isAway = false;
    expect(away.map((a) => [a.status, codeOf(a)])).toEqual(Array(5).fill([503, 'store-unreachable']));
    expect([health.status, health.json()['store'], shell.status]).toEqual([503, 'unreachable', 200]);
    expect((await planner.ask('/api/health')).json()).toMatchObject({ store: 'ready' });
    expect((await add(planner, caseId, 1, [risk(80)])).status).toBe(200);
  });

  test('what cannot be noted in the log is not answered', async () => {
    const planner = await desk.enter('planner');
    const { caseId } = await openCase(planner);
    isLogFull = true;
    const read = await planner.ask(`/api/cases/${caseId}`);
    const out = await desk.visit().ask('/api/session', { method: 'POST', body: { login: planner.login, password: PASSWORD } });
    isLogFull = false;
    expect([read.status, codeOf(read), out.status]).toEqual([507, 'store-full', 507]);
  });
});

describe('tables', () => {
  const signed = (content: Record<string, unknown>) => ({ ...content, signedSha256: hashSigned(content) });
  test('the training tables are there; a signed one is taken as it stands, a changed or unsigned one is not', async () => {
    const programme = await desk.enter('programme');
    const list = async () => (await programme.ask('/api/tables')).json<{ kind: string; sha256: string; training: boolean; hospital: string }[] & Record<string, unknown>>();
    expect((await list()).map((t) => [t.kind, t.training])).toEqual([['devices', true], ['rules', true]]);
    const own = signed({ ...TRAINING_TABLE, hospital: 'St. Elsewhere', training: false });
    const added = (await programme.ask('/api/tables', { method: 'POST', body: own })).json<{ sha256: string }>();
    const kept = await programme.ask(`/api/tables/${added.sha256}`);
    expect(kept.json()).toEqual(own);
    expect((await list()).find((t) => t.sha256 === added.sha256)).toMatchObject({ kind: 'devices', hospital: 'St. Elsewhere', training: false });
    expect((await programme.ask('/api/tables', { method: 'POST', body: signed({ ...TRAINING_RULES, hospital: 'St. Elsewhere' }) })).status).toBe(200);
    expect(codeOf(await programme.ask('/api/tables', { method: 'POST', body: { ...own, hospital: 'Changed' } }))).toBe('table-changed');
    expect(codeOf(await programme.ask('/api/tables', { method: 'POST', body: { ...TRAINING_TABLE, signedBy: '' } }))).toBe('devices-unsigned');
    expect((await programme.ask(`/api/tables/${'b'.repeat(64)}`)).status).toBe(404);
    const planner = await desk.enter('planner');
    const { caseId } = await openCase(planner);
    expect((await add(planner, caseId, 1, [{ kind: 'tables.chosen', data: { devicesSha256: added.sha256, rulesSha256: null } }])).status).toBe(200);
    expect(codeOf(await add(planner, caseId, 2, [{ kind: 'tables.chosen', data: { devicesSha256: null, rulesSha256: added.sha256 } }]))).toBe('event-not-here');
  });

  test('the hospital’s own rescue cards are handed in signed and chosen for a case, and the plan does not go stale by them', async () => {
    const programme = await desk.enter('programme');
    const own = signed({ ...DEFAULT_RESCUE_CARDS, hospital: 'St. Elsewhere', signedBy: 'A. Person', signedAt: '2026-03-02T08:00:00Z' });
    const added = await programme.ask('/api/tables', { method: 'POST', body: own });
    expect(added.status).toBe(200);
    const { sha256 } = added.json<{ sha256: string }>();
    expect((await programme.ask('/api/tables')).json<{ kind: string; sha256: string }[]>().find((t) => t.sha256 === sha256)?.kind).toBe('rescue');
    expect(codeOf(await programme.ask('/api/tables', { method: 'POST', body: DEFAULT_RESCUE_CARDS }))).toBe('rescue-unsigned');
    const planner = await desk.enter('planner');
    const { caseId } = await openCase(planner);
    expect((await add(planner, caseId, 1, [{ kind: 'tables.chosen', data: { devicesSha256: null, rulesSha256: null, rescueSha256: sha256 } }])).status).toBe(200);
    expect(codeOf(await add(planner, caseId, 2, [{ kind: 'tables.chosen', data: { devicesSha256: sha256, rulesSha256: null } }]))).toBe('event-not-here');
  });

  test('a plan is not given out as a table', async () => {
    const viewer = await desk.enter('viewer');
    const { sha256 } = must(await desk.opened.store.putDocument('plan', '{}'));
    expect(codeOf(await viewer.ask(`/api/tables/${sha256}`))).toBe('document-wrong-kind');
  });
});
