import { appendFileSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { putEmptyDatabase } from '../../../test/support/pglite-template.ts';
import { findPostgres, startPostgres, type PostgresServer } from '../../../test/support/postgres-server.ts';
import { runMain } from '../cli/main.ts';
import { expectOk, makeJob } from './case-store.suite.ts';
import { openStore } from './open-store.ts';

const top = mkdtempSync(join(tmpdir(), 'trinadir-backup-'));
const backup = join(top, 'backup.tar');
const cases = join(top, 'cases');
afterAll(() => rmSync(top, { recursive: true, force: true }));

interface Outcome { readonly code: number; readonly answer: Record<string, unknown> }
async function trinadir(...words: readonly string[]): Promise<Outcome> {
  let [out, err] = ['', ''];
  const code = await runMain([...words, '--json'], { out: (t) => void (out += t), err: (t) => void (err += t), isTerminal: false });
  return { code, answer: (out === '' ? (JSON.parse(err.trim().split('\n').at(-1)!) as { error: object }).error : JSON.parse(out)) as Record<string, unknown> };
}
/** Everything a store answers, for comparing two of them. */
async function readAll(dataFolder: string, dbUrl?: string): Promise<unknown> {
  const { store, blobs, close } = expectOk(await openStore({ dataFolder, dbUrl }));
  const events = await Promise.all(['case-0001', 'case-0002'].map(async (id) => [expectOk(await store.listEvents(id, 0)), expectOk(await store.readState(id))]));
  const people = expectOk(await store.listPeople());
  const documents = await Promise.all(expectOk(await store.listDocuments('plan')).map(async ({ sha256, at }) => [at, expectOk(await store.readDocument(sha256))]));
  const audit = expectOk(await store.listAudit({ afterSeq: 0, limit: 3 }));
  const jobs = expectOk(await store.listJobs({}));
  const lines = expectOk(await store.listCases({ limit: 10 }));
  const pixels = (await blobs.verify([SHA_OF_PIXELS])).length;
  await close();
  return { events, people, documents, audit, jobs, lines, pixels };
}
let SHA_OF_PIXELS = '';
let before: unknown;

beforeAll(async () => {
  await putEmptyDatabase(cases);
  const { store, blobs, close } = expectOk(await openStore({ dataFolder: cases }));
  SHA_OF_PIXELS = expectOk(await blobs.put([new Uint8Array(3_000_001).fill(7)])).sha256;
  const { sha256: planSha256 } = expectOk(await store.putDocument('plan', JSON.stringify({ root: {}, 'Ünïcode': '\u0000\ud83d\ude00' })));
  for (const caseId of ['case-0001', 'case-0002']) {
    expectOk(await store.append({ caseId, expectSeq: 0, by: 'p-1', events: [{ kind: 'case.opened', data: { label: `Of ${caseId}`, procedureOn: '2027-01-02', training: true } }] }));
    const many = Array.from({ length: 250 }, (_, k) => ({ kind: 'referral.entered', data: { field: 'identity.name', value: `Name ${k} \u0000 '`, unit: null } }) as const);
    expectOk(await store.append({ caseId, expectSeq: 1, by: 'p-1', events: many }));
    expectOk(await store.append({ caseId, expectSeq: 251, by: 'trinadir', events: [{ kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: 251 } }] }));
  }
  expectOk(await store.addPerson({ personId: 'p-1', login: 'anna', displayName: 'Anna', role: 'admin', isActive: true, passwordHash: 'scrypt$x', oidcSubject: null }));
  for (let k = 0; k < 3; k++) expectOk(await store.addAudit({ by: 'p-1', kind: 'case.read', caseId: 'case-0001', data: { k } }));
  expectOk(await store.putJob(makeJob('job-done', 'case-0001', 'done')));
  await close();
  before = await readAll(cases);
  const made = await trinadir('backup', backup, '--data', cases);
  expect(made).toMatchObject({ code: 0, answer: { files: 1 } });
});

