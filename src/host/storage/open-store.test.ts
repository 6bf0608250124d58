import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { putEmptyDatabase } from '../../../test/support/pglite-template.ts';
import { findPostgres, startPostgres, type PostgresServer } from '../../../test/support/postgres-server.ts';
import { expectCode, expectOk } from './case-store.suite.ts';
import { openStore, type OpenedStore } from './open-store.ts';

const WRITER = fileURLToPath(new URL('../../../test/support/store-writer.mjs', import.meta.url));
const isBuilt = existsSync(new URL('../../../dist/host/storage/open-store.js', import.meta.url));
const top = mkdtempSync(join(tmpdir(), 'trinadir-store-'));
let isMounted = false;
afterAll(() => {
  if (isMounted) spawnSync('umount', [join(top, 'disk')]);
  rmSync(top, { recursive: true, force: true });
});

/** Runs the writer and kills it after `lines` acknowledgements; gives what it acknowledged. */
function writeUntilKilled(args: readonly string[], lines: number): Promise<readonly string[]> {
  return new Promise((resolve, reject) => {
    const writer = spawn(process.execPath, [WRITER, ...args], { stdio: ['ignore', 'pipe', 'inherit'] });
    const seen: string[] = [];
    createInterface({ input: writer.stdout }).on('line', (line) => {
      seen.push(line);
      if (seen.length === lines) writer.kill('SIGKILL');
    });
    writer.on('error', reject);
    writer.on('close', () => resolve(seen));
  });
}

async function expectNothingLost({ store, blobs }: OpenedStore, caseId: string, acknowledged: readonly string[]): Promise<void> {
  const of = (word: string): string[] => acknowledged.filter((line) => line.startsWith(`${word} `)).map((line) => line.slice(word.length + 1));
  const seqs = of('event').map(Number);
  const events = expectOk(await store.listEvents(caseId, 0));
  expect(events.map(({ seq }) => seq)).toEqual(events.map((_, k) => k + 1));
  // At most the one edit that was on its way may be there beside those acknowledged.
  expect(events.length - Math.max(...seqs)).toBeGreaterThanOrEqual(0);
  expect(await blobs.verify(of('blob'))).toEqual([]);
  const audit = expectOk(await store.listAudit({ caseId, afterSeq: 0, limit: 10_000 })).map(({ seq }) => seq);
  expect(audit).toEqual(expect.arrayContaining(of('audit').map(Number)));
  expectOk(await store.verifyChains());
}

describe('openStore on the embedded engine', () => {
  test('keeps what was stored over closing and opening, and lets no second one in meanwhile', async () => {
    const dataFolder = join(top, 'plain');
    await putEmptyDatabase(dataFolder);
    const first = expectOk(await openStore({ dataFolder }));
    expect(expectCode(await openStore({ dataFolder }))).toBe('store-locked');
    expectOk(await first.store.append({ caseId: 'case-kept', expectSeq: 0, by: 'p', events: [{ kind: 'case.opened', data: { label: 'Kept', procedureOn: null, training: true } }] }));
    await first.close();
    const second = expectOk(await openStore({ dataFolder }));
    expect(expectOk(await second.store.readState('case-kept')).label).toBe('Kept');
    await second.close();
  });

  test.skipIf(!isBuilt)('a process killed while it writes loses nothing that it acknowledged', async () => {
    const dataFolder = join(top, 'killed');
    await putEmptyDatabase(dataFolder);
    const acknowledged: string[] = [];
    for (const lines of [12, 40]) acknowledged.push(...(await writeUntilKilled([dataFolder, 'case-killed'], lines)));
    const opened = expectOk(await openStore({ dataFolder }));
    await expectNothingLost(opened, 'case-killed', acknowledged);
    await opened.close();
  });

  test.skipIf(!isBuilt)('a process killed while it makes the first tables leaves nothing in the way', async () => {
    const dataFolder = join(top, 'young');
    const writer = spawn(process.execPath, [WRITER, dataFolder, 'case-young'], { stdio: 'ignore' });
    await expect.poll(() => existsSync(join(dataFolder, 'db.making')), { timeout: 110_000, interval: 5 }).toBe(true);
    const gone = new Promise((resolve) => writer.on('close', resolve));
    writer.kill('SIGKILL');
    await gone;
    expect(existsSync(join(dataFolder, 'db'))).toBe(false);
    const opened = expectOk(await openStore({ dataFolder }));
    expect(expectOk(await opened.store.listCases({ limit: 1 })).total).toBe(0);
    await opened.close();
    expect(existsSync(join(dataFolder, 'db.making'))).toBe(false);
  });

  test('a folder that cannot be written is refused', async () => {
    const place = join(top, 'a-file');
    writeFileSync(place, '');
    expect(expectCode(await openStore({ dataFolder: join(place, 'below') }))).toBe('folder-not-writable');
  });
});

