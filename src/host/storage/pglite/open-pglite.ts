import type { PGlite } from '@electric-sql/pglite';
import { Kysely } from 'kysely';
import { mkdir, rename, rm } from 'node:fs/promises';
import { closeSync, existsSync, fsyncSync, openSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { flushFolder } from '../../cli/write-whole.ts';
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
    flushFiles(making);
    await rename(making, folder);
    await flushFolder(dataFolder);
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

/**
 * The engine is built to run with flushing off, and its file layer has no flush. Here it flushes: an acknowledged edit
 * outlives a power cut, as with PostgreSQL. What replaying its log wrote before the layer was mended is flushed after.
 */
async function startPglite(folder: string): Promise<PGlite> {
  const { PGlite: Engine } = await import('@electric-sql/pglite');
  const parameters = [...Engine.defaultStartParams.filter((word) => word !== '-F'), '-c', 'wal_sync_method=fsync'];
  const pg = await Engine.create(folder, { startParams: parameters });
  const files = (pg as unknown as { readonly Module: { readonly FS: FileLayer } }).Module.FS.lookupPath(`${DATA_PLACE}/PG_VERSION`);
  files.node.stream_ops.fsync = (stream) => {
    fsyncSync(stream.nfd);
    return 0;
  };
  flushFiles(folder);
  return pg;
}
/** In one go: a thousand small files, most of them clean, take longer to wait for one by one than to flush. */
function flushFiles(folder: string): void {
  for (const entry of readdirSync(folder, { withFileTypes: true, recursive: true })) {
    if (!entry.isFile()) continue;
    const file = openSync(join(entry.parentPath ?? entry.path, entry.name), 'r');
    try {
      fsyncSync(file);
    } finally {
      closeSync(file);
    }
  }
}
/** Where the engine sees its folder. */
const DATA_PLACE = '/pglite/data';
/** The part of the engine's file layer that is touched. `nfd` is the descriptor of the real file. */
interface FileLayer {
  lookupPath(path: string): { readonly node: { readonly stream_ops: { fsync?: (stream: { readonly nfd: number }) => number } } };
}
