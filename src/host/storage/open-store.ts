import type { Kysely } from 'kysely';
import { succeed, type Result } from '../../core/result.ts';
import { openBlobStore } from './blob-store.ts';
import { makeCaseStore } from './case-store.ts';
import { failUnwritable, lockData } from './data-lock.ts';
import { migrateStore } from './migrate.ts';
import { openPglite } from './pglite/open-pglite.ts';
import { openPostgres } from './postgres/open-postgres.ts';
import { attempt } from './store-failures.ts';
import type { BlobStore, CaseStore, StoreFailureCode } from './store-types.ts';
import type { StoreTables } from './tables.ts';
import { rebuildCases } from './verify-chains.ts';

export interface OpenStoreOptions {
  readonly dataFolder: string;
  /** `postgres://...`; without it the embedded engine keeps the tables in `<dataFolder>/db`. */
  readonly dbUrl?: string | undefined;
  /** Milliseconds since 1970; default the machine's clock. */
  readonly nowMs?: (() => number) | undefined;
}
export interface OpenedStore {
  readonly store: CaseStore;
  readonly blobs: BlobStore;
  /** Closes the engine and gives the data folder free. */
  close(): Promise<void>;
}

/**
 * Opens everything that is kept: locks the data folder, brings the tables forward, remakes states of an older fold.
 * Fails     store-locked, folder-not-writable, store-newer, store-unreachable, store-full
 */
export async function openStore({ dataFolder, dbUrl, nowMs = Date.now }: OpenStoreOptions): Promise<Result<OpenedStore, StoreFailureCode>> {
  const lock = await lockData(dataFolder);
  if (!lock.ok) return lock;
  let db: Kysely<StoreTables> | null = null;
  const giveUp = async (): Promise<void> => {
    await db?.destroy().catch(() => {});
    await lock.value.release();
  };
  try {
    const blobs = await openBlobStore(dataFolder);
    const opened = blobs.ok ? await attempt(async () => {
      db = dbUrl === undefined ? await openPglite(dataFolder) : openPostgres(dbUrl);
      return openTables(db, nowMs);
    }) : blobs;
    if (!blobs.ok || !opened.ok) {
      await giveUp();
      return blobs.ok ? (opened as Exclude<typeof opened, { ok: true }>) : blobs;
    }
    return succeed({ store: opened.value, blobs: blobs.value, close: giveUp });
  } catch (problem) {
    await giveUp();
    return failUnwritable(problem); // a code of the system, or a defect that is thrown on
  }
}

export interface OpenedDatabase {
  readonly db: Kysely<StoreTables>;
  close(): Promise<void>;
}
/**
 * The tables alone, for commands beside a server. PostgreSQL may be read while a server runs on it; the embedded engine
 * belongs to one process, and a folder that is written (`writes`) too.
 * Fails     as openStore
 */
export async function openDatabase({ dataFolder, dbUrl, writes }: Pick<OpenStoreOptions, 'dataFolder' | 'dbUrl'> & { readonly writes: boolean }): Promise<Result<OpenedDatabase, StoreFailureCode>> {
  const lock = writes || dbUrl === undefined ? await lockData(dataFolder) : null;
  if (lock && !lock.ok) return lock;
  try {
    const db = dbUrl === undefined ? await openPglite(dataFolder) : openPostgres(dbUrl);
    return succeed({ db, close: () => db.destroy().finally(() => lock?.value.release()) });
  } catch (problem) {
    await lock?.value.release();
    return failUnwritable(problem);
  }
}

/** The store over an open database, its tables brought forward. */
export async function openTables(db: Kysely<StoreTables>, nowMs: () => number): Promise<Result<CaseStore, StoreFailureCode>> {
  return attempt(async () => {
    const migrated = await migrateStore(db, new Date(nowMs()).toISOString());
    if (!migrated.ok) return migrated;
    await rebuildCases(db);
    return succeed(makeCaseStore(db, nowMs));
  });
}
