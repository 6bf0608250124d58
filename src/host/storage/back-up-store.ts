import type { Kysely } from 'kysely';
import { access, rename, rm } from 'node:fs/promises';
import { basename, dirname, join, resolve } from 'node:path';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { flushFolder } from '../cli/write-whole.ts';
import { openBackupWriter, readBackup, type BackupWriter } from './backup-file.ts';
import { listBlobs, makeBlobStore, openBlobStore } from './blob-store.ts';
import { failUnwritable } from './data-lock.ts';
import { migrateStore } from './migrate.ts';
import { MIGRATIONS } from './migrations/migration-list.ts';
import type { BlobStore } from './store-types.ts';
import type { StoreTables } from './tables.ts';
import { makeVerifyCall, rebuildCases } from './verify-chains.ts';

/** In the order in which rows can be put back. Sessions are not kept: after a restore everybody logs in again. */
const TABLES = ['people', 'cases', 'events', 'documents', 'jobs', 'audit', 'audit_head'] as const satisfies readonly (keyof StoreTables)[];
type KeptTable = (typeof TABLES)[number];
const KEYS: Readonly<Record<KeptTable, readonly string[]>> = {
  people: ['person_id'], cases: ['case_id'], events: ['case_id', 'seq'], documents: ['sha256'], jobs: ['job_id'], audit: ['seq'], audit_head: ['id'],
};
const FORMAT = 'trinadir.backup/1';
const ROWS_AT_ONCE = 200;

export interface BackupCounts {
  readonly rows: number;
  readonly files: number;
  readonly bytes: number;
}

/**
 * Everything that is stored, as one file: tables as they were at one moment, and every pixel file. The same file restores
 * to either engine. Written beside and renamed; an existing file is not overwritten.
 * Fails     backup-exists, folder-not-writable, store-full, blob-damaged
 */
export async function backUpStore(db: Kysely<StoreTables>, dataFolder: string, path: string, nowMs: number): Promise<Result<BackupCounts, string>> {
  const place = resolve(path);
  const beside = join(dirname(place), `.${basename(place)}.part-${process.pid}`);
  let writer: BackupWriter | null = null;
  const failExists = () => fail('backup-exists', STORE_EN.backupExists, STORE_EN.backupExistsNext);
  const isTaken = (): Promise<boolean> => access(place).then(() => true, () => false);
  if (await isTaken()) return failExists();
  try {
    await rm(beside, { force: true });
    writer = await openBackupWriter(beside, nowMs / 1000);
    const rows = await writeTables(db, writer, nowMs);
    // Files are only ever added: those listed now hold all that the tables named a moment ago.
    const blobs = makeBlobStore(dataFolder);
    const names = await listBlobs(dataFolder);
    for (const sha256 of names) {
      const isSound = await writer.addFile(`pixels/${sha256.slice(0, 2)}/${sha256}`, blobs.pathOf(sha256), sha256);
      if (!isSound) return fail('blob-damaged', STORE_EN.blobDamaged, STORE_EN.blobDamagedNext, { sha256 });
    }
    const { bytes } = await writer.end();
    if (await isTaken()) return failExists();
    await rename(beside, place);
    await flushFolder(dirname(place));
    return succeed({ rows, files: names.length, bytes });
  } catch (problem) {
    return failUnwritable(problem);
  } finally {
    await writer?.close();
    await rm(beside, { force: true });
  }
}

async function writeTables(db: Kysely<StoreTables>, writer: BackupWriter, nowMs: number): Promise<number> {
  let total = 0;
  const encode = (value: unknown): Uint8Array => new TextEncoder().encode(`${JSON.stringify(value)}\n`);
  const version = MIGRATIONS.at(-1)!.version;
  await writer.add('backup.json', encode({ format: FORMAT, at: new Date(nowMs).toISOString(), schemaVersion: version }));
  await db.transaction().setIsolationLevel('repeatable read').execute(async (tx) => {
    for (const table of TABLES) {
      for (let part = 1, offset = 0; ; part++) {
        let chosen = tx.selectFrom(table).selectAll();
        for (const key of KEYS[table]) chosen = chosen.orderBy(key as never);
        const rows = await chosen.limit(ROWS_AT_ONCE).offset(offset).execute();
        if (rows.length > 0) await writer.add(`tables/${table}/${String(part).padStart(8, '0')}.jsonl`, new TextEncoder().encode(rows.map((row) => `${JSON.stringify(row)}\n`).join('')));
        offset += rows.length;
        total += rows.length;
        if (rows.length < ROWS_AT_ONCE) break;
      }
    }
  });
  return total;
}

/**
 * Puts a backup into an empty store. The file is checked from front to back first; the tables come back in one
 * transaction, so that a restore that dies leaves an empty store and can be run again.
 * Fails     backup-unreadable, backup-broken, backup-other-format, store-newer, store-not-empty, chain-broken, store-full
 */
