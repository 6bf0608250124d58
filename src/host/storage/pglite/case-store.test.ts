import { PGlite } from '@electric-sql/pglite';
import { Kysely } from 'kysely';
import { describeCaseStore } from '../case-store.suite.ts';
import type { StoreTables } from '../tables.ts';
import { makePgliteDialect } from './pglite-dialect.ts';

describeCaseStore('PGlite', async () => {
  const pg = await PGlite.create(); // in memory; the folder is tested in open-store.test.ts
  return new Kysely<StoreTables>({ dialect: makePgliteDialect({ get: () => Promise.resolve(pg), drop: () => {}, close: () => pg.close() }) });
});
