import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { putEmptyDatabase } from '../../../test/support/pglite-template.ts';
import { findPostgres, startPostgres } from '../../../test/support/postgres-server.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { hashText } from '../storage/hash-chain.ts';
import { FOLD_VERSION } from '../storage/case-calls.ts';
import { openDatabase, openStore, type OpenedStore } from '../storage/open-store.ts';
import { runMain } from './main.ts';

const top = mkdtempSync(join(tmpdir(), 'trinadir-store-result-'));
const data = join(top, 'data');
const backup = join(top, 'backup.tar');
afterAll(() => rmSync(top, { recursive: true, force: true }));
const must = <T>(r: { readonly ok: true; readonly value: T } | { readonly ok: false; readonly failure: { readonly code: string } }): T => {
  if (!r.ok) throw new Error(r.failure.code);
  return r.value;
};
async function trinadir(...words: readonly string[]): Promise<{ readonly code: number; readonly answer: Record<string, unknown> }> {
  let [out, err] = ['', ''];
  const code = await runMain([...words, '--json'], { out: (t) => void (out += t), err: (t) => void (err += t), isTerminal: false });
  return { code, answer: (out === '' ? (JSON.parse(err.trim().split('\n').at(-1)!) as { error: object }).error : JSON.parse(out)) as Record<string, unknown> };
}
async function withStore<T>(work: (opened: OpenedStore) => Promise<T>, dataFolder = data, dbUrl?: string): Promise<T> {
  const opened = must(await openStore({ dataFolder, dbUrl }));
  try {
    return await work(opened);
  } finally {
    await opened.close();
  }
}
const GRADE = '{"format":"trinadir.grade/1"}';
const BYTES = new TextEncoder().encode('time,AO\n');
const readResult = (dataFolder = data, dbUrl?: string): Promise<CaseState['result']> => withStore(async ({ store }) => must(await store.readState('case-result')).result, dataFolder, dbUrl);

/** A case with a recording, a sealed grade and what was shown, as the desk writes them. */
beforeAll(async () => {
  mkdirSync(data);
  await putEmptyDatabase(data);
  await withStore(async ({ store, blobs }) => {
    const blob = must(await blobs.put((async function* () { yield BYTES; })()));
    const [grade, shown, pressure] = [must(await store.putDocument('grade', GRADE)), must(await store.putDocument('verdict', '{"basedOnSeq":4}')), must(await store.putDocument('pressure', '{"beats":[]}'))];
    must(await store.append({ caseId: 'case-result', expectSeq: 0, by: 'one', events: [
      { kind: 'case.opened', data: { label: 'x', procedureOn: null, training: true } },
      { kind: 'recording.joined', data: { recordingId: 'recording-1', moment: 'after', blobSha256: blob.sha256, answerSha256: pressure.sha256, refusal: null, format: 'csv', channels: null, takenAt: '2026-03-02T10:00:00.000Z', durationS: 1, identity: { verdict: 'not comparable', fields: [], acceptedBecause: 'test' } } },
      { kind: 'readers.present', data: { personIds: ['one'] } },
      { kind: 'grade.sealed', data: { gradeId: 'grade-1', of: 'overall', sealedSha256: grade.sha256 } },
      { kind: 'verdict.shown', data: { what: 'verdict', answerSha256: shown.sha256 } },
    ] }));
  });
}, 60_000);

describe('a store with results', () => {
  test('its backup holds recordings, answers and sealed grades, into either engine', async () => {
    expect(await trinadir('audit', 'verify', '--data', data, '--pixels')).toMatchObject({ code: 0, answer: { cases: 1, documents: 3, files: 1 } });
    expect((await trinadir('backup', backup, '--data', data)).code).toBe(0);
    const before = await readResult();
    const again = join(top, 'again');
    mkdirSync(again);
    expect((await trinadir('restore', backup, '--data', again)).code).toBe(0);
    expect(await trinadir('audit', 'verify', '--data', again, '--pixels')).toMatchObject({ code: 0, answer: { documents: 3, files: 1 } });
    expect(await readResult(again)).toEqual(before);
    if (findPostgres() === null) return;
    const server = await startPostgres();
    const other = join(top, 'postgres');
    mkdirSync(other);
    try {
      expect((await trinadir('restore', backup, '--data', other, '--db', server.url)).code).toBe(0);
      expect(await trinadir('audit', 'verify', '--data', other, '--pixels', '--db', server.url)).toMatchObject({ code: 0, answer: { documents: 3, files: 1 } });
      expect(await readResult(other, server.url)).toEqual(before);
    } finally {
      await server.remove();
    }
  }, 120_000);

  test('a store that an older version folded, without results, has them after it is opened', async () => {
    const before = await readResult();
    const opened = must(await openDatabase({ dataFolder: data, writes: true }));
    const { result: _result, ...old } = JSON.parse((await opened.db.selectFrom('cases').select('state').executeTakeFirstOrThrow()).state) as CaseState;
    await opened.db.updateTable('cases').set({ state: JSON.stringify(old), fold_version: FOLD_VERSION - 1 }).execute();
    await opened.close();
    expect(await readResult()).toEqual(before);
    expect((await trinadir('audit', 'verify', '--data', data)).code).toBe(0);
  });

  test('a sealed grade that the log names and the store does not hold is found by the audit', async () => {
    await withStore(async ({ store }) => must(await store.append({ caseId: 'case-result', expectSeq: 5, by: 'two', events: [{ kind: 'grade.sealed', data: { gradeId: 'grade-2', of: 'overall', sealedSha256: hashText('gone') } }] })));
    expect(await trinadir('audit', 'verify', '--data', data)).toMatchObject({ code: 3, answer: { code: 'document-missing' } });
  });
});
