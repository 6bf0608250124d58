import fc from 'fast-check';
import type { Kysely } from 'kysely';
import { sql } from 'kysely';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { CaseEventData, NewCaseEvent } from '../../core/case/case-events.ts';
import { foldCase } from '../../core/case/fold-case.ts';
import type { Result } from '../../core/result.ts';
import { seed } from '../../../test/support/seed.ts';
import { makeFrozenFixture, makeStoredPlan } from '../../../test/support/frozen-fixture.ts';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import { makeCaseRow } from './case-calls.ts';
import { hashEvent } from './hash-chain.ts';
import { migrateStore } from './migrate.ts';
import { MIGRATIONS } from './migrations/migration-list.ts';
import { openTables } from './open-store.ts';
import type { CaseStore, StoredJob } from './store-types.ts';
import type { StoreTables } from './tables.ts';
import { makeVerifyCall, rebuildCases } from './verify-chains.ts';

const opened = (label: string, procedureOn: string | null = null): NewCaseEvent => ({ kind: 'case.opened', data: { label, procedureOn, training: false } });
const entered = (field: string, value: string | number | boolean | null, unit: string | null = null): NewCaseEvent => ({ kind: 'referral.entered', data: { field, value, unit } });
const moved = (x: number): NewCaseEvent => ({ kind: 'mark.moved', data: { mark: 'nadir.R', lps: [x, 0, 0], was: null } });
const IDENTITY: CaseEventData['scan.joined']['identity'] = { verdict: 'same', fields: [], acceptedBecause: null };

export function expectOk<T>(result: Result<T, string>): T {
  if (!result.ok) throw new Error(`${result.failure.code}: ${result.failure.message}`);
  return result.value;
}
export function expectCode(result: Result<unknown, string>): string {
  if (result.ok) throw new Error('It was answered; a refusal was expected.');
  return result.failure.code;
}

