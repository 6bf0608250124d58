import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { sql, type Kysely } from 'kysely';
import { afterAll, describe, expect, test } from 'vitest';
import { foldRoom } from '../../src/core/room/fold-room.ts';
import type { RoomRecord } from '../../src/core/room/room-types.ts';
import { openDatabase } from '../../src/host/storage/open-store.ts';
import type { StoreTables } from '../../src/host/storage/tables.ts';
import { PROGRAM, startDesk } from '../support/drive-desk.mjs';
import { putEmptyDatabase } from '../support/pglite-template.ts';
import { enterFirst, makeTap, type RoomVisitor } from '../support/room-visitor.mjs';

const isBuilt = existsSync(new URL('../../dist/host/server/open-desk.js', import.meta.url));
const isRelease = process.env['CI'] !== undefined && process.env['CI'] !== '';
test('the build is there when a server must be killed', () => {
  if (isRelease) expect(isBuilt).toBe(true);
});
const top = mkdtempSync(join(tmpdir(), 'trinadir-room-killed-'));
afterAll(() => rmSync(top, { recursive: true, force: true }));

const audit = (dataFolder: string): { readonly status: number | null; readonly told: { readonly error?: { readonly code: string; readonly text: string } } } => {
  const done = spawnSync(process.execPath, [PROGRAM, 'audit', 'verify', '--data', dataFolder, '--json'], { encoding: 'utf8' });
  return { status: done.status, told: JSON.parse((done.stdout.trim() || done.stderr.trim().split('\n').at(-1)!)) as { error?: { code: string; text: string } } };
};

/** A page with its queue: it keeps every tap until the server has said that it has it. */
function makePage(clientId: string) {
  const [made, waiting, acknowledged] = [[] as RoomRecord[], new Map<string, RoomRecord>(), new Set<string>()];
  return {
    made, waiting, acknowledged,
    tap(): void {
      const record = makeTap(clientId, made.length + 1, { is: 'contrast', ml: 1 });
      made.push(record);
      waiting.set(record.entryId, record);
    },
    async send(visitor: RoomVisitor, caseId: string): Promise<boolean> {
      const batch = [...waiting.values()].slice(0, 5);
      if (batch.length === 0) return true;
      try {
        const { taken, known } = await visitor.ask<{ taken: string[]; known: string[] }>(`/api/cases/${caseId}/room`, { method: 'POST', body: { records: batch } });
        for (const id of [...taken, ...known]) {
          waiting.delete(id);
          acknowledged.add(id);
        }
        return true;
      } catch {
        return false;
      }
    },
  };
}

describe.skipIf(!isBuilt)('a server that is killed while the room logs', () => {
  test('loses nothing it acknowledged; what the pages still have goes in once; the store is whole; a change behind its back is named', { timeout: 400_000 }, async () => {
    const dataFolder = join(top, 'data');
    await putEmptyDatabase(dataFolder);
    let desk = await startDesk(dataFolder);
    const { port } = new URL(desk.origin); // the same again: the session holds
    const visitor = await enterFirst(desk);
    const { caseId } = await visitor.ask<{ caseId: string }>('/api/cases', { method: 'POST', body: { label: 'Killed', procedureOn: null } });
    const pages = ['page-remote-a', 'page-remote-b', 'page-desk'].map(makePage);
    const listLogged = async (): Promise<(RoomRecord & { seq: number; by: string })[]> => (await visitor.ask<{ records: (RoomRecord & { seq: number; by: string })[] }>(`/api/cases/${caseId}/room`)).records;

    for (const round of [8]) {
      // All pages log and send at once; the process dies in the middle of it.
      let answers = 0;
      const logging = pages.map(async (page) => {
        for (;;) {
          page.tap();
          if (!(await page.send(visitor, caseId))) return;
          answers += 1;
          if (answers === round * pages.length) process.kill(desk.pid!, 'SIGKILL');
        }
      });
      await Promise.all(logging);
      await desk.stop();
      for (const page of pages) for (let k = 0; k < 3; k++) page.tap(); // the room goes on without it
      desk = await startDesk(dataFolder, port);
      const logged = new Set((await listLogged()).map((r) => r.entryId));
      for (const page of pages) for (const id of page.acknowledged) expect(logged.has(id), `${id} was acknowledged`).toBe(true);
    }
    await Promise.all(pages.map(async (page) => {
      while (page.waiting.size > 0) expect(await page.send(visitor, caseId)).toBe(true);
    }));
    const records = await listLogged();
    expect(records.map((r) => r.entryId).sort()).toEqual(pages.flatMap((p) => p.made.map((r) => r.entryId)).sort());
    expect(records.map((r) => r.seq)).toEqual(records.map((_, k) => k + 2));
    expect(foldRoom(records)).toMatchObject({ contrastMl: records.length, holes: [] });
    await desk.stop();
    expect(audit(dataFolder).status).toBe(0);

    const opened = await openDatabase({ dataFolder, writes: true });
    if (!opened.ok) throw new Error(opened.failure.code);
    const db: Kysely<StoreTables> = opened.value.db;
    await sql`alter table events disable trigger events_stay`.execute(db);
    await sql`update events set data = replace(data, '"ml":1', '"ml":9') where case_id = ${caseId} and seq = 7`.execute(db);
    await sql`alter table events enable trigger events_stay`.execute(db);
    await opened.value.close();
    const found = audit(dataFolder);
    expect([found.status === 0, found.told.error?.code, found.told.error?.text.includes('event 7')]).toEqual([false, 'chain-broken', true]);
  });
});
