import type { PGlite } from '@electric-sql/pglite';
import { Kysely } from 'kysely';
import { existsSync } from 'node:fs';
import { mkdir, rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import type { StoreTables } from '../tables.ts';
import { makePgliteDialect, type PgliteSource } from './pglite-dialect.ts';

/**
 * The embedded engine over `<dataFolder>/db`. A first start makes the folder beside and renames it when it is whole, so
 * that a process killed meanwhile leaves nothing half made. The caller holds the lock of the data folder.
 */
export async function openPglite(dataFolder: string): Promise<Kysely<StoreTables>> {
  const folder = join(dataFolder, 'db');
  const making = join(dataFolder, 'db.making');
  await mkdir(dataFolder, { recursive: true });
  await rm(making, { recursive: true, force: true });
  if (!existsSync(folder)) {
    const first = await startPglite(making);
    await first.close();
    await rename(making, folder);
  }
  const db = new Kysely<StoreTables>({ dialect: makePgliteDialect(makeSource(folder)) });
  return db;
}

function makeSource(folder: string): PgliteSource {
  let current: Promise<PGlite> | null = null;
  return {
    get: () => (current ??= startPglite(folder).catch((problem: unknown) => {
      current = null;
      throw problem;
    })),
    drop: () => {
      current = null; // its memory goes with it; closing an engine that broke would only break again
    },
    async close() {
      const open = await current?.catch(() => null);
      current = null;
      await open?.close();
    },
  };
}

async function startPglite(folder: string): Promise<PGlite> {
  const { PGlite: Engine } = await import('@electric-sql/pglite');
  return Engine.create(folder);
}
