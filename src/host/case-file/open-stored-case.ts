import { access } from 'node:fs/promises';
import { join } from 'node:path';
import { foldCase } from '../../core/case/fold-case.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { CHAIN_START, hashEvent } from '../storage/hash-chain.ts';
import { openDatabase, openTables } from '../storage/open-store.ts';
import type { CaseStore } from '../storage/store-types.ts';
import type { OpenedCase } from './case-file-types.ts';
import { listNamedDocuments } from './list-named-documents.ts';
import { failDamaged, failMissing } from './open-case-folder.ts';
import { failBroken } from './parse-case.ts';

export interface StoredPlace {
  readonly dataFolder: string;
  readonly dbUrl?: string | undefined;
}
/** What stands for the command line in the record of a store. */
const NOTED_BY = 'trinadir';

/**
 * A case of a store, to be read. PostgreSQL is read beside a running server; the embedded engine belongs to one process.
 * Fails     case-unreadable (no such case, or nothing stored there), chain-broken, and as openStore
 */
export async function openStoredCase(caseId: string, { dataFolder, dbUrl }: StoredPlace): Promise<Result<OpenedCase, string>> {
  // A look at a store must not make one.
  const isThere = dbUrl !== undefined || (await access(join(dataFolder, 'db')).then(() => true, () => false));
  if (!isThere) return fail('case-unreadable', CASE_FILE_EN.unreadable, CASE_FILE_EN.unreadableNext);
  const opened = await openDatabase({ dataFolder, dbUrl, writes: false });
  if (!opened.ok) return opened;
  const { db, close } = opened.value;
  const read = await openTables(db, Date.now).then(async (store) => (store.ok ? readStored(caseId, store.value, close) : store)).catch(async (problem: unknown) => {
    await close();
    throw problem;
  });
  if (!read.ok) await close();
  return read;
}

/** A case of an open store; closing it calls `close`. */
export async function readStored(caseId: string, store: CaseStore, close: () => Promise<void>): Promise<Result<OpenedCase, string>> {
  const listed = await store.listEvents(caseId, 0);
  if (!listed.ok) return listed.failure.code === 'case-unknown' ? fail('case-unreadable', CASE_FILE_EN.unreadable, CASE_FILE_EN.unreadableNext) : listed;
  const events = listed.value;
  let prevSha256 = CHAIN_START;
  for (const [k, event] of events.entries()) {
    if (event.seq !== k + 1 || event.prevSha256 !== prevSha256 || hashEvent(event) !== event.sha256) return failBroken(`event ${k + 1}`, { seq: k + 1 });
    prevSha256 = event.sha256;
  }
  const people = await store.listPeople();
  if (!people.ok) return people;
  const names = new Map(people.value.map((p) => [p.personId, p.displayName]));
  return succeed({
    where: 'stored', caseId, events, state: foldCase(caseId, events), notes: [],
    async readDocument(sha256) {
      const read = await store.readDocument(sha256);
      if (read.ok) return succeed(read.value.text);
      return read.failure.code === 'blob-unknown' ? failMissing(sha256) : read.failure.code === 'blob-damaged' ? failDamaged(sha256) : read;
    },
    listDocuments: () => Promise.resolve(listNamedDocuments(events).map(({ sha256 }) => sha256).sort()),
    nameOf: (by) => names.get(by) ?? by,
    note: (kind, data) => store.addAudit({ by: NOTED_BY, kind, caseId, data }),
    close,
  });
}
