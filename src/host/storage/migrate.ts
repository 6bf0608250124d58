import { sql, type Kysely } from 'kysely';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { MIGRATIONS } from './migrations/migration-list.ts';
import type { Migration } from './migrations/migration-types.ts';
import type { StoreTables } from './tables.ts';

/** Any number; the same in every process that opens the same database. */
const MIGRATION_LOCK = 7_461_001;

/**
 * Brings the tables forward to the newest version: all steps in one transaction, so that a process that dies leaves the
 * version it found. Two processes that start together wait for one another.
 * Fails     store-newer (tables of a version that is not known here)
 */
export async function migrateStore(db: Kysely<StoreTables>, nowIso: string, migrations: readonly Migration[] = MIGRATIONS): Promise<Result<{ readonly from: number; readonly to: number }, 'store-newer'>> {
  return db.transaction().execute(async (tx) => {
    await sql`select pg_advisory_xact_lock(${sql.lit(MIGRATION_LOCK)})`.execute(tx);
    await sql`create table if not exists schema_version (version integer primary key, name text not null, at text not null)`.execute(tx);
    const newest = await tx.selectFrom('schema_version').select((eb) => eb.fn.max('version').as('version')).executeTakeFirst();
    const from = newest?.version ?? 0;
    const known = migrations.at(-1)?.version ?? 0;
    if (from > known) {
      return fail('store-newer', formatText(STORE_EN, 'newer', { found: from, known }), STORE_EN.newerNext, { found: from, known });
    }
    for (const { version, name, statements } of migrations) {
      if (version <= from) continue;
      for (const statement of statements) await sql.raw(statement).execute(tx);
      await tx.insertInto('schema_version').values({ version, name, at: nowIso }).execute();
    }
    return succeed({ from, to: known });
  });
}
