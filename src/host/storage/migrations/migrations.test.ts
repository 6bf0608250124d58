import { Kysely, sql } from 'kysely';
import { afterAll, expect, test } from 'vitest';
import { startEmptyEngine } from '../../../../test/support/pglite-template.ts';
import { formatCanonical } from '../../../core/audit/format-canonical.ts';
import type { CaseEvent } from '../../../core/case/case-events.ts';
import { expectOk } from '../case-store.suite.ts';
import { CHAIN_START, hashEvent } from '../hash-chain.ts';
import { migrateStore } from '../migrate.ts';
import { openTables } from '../open-store.ts';
import { makePgliteDialect } from '../pglite/pglite-dialect.ts';
import type { StoreTables } from '../tables.ts';
import { MIGRATIONS } from './migration-list.ts';

const opened: Kysely<StoreTables>[] = [];
afterAll(() => Promise.all(opened.map((db) => db.destroy())));

test('tables of version 1 with cases, people and sessions in them are brought forward; the chain holds and taps can be logged', async () => {
  const pg = await startEmptyEngine();
  const db = new Kysely<StoreTables>({ dialect: makePgliteDialect({ get: async () => pg, drop: () => {}, close: () => pg.close() }) });
  opened.push(db);
  const at = '2026-11-01T08:00:00.000Z';
  expectOk(await migrateStore(db, at, MIGRATIONS.filter((m) => m.version === 1)));
  const link = { caseId: 'case-old', seq: 1, at, by: 'p-anna', kind: 'case.opened' as const, data: { label: 'Old', procedureOn: null, training: false }, supersedes: null, prevSha256: CHAIN_START };
  const event: CaseEvent = { ...link, sha256: hashEvent(link) };
  // As version 1 wrote them: its states had no huddle and no room, and fold_version says so.
  await sql`insert into cases values ('case-old', 1, ${event.sha256}, 'Old', null, '9999-99-99', false, ${at}, 'none', '|scan|', '{}', 1)`.execute(db);
  await sql`insert into events values ('case-old', 1, ${at}, 'p-anna', 'case.opened', ${formatCanonical(event.data)}, null, ${CHAIN_START}, ${event.sha256})`.execute(db);
  await sql`insert into people values ('p-anna', 'anna', 'Anna', 'operator', true, null, null, ${at})`.execute(db);
  await sql`insert into sessions values (${'a'.repeat(64)}, 'p-anna', 'c', ${at}, ${at}, ${at})`.execute(db);

  const store = expectOk(await openTables(db, () => Date.parse(at)));
  expect(expectOk(await store.readState('case-old'))).toMatchObject({ label: 'Old', seq: 1, room: { entries: 0, lastSeq: 0 } });
  expect(expectOk(await store.findSession('a'.repeat(64)))).toMatchObject({ personId: 'p-anna' });
  expect(expectOk(await store.findSession('a'.repeat(64)))?.scope).toBeUndefined();
  const record = { entryId: 'tap-one', clientId: 'page-one', place: 'desk', count: 1, monotonicMs: 1, clientAt: at, happenedAt: at, offset: null, corrects: null, entry: { is: 'contrast', ml: 5 } } as const;
  expect(expectOk(await store.appendRecords({ caseId: 'case-old', by: 'p-anna', records: [record] })).state.room).toEqual({ entries: 1, lastSeq: 2 });
  expect(expectOk(await store.verifyChains())).toMatchObject({ cases: 1, events: 2 });
  expect(expectOk(await migrateStore(db, at))).toEqual({ from: MIGRATIONS.at(-1)!.version, to: MIGRATIONS.at(-1)!.version });
});
