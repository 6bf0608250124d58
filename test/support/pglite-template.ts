import { PGlite } from '@electric-sql/pglite';
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir, userInfo } from 'node:os';
import { dirname, join } from 'node:path';

const { version } = JSON.parse(readFileSync(join(dirname(createRequire(import.meta.url).resolve('@electric-sql/pglite')), '..', 'package.json'), 'utf8')) as { version: string };
const TEMPLATE = join(tmpdir(), `trinadir-test-pglite-${version}-${userInfo().username}`);

/**
 * Puts an empty database of the embedded engine into `<dataFolder>/db`: making one takes seconds of computing, copying
 * it does not. Made once per machine, whole or not at all.
 */
export async function putEmptyDatabase(dataFolder: string): Promise<void> {
  if (!existsSync(TEMPLATE)) {
    const making = mkdtempSync(`${TEMPLATE}.making-`);
    const pg = await PGlite.create(join(making, 'db'));
    await pg.close();
    try {
      renameSync(join(making, 'db'), TEMPLATE);
    } catch { /* another test was quicker */ }
    rmSync(making, { recursive: true, force: true });
  }
  mkdirSync(dataFolder, { recursive: true });
  cpSync(TEMPLATE, join(dataFolder, 'db'), { recursive: true });
}

/** An empty database of the embedded engine in memory, of a dump that is made once per machine too. */
export async function startEmptyEngine(): Promise<PGlite> {
  const dump = `${TEMPLATE}.tar`;
  if (existsSync(dump)) return PGlite.create({ loadDataDir: new Blob([readFileSync(dump)]) });
  const pg = await PGlite.create();
  const beside = `${dump}.${process.pid}`;
  writeFileSync(beside, Buffer.from(await (await pg.dumpDataDir('none')).arrayBuffer()));
  renameSync(beside, dump); // whole or not there, whoever else makes one
  return pg;
}
