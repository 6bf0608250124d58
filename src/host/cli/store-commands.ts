import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { checkShownGrades } from '../case-file/check-shown-grades.ts';
import { listNamedDocuments } from '../case-file/list-named-documents.ts';
import { failMissing } from '../case-file/open-case-folder.ts';
import { backUpStore, restoreStore } from '../storage/back-up-store.ts';
import { listBlobs, makeBlobStore } from '../storage/blob-store.ts';
import { makeCaseStore } from '../storage/case-store.ts';
import { openDatabase, openTables, type OpenedDatabase } from '../storage/open-store.ts';
import { readStoreFailure } from '../storage/store-failures.ts';
import type { CaseStore, DocumentKind } from '../storage/store-types.ts';
import type { CommandIo } from './command-io.ts';
import { EXIT } from './exit-codes.ts';
import { reportFailure } from './report-failure.ts';

export interface StoreCommandOptions {
  readonly dataFolder: string;
  readonly dbUrl?: string | undefined;
  readonly json?: boolean | undefined;
  readonly quiet?: boolean | undefined;
}
const USAGE = new Set(['backup-exists', 'store-not-empty', 'store-locked']);
const NOTED_BY = 'trinadir';
const CASES_AT_ONCE = 100;

/** `trinadir backup FILE`: everything that is stored, as one file; the log says that it was made. */
export function runBackupCommand(file: string, options: StoreCommandOptions, io: CommandIo): Promise<number> {
  return withStore('backup', options, false, io, async (opened, store) => {
    const noted = await store.addAudit({ by: NOTED_BY, kind: 'backup.made', caseId: null, data: {} });
    if (!noted.ok) return noted;
    const made = await backUpStore(opened.db, options.dataFolder, file, Date.now());
    return made.ok ? succeed({ answer: { ...made.value }, text: formatText(STORE_EN, 'backedUp', { ...made.value }) }) : made;
  });
}

/** `trinadir restore FILE`: a backup into an empty store, of either engine. */
export function runRestoreCommand(file: string, options: StoreCommandOptions, io: CommandIo): Promise<number> {
  return withStore('restore', options, true, io, async (opened, store) => {
    const restored = await restoreStore(opened.db, options.dataFolder, file, Date.now());
    if (!restored.ok) return restored;
    const noted = await store.addAudit({ by: NOTED_BY, kind: 'backup.restored', caseId: null, data: {} });
    return noted.ok ? succeed({ answer: { ...restored.value }, text: formatText(STORE_EN, 'restored', { ...restored.value }) }) : noted;
  });
}

/** `trinadir audit verify`: reads the whole record again; with `pixels` the CT files too. */
export function runAuditVerifyCommand(options: StoreCommandOptions & { readonly pixels?: boolean | undefined }, io: CommandIo): Promise<number> {
  return withStore('audit', options, false, io, async (_opened, store) => {
    const verified = await store.verifyChains();
    if (!verified.ok) return verified;
    const results = await verifyResults(store);
    if (!results.ok) return results;
    const text = formatText(STORE_EN, 'verified', { ...verified.value });
    if (options.pixels !== true) return succeed({ answer: { ...verified.value }, text });
    const wanted = await listWanted(store, options.dataFolder);
    if (!wanted.ok) return wanted;
    const problems = await makeBlobStore(options.dataFolder).verify(wanted.value);
    const files = wanted.value.length;
    if (problems.length > 0) return fail('pixels-damaged', formatText(STORE_EN, 'pixelsBroken', { count: problems.length, files }), STORE_EN.pixelsBrokenNext, { count: problems.length, files });
    return succeed({ answer: { ...verified.value, files }, text: `${text}\n${formatText(STORE_EN, 'verifiedPixels', { files })}` });
  });
}

/** What the log of a result proves hangs on these documents: a sealed grade that is gone proves nothing. */
const OF_RESULT: ReadonlySet<DocumentKind> = new Set<DocumentKind>(['pressure', 'contrast', 'grade', 'verdict', 'ecg']);

/** In every case what the result names is there, and nobody was shown the verdict before their own grade. */
async function verifyResults(store: CaseStore): Promise<Result<null, string>> {
  for (let afterCaseId: string | undefined; ; ) {
    const listed = await store.listCases({ afterCaseId, limit: CASES_AT_ONCE });
    if (!listed.ok) return listed;
    for (const { caseId } of listed.value.cases) {
      const events = await store.listEvents(caseId, 0);
      if (!events.ok) return events;
      for (const { sha256, kind } of listNamedDocuments(events.value)) {
        const found = OF_RESULT.has(kind) ? await store.readDocument(sha256) : null;
        if (found && !found.ok) return found.failure.code === 'blob-unknown' ? failMissing(sha256, kind) : found;
      }
      const inOrder = await checkShownGrades(events.value, async (sha256) => {
        const read = await store.readDocument(sha256);
        return read.ok ? succeed(read.value.text) : read;
      });
      if (!inOrder.ok) return inOrder;
    }
    afterCaseId = listed.value.cases.at(-1)?.caseId;
    if (listed.value.cases.length < CASES_AT_ONCE) return succeed(null);
  }
}

/** Files that lie there, and files that a scan names, there or not. */
async function listWanted(store: CaseStore, dataFolder: string): Promise<Result<readonly string[], string>> {
  const wanted = new Set(await listBlobs(dataFolder));
  const manifests = await store.listDocuments('manifest');
  if (!manifests.ok) return manifests;
  for (const { sha256 } of manifests.value) {
    const manifest = await store.readDocument(sha256);
    if (!manifest.ok) return manifest;
    for (const file of (JSON.parse(manifest.value.text) as { readonly files: readonly { readonly sha256: string }[] }).files) wanted.add(file.sha256);
  }
  return succeed([...wanted]);
}

type Work = (opened: OpenedDatabase, store: CaseStore) => Promise<Result<{ readonly answer: object; readonly text: string }, string>>;

async function withStore(verb: string, options: StoreCommandOptions, writes: boolean, io: CommandIo, work: Work): Promise<number> {
  const refuse = (failure: Failure<string>): number => {
    reportFailure(failure, verb, { json: options.json === true }, io);
    return failure.code === 'store-unreachable' ? EXIT.unreachable : USAGE.has(failure.code) ? EXIT.usage : EXIT.refused;
  };
  const opened = await openDatabase({ dataFolder: options.dataFolder, dbUrl: options.dbUrl, writes });
  if (!opened.ok) return refuse(opened.failure);
  try {
    // A restore makes its own tables, of the version of the backup.
    const { db } = opened.value;
    const store = writes ? succeed(makeCaseStore(db, Date.now)) : await openTables(db, Date.now);
    const done = store.ok ? await work(opened.value, store.value) : store;
    if (!done.ok) return refuse(done.failure);
    if (options.json === true) io.out(`${JSON.stringify(done.value.answer)}\n`);
    else if (options.quiet !== true) io.out(`${done.value.text}\n`);
    return EXIT.answered;
  } catch (problem) {
    const refused = readStoreFailure(problem);
    if (refused) return refuse(refused.failure);
    throw problem;
  } finally {
    await opened.value.close();
  }
}