describe('trinadir backup and restore', () => {
  test('restore in another folder gives a store that answers the same, and says so in its log', async () => {
    const again = join(top, 'again');
    await putEmptyDatabase(again);
    expect(await trinadir('restore', backup, '--data', again)).toMatchObject({ code: 0, answer: { files: 1 } });
    expect(await readAll(again)).toEqual(before);
    expect(await trinadir('audit', 'verify', '--data', again, '--pixels')).toMatchObject({ code: 0, answer: { cases: 2, events: 504, auditEntries: 5, documents: 1, files: 1 } });
  });

  test('the file is for its owner only, and no work is left beside it', () => {
    expect(statSync(backup).mode & 0o077).toBe(0);
    expect(readdirSync(top).filter((name) => name.startsWith('.'))).toEqual([]);
  });

  test('nothing is overwritten: no file by a backup, no cases by a restore', async () => {
    expect(await trinadir('backup', backup, '--data', cases)).toMatchObject({ code: 2, answer: { code: 'backup-exists' } });
    expect(await trinadir('restore', backup, '--data', cases)).toMatchObject({ code: 2, answer: { code: 'store-not-empty' } });
    expect(await readAll(cases)).toEqual(before);
  });

  test('a backup that was cut off, changed or is none is refused before anything is restored', async () => {
    const target = join(top, 'target');
    await putEmptyDatabase(target);
    const damaged = join(top, 'damaged.tar');
    const whole = readFileSync(backup);
    const restore = async (content: Uint8Array): Promise<unknown> => {
      writeFileSync(damaged, content);
      return (await trinadir('restore', damaged, '--data', target)).answer['code'];
    };
    for (const length of [0, 100, 512, 4096, Math.floor(whole.length / 2), whole.length - 1024 - 512]) expect(await restore(whole.subarray(0, length)), `${length} bytes`).toBe('backup-broken');
    for (const at of [0, 700, 5000, Math.floor(whole.length / 2), whole.length - 1024 - 500]) {
      const changed = Uint8Array.from(whole);
      changed[at] = changed[at]! ^ 1;
      expect(await restore(changed), `byte ${at}`).toBe('backup-broken');
    }
    expect((await trinadir('restore', join(top, 'nowhere.tar'), '--data', target)).answer['code']).toBe('backup-unreadable');
    expect((await trinadir('restore', top, '--data', target)).answer['code']).toBe('backup-unreadable');
    const { store, close } = expectOk(await openStore({ dataFolder: target }));
    expect(expectOk(await store.listCases({ limit: 1 })).total).toBe(0);
    await close();
  });

  test('a damaged CT file stops a backup, and is found by audit verify', async () => {
    const hurt = join(top, 'hurt');
    await putEmptyDatabase(hurt);
    expect((await trinadir('restore', backup, '--data', hurt)).code).toBe(0);
    const file = join(hurt, 'pixels', SHA_OF_PIXELS.slice(0, 2), SHA_OF_PIXELS);
    truncateSync(file, 2_000_000);
    appendFileSync(file, new Uint8Array(1_000_001));
    expect(await trinadir('audit', 'verify', '--data', hurt, '--pixels')).toMatchObject({ code: 3, answer: { code: 'pixels-damaged' } });
    expect(await trinadir('audit', 'verify', '--data', hurt)).toMatchObject({ code: 0 });
    expect(await trinadir('backup', join(top, 'hurt.tar'), '--data', hurt)).toMatchObject({ code: 3, answer: { code: 'blob-damaged' } });
    expect(readdirSync(top)).not.toContain('hurt.tar');
  });

  test('while a server holds the folder, and of a folder that is none, it says so', async () => {
    const { close } = expectOk(await openStore({ dataFolder: cases }));
    expect(await trinadir('backup', join(top, 'busy.tar'), '--data', cases)).toMatchObject({ code: 2, answer: { code: 'store-locked' } });
    await close();
    mkdirSync(join(top, 'empty'), { recursive: true });
    expect(await trinadir('audit', 'verify', '--data', cases, '--db', 'postgres://tri@127.0.0.1:9/none')).toMatchObject({ code: 5, answer: { code: 'store-unreachable' } });
    expect((await trinadir('audit', 'mend', '--data', cases)).code).toBe(2);
  });
});

describe.skipIf(findPostgres() === null)('backup between engines', () => {
  let server: PostgresServer;
  beforeAll(async () => {
    server = await startPostgres();
  });
  afterAll(() => server?.remove());

  test('from the embedded engine to PostgreSQL and back, beside a running server, nothing changes', async () => {
    const folder = join(top, 'pg');
    expect((await trinadir('restore', backup, '--data', folder, '--db', server.url)).code).toBe(0);
    expect(await readAll(folder, server.url)).toEqual(before);
    const running = expectOk(await openStore({ dataFolder: folder, dbUrl: server.url }));
    expect((await trinadir('audit', 'verify', '--data', folder, '--db', server.url)).code).toBe(0);
    expect((await trinadir('backup', join(top, 'pg.tar'), '--data', folder, '--db', server.url)).code).toBe(0);
    await running.close();
    const back = join(top, 'back');
    await putEmptyDatabase(back);
    expect((await trinadir('restore', join(top, 'pg.tar'), '--data', back)).code).toBe(0);
    expect(await readAll(back)).toEqual(before);
  });
});