export async function restoreStore(db: Kysely<StoreTables>, dataFolder: string, path: string, nowMs: number): Promise<Result<BackupCounts, string>> {
  const checked = await readBackup(path, null);
  if (!checked.ok) return checked;
  const about = await readAbout(path);
  if (!about.ok) return about;
  const opened = await openBlobStore(dataFolder);
  if (!opened.ok) return opened;
  const blobs = opened.value;
  // Tables as they were when the backup was made; what has changed since is changed forward afterwards.
  const nowIso = new Date(nowMs).toISOString();
  const first = await migrateStore(db, nowIso, MIGRATIONS.filter(({ version }) => version <= about.value.schemaVersion));
  if (!first.ok) return first;
  if (!(await isEmpty(db))) return failNotEmpty();
  let [rows, files, bytes] = [0, 0, 0];
  // Pixel files first: without rows that name them they do no harm, and the transaction stays short.
  const kept = await readBackup(path, async (entry, content) => {
    const [top, , sha256 = ''] = entry.name.split('/');
    if (top !== 'pixels') return succeed(null);
    files++;
    bytes += entry.bytes;
    return putPixels(blobs, sha256, content);
  });
  if (!kept.ok) return kept;
  const put = await putTables(db, path, (count) => (rows += count));
  if (!put.ok) return put;
  const forward = await migrateStore(db, nowIso);
  if (!forward.ok) return forward;
  await rebuildCases(db);
  const verified = await makeVerifyCall(db).verifyChains();
  return verified.ok ? succeed({ rows, files, bytes }) : verified;
}

async function readAbout(path: string): Promise<Result<{ readonly schemaVersion: number }, string>> {
  let about: { format?: string; schemaVersion?: number } = {};
  await readBackup(path, async (entry, content) => {
    if (entry.name !== 'backup.json') return fail(ENOUGH, '', '');
    about = JSON.parse(await readWhole(content)) as typeof about;
    return succeed(null);
  });
  const { format, schemaVersion } = about;
  if (format !== FORMAT || typeof schemaVersion !== 'number') return fail('backup-other-format', STORE_EN.backupOther, STORE_EN.backupOtherNext);
  const known = MIGRATIONS.at(-1)!.version;
  if (schemaVersion > known) return fail('store-newer', formatText(STORE_EN, 'newer', { found: schemaVersion, known }), STORE_EN.newerNext, { found: schemaVersion, known });
  return succeed({ schemaVersion });
}

const failNotEmpty = () => fail('store-not-empty' as const, STORE_EN.notEmpty, STORE_EN.notEmptyNext);
async function isEmpty(db: Kysely<StoreTables>): Promise<boolean> {
  for (const table of TABLES) {
    if (table !== 'audit_head' && (await db.selectFrom(table).selectAll().limit(1).executeTakeFirst())) return false;
  }
  return true;
}

/** Thrown to take a transaction back; says nothing itself. */
const UNDO = new Error('undo');
const ENOUGH = 'enough';

async function putTables(db: Kysely<StoreTables>, path: string, count: (rows: number) => void): Promise<Result<null, string>> {
  let outcome: Result<null, string> = succeed(null);
  try {
    await db.transaction().execute(async (tx) => {
      if (!(await isEmpty(tx))) outcome = failNotEmpty();
      if (!outcome.ok) throw UNDO;
      const read = await readBackup(path, async (entry, content) => {
        const [top, name] = entry.name.split('/');
        if (top === 'pixels') return fail(ENOUGH, '', ''); // they stand behind all tables
        if (top === 'tables') count(await putRows(tx, name as KeptTable, content));
        return succeed(null);
      });
      if (!read.ok && read.failure.code !== ENOUGH) outcome = read;
      if (!outcome.ok) throw UNDO;
    });
  } catch (problem) {
    if (problem !== UNDO) throw problem;
  }
  return outcome;
}

async function putRows(tx: Kysely<StoreTables>, table: KeptTable, content: AsyncIterable<Uint8Array>): Promise<number> {
  const lines = (await readWhole(content)).split('\n').filter((line) => line !== '');
  const rows = lines.map((line) => JSON.parse(line) as Record<string, unknown>);
  if (!TABLES.includes(table)) return 0; // of a later minor version of the format; nothing here knows it
  if (table === 'audit_head') await tx.updateTable('audit_head').set(rows[0] as never).where('id', '=', 1).execute();
  else {
    // Uploads that were under way are not in a backup.
    const kept = table === 'jobs' ? rows.map((row) => (row['state'] === 'receiving' ? { ...row, state: 'cancelled' } : row)) : rows;
    await tx.insertInto(table).values(kept as never).execute();
  }
  return rows.length;
}

async function putPixels(blobs: BlobStore, sha256: string, content: AsyncIterable<Uint8Array>): Promise<Result<null, string>> {
  const put = await blobs.put(content);
  if (!put.ok) return put;
  return put.value.sha256 === sha256 ? succeed(null) : fail('blob-damaged', STORE_EN.blobDamaged, STORE_EN.blobDamagedNext, { sha256 });
}

async function readWhole(content: AsyncIterable<Uint8Array>): Promise<string> {
  const parts: Uint8Array[] = [];
  for await (const part of content) parts.push(part);
  return new TextDecoder().decode(Buffer.concat(parts));
}