/** Every promise of the store. `open` gives an empty database of one engine. */
export function describeCaseStore(engine: string, open: () => Promise<Kysely<StoreTables>>): void {
  describe(`case store on ${engine}`, () => {
    let db: Kysely<StoreTables>;
    let store: CaseStore;
    let clockMs = Date.UTC(2026, 10, 25, 9);
    let nextCase = 1;
    const newId = (): string => `case-${String(nextCase++).padStart(4, '0')}`;
    beforeAll(async () => {
      db = await open();
      store = expectOk(await openTables(db, () => clockMs));
    });
    afterAll(() => store?.close());
    const start = async (label = 'A case', procedureOn: string | null = null): Promise<string> => {
      const caseId = newId();
      expectOk(await store.append({ caseId, expectSeq: 0, by: 'p-anna', events: [opened(label, procedureOn)] }));
      return caseId;
    };

    describe('events', () => {
      test('a case is opened, edited and read back as the fold of its events', async () => {
        const caseId = await start('Room 2, 4th of December', '2026-12-04');
        const added = expectOk(await store.append({ caseId, expectSeq: 1, by: 'p-anna', events: [entered('identity.sex', 'F'), entered('risk.creatinine', 88.5, 'umol/L'), moved(-12.25)] }));
        expect(added.map(({ seq }) => seq)).toEqual([2, 3, 4]);
        const events = expectOk(await store.listEvents(caseId, 0));
        expect(events.slice(1)).toEqual(added);
        const state = expectOk(await store.readState(caseId));
        expect(state).toEqual(foldCase(caseId, events));
        expect(state.marks['nadir.R']?.lps).toEqual([-12.25, 0, 0]);
        expect(expectOk(await store.listEvents(caseId, 3))).toEqual([added[2]]);
      });

      test('each event holds the hash of the one in front of it', async () => {
        const caseId = await start();
        expectOk(await store.append({ caseId, expectSeq: 1, by: 'p-anna', events: [moved(1), moved(2)] }));
        const events = expectOk(await store.listEvents(caseId, 0));
        expect(events[0]!.prevSha256).toBe('0'.repeat(64));
        for (const [k, event] of events.entries()) {
          expect(event.sha256).toBe(hashEvent(event));
          if (k > 0) expect(event.prevSha256).toBe(events[k - 1]!.sha256);
        }
      });

      test('an edit of a case that has changed since is refused whole and writes nothing', async () => {
        const caseId = await start();
        expectOk(await store.append({ caseId, expectSeq: 1, by: 'p-anna', events: [moved(1)] }));
        const refused = await store.append({ caseId, expectSeq: 1, by: 'p-bert', events: [moved(2), moved(3)] });
        expect(expectCode(refused)).toBe('case-changed');
        expect(expectOk(await store.listEvents(caseId, 0))).toHaveLength(2);
      });

      test('of twenty edits at the same moment one is taken and nineteen are refused', async () => {
        const caseId = await start();
        const outcomes = await Promise.all(Array.from({ length: 20 }, (_, k) => store.append({ caseId, expectSeq: 1, by: `p-${k}`, events: [moved(k)] })));
        expect(outcomes.filter((o) => o.ok)).toHaveLength(1);
        expect(outcomes.filter((o) => !o.ok).map(expectCode)).toEqual(Array.from({ length: 19 }, () => 'case-changed'));
        expect(expectOk(await store.listEvents(caseId, 0))).toHaveLength(2);
      });

      test('a case is opened once, even by ten at the same moment', async () => {
        const caseId = newId();
        const outcomes = await Promise.all(Array.from({ length: 10 }, () => store.append({ caseId, expectSeq: 0, by: 'p-anna', events: [opened('Twice')] })));
        expect(outcomes.filter((o) => o.ok)).toHaveLength(1);
        expect(outcomes.filter((o) => !o.ok).map(expectCode)).toEqual(Array.from({ length: 9 }, () => 'case-changed'));
      });

      test('a clock that steps back does not put an event before the last one', async () => {
        const caseId = await start();
        const before = expectOk(await store.readState(caseId)).changedAt;
        clockMs -= 3_600_000;
        const [event] = expectOk(await store.append({ caseId, expectSeq: 1, by: 'p-anna', events: [moved(1)] }));
        clockMs += 3_600_000;
        expect(event!.at).toBe(before);
      });

      test('refuses an unknown case, a second opening, an empty edit, an unopened case, a number of no case and a value that JSON cannot hold', async () => {
        const caseId = await start();
        const at = (id: string, expectSeq: number, events: readonly NewCaseEvent[]) => store.append({ caseId: id, expectSeq, by: 'p-anna', events });
        expect(expectCode(await at('case-none', 3, [moved(1)]))).toBe('case-unknown');
        expect(expectCode(await store.readState('case-none'))).toBe('case-unknown');
        expect(expectCode(await store.listEvents('case-none', 0))).toBe('case-unknown');
        expect(expectCode(await at(caseId, 1, [opened('again')]))).toBe('event-invalid');
        expect(expectCode(await at(caseId, 1, []))).toBe('event-invalid');
        expect(expectCode(await at(newId(), 0, [moved(1)]))).toBe('event-invalid');
        expect(expectCode(await at('../etc/passwd', 0, [opened('x')]))).toBe('event-invalid');
        expect(expectCode(await at(caseId, 1, [moved(Number.NaN)]))).toBe('event-invalid');
        expect(expectCode(await at(caseId, 1, [{ ...moved(1), supersedes: 2 }]))).toBe('event-invalid');
        expect(expectCode(await at(newId(), 0, [opened('a\u0000b')]))).toBe('event-invalid');
        expect(expectOk(await store.listEvents(caseId, 0))).toHaveLength(1);
      });

      test(`whatever text or number is entered comes back the same (seed ${seed})`, async () => {
        const caseId = await start();
        const value = fc.oneof(fc.string({ unit: 'binary', maxLength: 40 }), fc.double({ noNaN: true, noDefaultInfinity: true }), fc.boolean(), fc.constantFrom('\u0000', '\ud800', "'; drop table events; --", '1e999'));
        const given = fc.sample(value, { seed, numRuns: 200 });
        expectOk(await store.append({ caseId, expectSeq: 1, by: 'p-anna', events: given.map((v) => entered('note.text', v)) }));
        const events = expectOk(await store.listEvents(caseId, 1));
        // The canonical form knows one zero only.
        expect(events.map((e) => (e.data as CaseEventData['referral.entered']).value)).toEqual(given.map((v) => (Object.is(v, -0) ? 0 : v)));
        expectOk(await store.verifyChains());
      });
    });

    describe('work list', () => {
      test('goes by procedure date, cases without one last, page by page, each once', async () => {
        const dates = ['2027-03-01', null, '2026-12-31', '2027-01-15', null, '2026-12-31', '2027-02-02'];
        const ids = new Map<string, string | null>();
        for (const day of dates) ids.set(await start('Pagewise 100%_\\', day), day);
        const seen: string[] = [];
        for (let afterCaseId: string | undefined; ;) {
          const page = expectOk(await store.listCases({ find: 'pagewise 100%_\\', limit: 3, afterCaseId }));
          expect(page.total).toBe(7);
          seen.push(...page.cases.map((line) => line.caseId));
          if (page.cases.length < 3) break;
          afterCaseId = page.cases.at(-1)!.caseId;
        }
        expect(seen).toHaveLength(7);
        const days = seen.map((id) => ids.get(id) ?? '9999');
        expect(days).toEqual([...days].sort());
      });

      test('a sign that means "anything" in a search is only itself', async () => {
        await start('Percent %');
        expect(expectOk(await store.listCases({ find: 'Percent _', limit: 10 })).total).toBe(0);
        expect(expectOk(await store.listCases({ find: 'percent %', limit: 10 })).total).toBe(1);
        expect(expectOk(await store.listCases({ find: '\u0000', limit: 10 })).total).toBe(0);
      });

      test('says what is missing, and finds cases by it', async () => {
        const caseId = await start('Missing things', '2026-12-01');
        expectOk(await store.append({ caseId, expectSeq: 1, by: 'p', events: [
          entered('identity.name', 'X'), entered('identity.birthDate', '1940-01-01'), entered('identity.sex', 'M'),
          { kind: 'scan.joined', data: { scanId: 'scan-1', manifestSha256: 'a'.repeat(64), files: 2, bytes: 10, identity: IDENTITY } },
        ] }));
        const find = (missing?: string) => store.listCases({ find: 'missing things', missing, limit: 10 }).then(expectOk);
        expect((await find()).cases[0]!.missing).toEqual(['root', 'size', 'landing', 'views', 'release', 'dry-run', 'huddle']);
        expect((await find('root')).total).toBe(1);
        expect((await find('scan')).total).toBe(0);
        const { sha256: planSha256 } = expectOk(await store.putDocument('plan', JSON.stringify({ root: {}, size: {}, views: {} })));
        expectOk(await store.append({ caseId, expectSeq: 5, by: 'trinadir', events: [{ kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: 5 } }] }));
        expect((await find()).cases[0]).toMatchObject({ missing: ['landing', 'release', 'dry-run', 'huddle'], planState: 'made' });
      });

      test('marks a case as training while its newest plan stands on invented sizes, however it was opened', async () => {
        const caseId = await start('Invented sizes');
        const isTraining = async (): Promise<boolean> => expectOk(await store.listCases({ find: 'invented sizes', limit: 1 })).cases[0]!.training;
        const plan = async (seq: number, training: boolean) => {
          const { sha256: planSha256 } = expectOk(await store.putDocument('plan', JSON.stringify({ training, root: {} })));
          expectOk(await store.append({ caseId, expectSeq: seq, by: 'trinadir', events: [{ kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: seq } }] }));
        };
        expect(await isTraining()).toBe(false);
        await plan(1, true);
        expect(await isTraining()).toBe(true);
        expectOk(await store.append({ caseId, expectSeq: 2, by: 'p', events: [moved(1)] })); // the sizes that are shown are still the invented ones
        expect(await isTraining()).toBe(true);
        await plan(3, false);
        expect(await isTraining()).toBe(false);
      });

      test('says whether a plan is made, stale, refused or on its way', async () => {
        const caseId = await start('Plan states');
        const stateNow = async (): Promise<string> => expectOk(await store.listCases({ find: 'plan states', limit: 1 })).cases[0]!.planState;
        expect(await stateNow()).toBe('none');
        const add = async (expectSeq: number, event: NewCaseEvent) => expectOk(await store.append({ caseId, expectSeq, by: 'trinadir', events: [event] }));
        await add(1, { kind: 'plan.refused', data: { code: 'x', text: 'y', next: 'z', basedOnSeq: 1 } });
        expect(await stateNow()).toBe('refused');
        const { sha256: planSha256 } = expectOk(await store.putDocument('plan', '{"root":{}}'));
        await add(2, { kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: 2 } });
        expect(await stateNow()).toBe('made');
        await add(3, moved(1));
        expect(await stateNow()).toBe('stale');
        expectOk(await store.putJob(makeJob('job-planning', caseId, 'running')));
        expect(await stateNow()).toBe('planning');
        expectOk(await store.putJob(makeJob('job-planning', caseId, 'done')));
        expect(await stateNow()).toBe('stale');
      });

      test('a state made by an older fold is remade from the events', async () => {
        const caseId = await start('Old fold');
        const before = expectOk(await store.readState(caseId));
        await sql`update cases set state = '{}', missing = '||', fold_version = 0 where case_id = ${caseId}`.execute(db);
        expect(await rebuildCases(db)).toBe(1);
        expect(expectOk(await store.readState(caseId))).toEqual(before);
        expectOk(await store.verifyChains());
      });
    });

    describe('people and sessions', () => {
      const person = { personId: 'p-0001', login: 'anna', displayName: 'Anna', role: 'planner', isActive: true, passwordHash: 'scrypt$x', oidcSubject: null } as const;
      test('an account is made, found three ways, changed, and its log-in name is its own', async () => {
        expectOk(await store.addPerson(person));
        expect(expectCode(await store.addPerson({ ...person, personId: 'p-0002' }))).toBe('login-taken');
        expect(expectOk(await store.changePerson('p-0001', { role: 'admin', passwordHash: null, oidcSubject: 'https://issuer sub' }))).toMatchObject({ role: 'admin', passwordHash: null, login: 'anna', displayName: 'Anna' });
        for (const by of [{ personId: 'p-0001' }, { login: 'anna' }, { oidcSubject: 'https://issuer sub' }]) expect(expectOk(await store.findPerson(by))?.role).toBe('admin');
        expect(expectOk(await store.findPerson({ login: 'nobody' }))).toBeNull();
        expect(expectCode(await store.changePerson('p-none', { role: 'admin' }))).toBe('person-unknown');
        expect(expectOk(await store.listPeople()).map((p) => p.login)).toContain('anna');
      });

      test('a session is found until it is ended, alone or with all of its person', async () => {
        expectOk(await store.addPerson({ ...person, personId: 'p-0003', login: 'cleo' }));
        const session = (k: number) => ({ tokenSha256: `${k}`.repeat(64), personId: 'p-0003', csrfToken: 'c', createdAt: 'a', seenAt: 'b', expiresAt: 'd' });
        for (const k of [1, 2, 3]) expectOk(await store.addSession(session(k)));
        expectOk(await store.touchSession('1'.repeat(64), 'later'));
        expect(expectOk(await store.findSession('1'.repeat(64)))).toEqual({ ...session(1), seenAt: 'later' });
        expectOk(await store.endSession('1'.repeat(64)));
        expect(expectOk(await store.findSession('1'.repeat(64)))).toBeNull();
        expectOk(await store.endSessionsOf('p-0003'));
        expect(expectOk(await store.findSession('3'.repeat(64)))).toBeNull();
      });
    });

    describe('audit, documents, jobs', () => {
      test('audit entries written at the same moment make one chain', async () => {
        const entries = await Promise.all(Array.from({ length: 15 }, (_, k) => store.addAudit({ by: `p-${k}`, kind: 'case.read', caseId: 'case-aud', data: { k, ok: true, note: null } })));
        const seqs = entries.map((e) => expectOk(e).seq).sort((a, b) => a - b);
        expect(seqs).toEqual(Array.from({ length: 15 }, (_, k) => seqs[0]! + k));
        const listed = expectOk(await store.listAudit({ caseId: 'case-aud', afterSeq: 0, limit: 4 }));
        expect(listed).toHaveLength(4);
        expect(expectOk(await store.listAudit({ afterSeq: listed[3]!.seq, limit: 100 }))).toHaveLength(11);
        expectOk(await store.verifyChains());
      });

      test('a document is kept once under its hash', async () => {
        const text = JSON.stringify({ a: 'Ångström', big: 'x'.repeat(300_000) });
        const first = expectOk(await store.putDocument('survey', text));
        expect(expectOk(await store.putDocument('survey', text))).toEqual(first);
        expect(expectOk(await store.readDocument(first.sha256))).toEqual({ kind: 'survey', text });
        expect(expectOk(await store.listDocuments('survey')).filter((d) => d.sha256 === first.sha256)).toHaveLength(1);
        expect(expectCode(await store.readDocument('f'.repeat(64)))).toBe('blob-unknown');
      });

      test('a job is put, changed and listed by case and state', async () => {
        const job = makeJob('job-a', 'case-jobs', 'waiting');
        expectOk(await store.putJob(job));
        expectOk(await store.putJob({ ...job, state: 'failed', failure: { code: 'x', text: 'y', next: 'z' }, changedAt: '2026-11-25T10:00:00.000Z' }));
        expectOk(await store.putJob(makeJob('job-b', 'case-jobs', 'running')));
        expect(expectOk(await store.findJob('job-a'))).toEqual({ ...job, state: 'failed', failure: { code: 'x', text: 'y', next: 'z' }, changedAt: '2026-11-25T10:00:00.000Z' });
        expect(expectOk(await store.listJobs({ caseId: 'case-jobs', states: ['running'] })).map((j) => j.jobId)).toEqual(['job-b']);
        expect(expectOk(await store.listJobs({ caseId: 'case-jobs', states: [] }))).toEqual([]);
        expect(expectOk(await store.findJob('job-none'))).toBeNull();
      });
    });

    describe('what must never change', () => {
      test('the database itself refuses to rewrite or remove events, audit and documents', async () => {
        await start();
        for (const change of [sql`update events set by_whom = 'x'`, sql`delete from events`, sql`truncate audit`, sql`update documents set text = 'x'`, sql`delete from audit`]) {
          await expect(change.execute(db)).rejects.toThrow('append only');
        }
      });

      test('a changed, a removed and an added event are found and named, behind the guard too', async () => {
        const caseId = await start('Tampered');
        expectOk(await store.append({ caseId, expectSeq: 1, by: 'p', events: [moved(1), moved(2)] }));
        const tamper = async (change: ReturnType<typeof sql>): Promise<Result<unknown, string>> => {
          let found: Result<unknown, string> | null = null;
          const undo = new Error('undo');
          await db.transaction().execute(async (tx) => {
            await sql`alter table events disable trigger events_stay`.execute(tx);
            await change.execute(tx);
            found = await makeVerifyCall(tx).verifyChains();
            throw undo;
          }).catch((problem: unknown) => {
            if (problem !== undo) throw problem;
          });
          return found!;
        };
        for (const change of [
          sql`update events set by_whom = 'someone else' where case_id = ${caseId} and seq = 2`,
          sql`delete from events where case_id = ${caseId} and seq = 2`,
          sql`delete from events where case_id = ${caseId} and seq = 3`,
          sql`insert into events select case_id, 4, at, by_whom, kind, data, supersedes, sha256, sha256 from events where case_id = ${caseId} and seq = 3`,
          sql`update cases set seq = 4 where case_id = ${caseId}`,
          sql`update cases set state = replace(state, 'Tampered', 'Fine') where case_id = ${caseId}`,
        ]) {
          const found = await tamper(change);
          expect(expectCode(found)).toBe('chain-broken');
          if (!found.ok) expect(found.failure.evidence['caseId']).toBe(caseId);
        }
        expectOk(await store.verifyChains());
      });

      test('a frozen plan that is gone, not in its one form, or holds another plan is found and named', async () => {
        const { document, text } = makeFrozenFixture();
        const { planText, planSha256 } = makeStoredPlan();
        for (const [content, problem] of [[text, null], [`${text}\n`, 'one form'], [formatCanonical({ ...document, caseId: 'another' }), 'another case'], [formatCanonical({ ...document, plan: { ...document.plan, training: false } }), 'another plan'], [null, 'missing']] as const) {
          const caseId = await start('Frozen');
          const own = content === null ? null : content.replace(`"caseId":"${document.caseId}"`, `"caseId":"${caseId}"`);
          expectOk(await store.putDocument('plan', planText));
          const frozenSha256 = own === null ? 'e'.repeat(64) : expectOk(await store.putDocument('frozen', own)).sha256;
          const first = expectOk(await store.listEvents(caseId, 0))[0]!;
          const undo = new Error('undo');
          let found: Result<unknown, string> | null = null;
          await db.transaction().execute(async (tx) => {
            const link = { caseId, seq: 2, at: first.at, by: 'p', kind: 'plan.frozen' as const, data: { frozenSha256, planSha256, basedOnSeq: 1, amends: null, differences: [] }, supersedes: null, prevSha256: first.sha256 };
            const event = { ...link, sha256: hashEvent(link) };
            await tx.insertInto('events').values({ case_id: caseId, seq: 2, at: event.at, by_whom: 'p', kind: event.kind, data: formatCanonical(event.data), supersedes: null, prev_sha256: event.prevSha256, sha256: event.sha256 }).execute();
            await tx.updateTable('cases').set(await makeCaseRow(tx, foldCase(caseId, [first, event]))).where('case_id', '=', caseId).execute();
            found = await makeVerifyCall(tx).verifyChains();
            throw undo; // a store with such a plan fails every later check
          }).catch((problemThrown: unknown) => {
            if (problemThrown !== undo) throw problemThrown;
          });
          const told = found as Result<unknown, string> | null;
          expect(told?.ok === true ? null : `${told?.failure.code} ${told?.failure.message}`, problem ?? 'sound').toEqual(problem === null ? null : expect.stringMatching(new RegExp(`^chain-broken .*${problem}`)));
        }
        expectOk(await store.verifyChains());
      });

      test('tables of a newer version are left alone', async () => {
        await db.insertInto('schema_version').values({ version: 999, name: 'from-the-future', at: '' }).execute();
        expect(expectCode(await migrateStore(db, ''))).toBe('store-newer');
        await db.deleteFrom('schema_version').where('version', '=', 999).execute();
        expect(expectOk(await migrateStore(db, ''))).toMatchObject({ from: MIGRATIONS.at(-1)!.version });
      });
    });
  });
}

export function makeJob(jobId: string, caseId: string, state: StoredJob['state']): StoredJob {
  return {
    jobId, caseId, kind: 'plan', state, by: 'p-anna', progress: { step: 'reading', ratio: 0.25 }, failure: null, ask: { any: ['thing', 1, null] }, answer: null,
    createdAt: '2026-11-25T09:00:00.000Z', changedAt: '2026-11-25T09:00:00.000Z',
  };
}