describe('a disk that is full', () => {
  const disk = join(top, 'disk');
  mkdirSync(disk);
  isMounted = process.getuid?.() === 0 && spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=110m', 'tmpfs', disk]).status === 0;

  test.skipIf(!isMounted)('is said to be full, nothing acknowledged is lost, and all goes on once there is room', async () => {
    const dataFolder = join(disk, 'data');
    await putEmptyDatabase(dataFolder);
    const opened = expectOk(await openStore({ dataFolder }));
    const { store, blobs } = opened;
    const add = (expectSeq: number, size: number) => store.append({ caseId: 'case-full', expectSeq, by: 'p', events: expectSeq === 0
      ? [{ kind: 'case.opened', data: { label: 'Full', procedureOn: null, training: true } }] : [{ kind: 'referral.entered', data: { field: 'note.text', value: 'y'.repeat(size), unit: null } }] });
    expectOk(await add(0, 0));
    expectOk(await add(1, 10));
    spawnSync('dd', ['if=/dev/zero', `of=${join(disk, 'filler')}`, 'bs=1M']); // until the disk is full
    async function* large(): AsyncGenerator<Uint8Array> {
      for (let k = 0; k < 64; k++) yield new Uint8Array(1 << 20).fill(k);
    }
    expect(expectCode(await blobs.put(large()))).toBe('store-full');
    let seq = 2;
    let refused = '';
    for (let k = 0; k < 60 && refused === ''; k++) {
      const added = await add(seq, 1 << 20);
      if (added.ok) seq++;
      else refused = added.failure.code;
    }
    expect(refused).toBe('store-full');
    rmSync(join(disk, 'filler'));
    const state = expectOk(await store.readState('case-full'));
    expect(state.seq).toBe(seq);
    expectOk(await add(seq, 10));
    expectOk(await blobs.put(large()));
    expectOk(await store.verifyChains());
    await opened.close();
    const again = expectOk(await openStore({ dataFolder }));
    expect(expectOk(await again.store.readState('case-full')).seq).toBe(seq + 1);
    await again.close();
  });
});

describe.skipIf(findPostgres() === null)('openStore on PostgreSQL', () => {
  let server: PostgresServer;
  beforeAll(async () => {
    server = await startPostgres({ isFlushing: true });
  });
  afterAll(() => server?.remove());

  test('a database that goes away is said to be away, and is found again when it is back', async () => {
    const opened = expectOk(await openStore({ dataFolder: join(top, 'pg-away'), dbUrl: server.url }));
    const { store } = opened;
    const open = (caseId: string) => store.append({ caseId, expectSeq: 0, by: 'p', events: [{ kind: 'case.opened', data: { label: 'Away', procedureOn: null, training: true } }] });
    expectOk(await open('case-before'));
    server.stop('immediate'); // as a crash: connections are cut, nothing is written in good order
    expect(expectCode(await open('case-during'))).toBe('store-unreachable');
    expect(expectCode(await store.listCases({ limit: 1 }))).toBe('store-unreachable');
    expect(expectCode(await openStore({ dataFolder: join(top, 'pg-away-2'), dbUrl: server.url }))).toBe('store-unreachable');
    server.start();
    expectOk(await store.readState('case-before'));
    expect(expectCode(await store.readState('case-during'))).toBe('case-unknown');
    expectOk(await open('case-during'));
    await opened.close();
  });

  test.skipIf(!isBuilt)('a process killed while it writes loses nothing that it acknowledged', async () => {
    const dataFolder = join(top, 'pg-killed');
    const acknowledged: string[] = [];
    for (const lines of [12, 40]) acknowledged.push(...(await writeUntilKilled([dataFolder, 'case-pg-killed', server.url], lines)));
    const opened = expectOk(await openStore({ dataFolder, dbUrl: server.url }));
    await expectNothingLost(opened, 'case-pg-killed', acknowledged);
    await opened.close();
  });

  test('two that start together on empty tables both come up', async () => {
    const url = server.url.replace(/\/postgres$/, '/template1');
    const both = await Promise.all(['a', 'b'].map((name) => openStore({ dataFolder: join(top, `pg-${name}`), dbUrl: url })));
    for (const one of both) await expectOk(one).close();
  });
});
