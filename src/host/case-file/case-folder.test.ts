import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, truncateSync, writeFileSync, appendFileSync } from 'node:fs';
import { hostname, tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { Kysely } from 'kysely';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { caseBatches } from '../../../test/support/case-events.ts';
import { startEmptyEngine } from '../../../test/support/pglite-template.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import type { CaseEvent, NewCaseEvent } from '../../core/case/case-events.ts';
import { foldRoom } from '../../core/room/fold-room.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { succeed } from '../../core/result.ts';
import { expectCode, expectOk } from '../storage/case-store.suite.ts';
import { hashEvent, hashText } from '../storage/hash-chain.ts';
import { openTables } from '../storage/open-store.ts';
import { makePgliteDialect } from '../storage/pglite/pglite-dialect.ts';
import type { StoreTables } from '../storage/tables.ts';
import type { CaseStore } from '../storage/store-types.ts';
import { listNamedDocuments } from './list-named-documents.ts';
import { openCaseFolder } from './open-case-folder.ts';
import { openCaseZip } from './open-case-zip.ts';
import { readStored } from './open-stored-case.ts';
import { formatEventLine, formatHead, parseEvents, parseHead } from './parse-case.ts';
import { verifyCase } from './verify-case.ts';
import { makeCaseFolder, openCaseWriter } from './write-case-folder.ts';
import { writeCaseZip } from './write-case-zip.ts';

const top = mkdtempSync(join(tmpdir(), 'trinadir-case-'));
let store: CaseStore;
let nowMs = Date.parse('2026-03-02T08:00:00.000Z');
let next = 0;
const newDir = (): string => join(top, `case-${next++}`);
beforeAll(async () => {
  const pg = await startEmptyEngine();
  store = expectOk(await openTables(new Kysely<StoreTables>({ dialect: makePgliteDialect({ get: () => Promise.resolve(pg), drop: () => {}, close: () => pg.close() }) }), () => nowMs));
});
afterAll(async () => {
  await store.close();
  spawnSync('umount', [join(top, 'disk')]); // what is mounted there must not be walked through
  rmSync(top, { recursive: true, force: true });
});

const OPENED = { label: 'A 7', procedureOn: '2026-03-02', training: true };
const entered = (k: number): NewCaseEvent => ({ kind: 'huddle.entered', data: { field: 'team.nurse', value: `Colleague ${k}` } });
/** A case folder with `count` events behind its opening. */
async function makeFolder(count: number, caseId = 'case-test'): Promise<string> {
  const dir = newDir();
  expectOk(await makeCaseFolder(dir, { ...OPENED, caseId, by: 'one', nowMs }));
  const writer = expectOk(await openCaseWriter(dir, () => nowMs));
  for (let k = 0; k < count; k++) expectOk(await writer.append('one', () => succeed([entered(k)])));
  return dir;
}
const logOf = (dir: string): string => readFileSync(join(dir, 'events.ndjson'), 'utf8');
const putLog = (dir: string, text: string): void => writeFileSync(join(dir, 'events.ndjson'), text);

describe(`a case folder (seed ${seed})`, () => {
  test('folds and chains as the store does for the same events, and moves as a zip', async () => {
    let run = 0;
    await fc.assert(fc.asyncProperty(caseBatches, async (batches) => {
      const caseId = `case-${run++}`;
      const dir = newDir();
      const [[opened], ...rest] = batches as [[Extract<NewCaseEvent, { kind: 'case.opened' }>], ...NewCaseEvent[][]];
      nowMs += 1000;
      expectOk(await makeCaseFolder(dir, { ...opened.data, caseId, by: 'one', nowMs }));
      const stored = [...expectOk(await store.append({ caseId, expectSeq: 0, by: 'one', events: [opened] }))];
      const writer = expectOk(await openCaseWriter(dir, () => nowMs));
      for (const events of rest) {
        nowMs += 7;
        expectOk(await writer.append('two', () => succeed(events)));
        stored.push(...expectOk(await store.append({ caseId, expectSeq: stored.length, by: 'two', events })));
      }
      const folder = expectOk(await openCaseFolder(dir));
      expect(folder.events).toEqual(stored);
      expect(folder.state).toEqual(expectOk(await store.readState(caseId)));
      const records = (events: readonly CaseEvent[]) => foldRoom(events.filter((e) => e.kind === 'room.logged').map((e) => ({ ...(e.data as RoomRecord), by: e.by, seq: e.seq })));
      expect(records(folder.events)).toEqual(records(stored));
      // The documents that such events name were never made: the zip is written from what would be there.
      const readDocument = () => Promise.resolve(succeed('{}'));
      const fromStore = expectOk(await readStored(caseId, store, () => Promise.resolve()));
      const zipped = expectOk(await writeCaseZip({ ...fromStore, readDocument }));
      expect(zipped).toEqual(expectOk(await writeCaseZip({ ...folder, readDocument })));
      const again = expectOk(openCaseZip(zipped));
      expect([again.events, again.state]).toEqual([folder.events, folder.state]);
      expect(await again.listDocuments()).toEqual(listNamedDocuments(stored).map((d) => d.sha256).sort());
    }), { ...replay, numRuns: 15 });
  });

  test('keeps documents by their hash and finds a missing, a changed and a foreign one', async () => {
    const dir = await makeFolder(0);
    const writer = expectOk(await openCaseWriter(dir, () => nowMs));
    const { sha256 } = expectOk(await writer.putDocument('{"format":"trinadir.plan/1"}'));
    expectOk(await writer.append('one', () => succeed([{ kind: 'plan.made', data: { planSha256: sha256, surveySha256: null, basedOnSeq: 1 } }])));
    const open = async () => expectOk(await openCaseFolder(dir));
    expect(expectOk(await verifyCase(await open()))).toMatchObject({ events: 2, documents: 1, frozen: 0 });
    const place = join(dir, 'documents', `${sha256}.json`);
    writeFileSync(join(dir, 'documents', `${'b'.repeat(64)}.json`), '{}');
    expect(expectCode(await verifyCase(await open()))).toBe('document-damaged');
    rmSync(join(dir, 'documents', `${'b'.repeat(64)}.json`));
    writeFileSync(place, '{"format":"trinadir.plan/2"}');
    expect(expectCode(await verifyCase(await open()))).toBe('document-damaged');
    rmSync(place);
    expect(expectCode(await verifyCase(await open()))).toBe('document-missing');
    expect(expectCode(await (await open()).readDocument('../../case'))).toBe('document-missing');
  });

  test('a frozen plan that is not in its one form, or of another case, is named', async () => {
    const plan = '{"format":"trinadir.plan/1"}';
    const planSha256 = hashText(plan);
    const document = { amends: null, caseId: 'case-test', differences: [], format: 'trinadir.frozen/1', plan: JSON.parse(plan) as object, planSha256 };
    for (const [text, problem] of [
      [formatCanonical(document), 'whole'],
      [formatCanonical({ ...document, caseId: 'case-other' }), 'of another case'],
      [formatCanonical(document).replace(',', ', '), 'one form'],
      [formatCanonical({ ...document, planSha256: 'c'.repeat(64) }), 'not the one'],
      [formatCanonical({ ...document, plan: { format: 'trinadir.plan/2' } }), 'another plan'],
      ['{"format":"trinadir.frozen/1","x":'.padEnd(100_000, '['), 'does not read'],
    ] as const) {
      const dir = await makeFolder(0);
      const writer = expectOk(await openCaseWriter(dir, () => nowMs));
      expectOk(await writer.putDocument(plan));
      const { sha256 } = expectOk(await writer.putDocument(text));
      expectOk(await writer.append('one', () => succeed([{ kind: 'plan.frozen', data: { frozenSha256: sha256, planSha256, basedOnSeq: 1, amends: null, differences: [] } }])));
      const checked = await verifyCase(expectOk(await openCaseFolder(dir)));
      expect(checked.ok ? 'whole' : checked.failure.message).toContain(problem);
    }
  });

  test('is refused where one line was changed, left out, doubled, moved or put in, and says which', async () => {
    const dir = await makeFolder(4);
    const log = logOf(dir);
    const lines = log.split('\n').slice(0, -1);
    const head = expectOk(parseHead(readFileSync(join(dir, 'case.json'))));
    const forged = (() => {
      const parsed = expectOk(parseEvents(head, Buffer.from(log)));
      return formatEventLine({ ...parsed.events[2]!, by: 'another' }).trimEnd();
    })();
    const remade = (() => {
      const event = { ...expectOk(parseEvents(head, Buffer.from(log))).events[2]!, by: 'another' };
      return formatEventLine({ ...event, sha256: hashEvent(event) }).trimEnd();
    })();
    const put = (at: number, ...instead: readonly string[]): readonly string[] => [...lines.slice(0, at), ...instead, ...lines.slice(at + 1)];
    const cases: readonly (readonly [string, readonly string[], number])[] = [
      ['changed', put(2, lines[2]!.replace('Colleague 1', 'Colleague 9')), 3],
      ['another writer', put(2, forged), 3],
      ['left out', put(2), 3],
      ['doubled', put(2, lines[1]!, lines[2]!), 3],
      ['moved', [lines[0]!, lines[2]!, lines[1]!, ...lines.slice(3)], 2],
      ['not JSON', put(3, '{"seq":4'), 4],
      ['a blank more', put(3, lines[3]!.replace('"seq":4', '"seq": 4')), 4],
      ['a key twice', put(3, lines[3]!.replace('"seq":4', '"seq":5,"seq":4')), 4],
      ['end cut off', lines.slice(0, 4), 5],
      ['made anew', put(2, remade), 4],
    ];
    for (const [what, changed, seq] of cases) {
      putLog(dir, `${changed.join('\n')}\n`);
      const opened = await openCaseFolder(dir);
      expect([what, opened.ok ? 'opened' : opened.failure.code, opened.ok ? 0 : opened.failure.evidence['seq']]).toEqual([what, 'chain-broken', seq]);
      expect(expectCode(await openCaseWriter(dir, () => nowMs))).toBe('chain-broken'); // and nothing is written behind it
    }
    putLog(dir, log);
    expectOk(await openCaseFolder(dir));
    const other = { ...head, caseId: 'case-other' };
    writeFileSync(join(dir, 'case.json'), formatHead(other));
    expect(expectCode(await openCaseFolder(dir))).toBe('chain-broken'); // the id of the case is part of every hash
    writeFileSync(join(dir, 'case.json'), formatHead({ ...head, seq: 4 }));
    expect(expectCode(await openCaseFolder(dir))).toBe('chain-broken');
    writeFileSync(join(dir, 'case.json'), '{"format":"trinadir.case/2"}');
    expect(expectCode(await openCaseFolder(dir))).toBe('case-other-format');
    rmSync(join(dir, 'case.json'));
    expect(expectCode(await openCaseFolder(dir))).toBe('case-not-case');
  });

  test('any bit flipped in log or head is found, or changes nothing that counts', async () => {
    const dir = await makeFolder(2);
    const [head, log] = [readFileSync(join(dir, 'case.json')), readFileSync(join(dir, 'events.ndjson'))];
    const whole = expectOk(await openCaseFolder(dir)).state;
    for (let bit = 0; bit < log.length * 8; bit += 5) {
      const changed = Buffer.from(log);
      changed[bit >> 3]! ^= 1 << (bit & 7);
      expect(expectCode(parseEvents(expectOk(parseHead(head)), changed))).toBe('chain-broken');
    }
    for (let bit = 0; bit < head.length * 8; bit++) {
      const changed = Buffer.from(head);
      changed[bit >> 3]! ^= 1 << (bit & 7);
      const parsed = parseHead(changed);
      const opened = parsed.ok ? parseEvents(parsed.value, log) : parsed;
      if (opened.ok) expect(opened.value.state).toEqual(whole); // the blank at its end became another blank
    }
  });

  test('a tail that was never acknowledged is named, does not count, and is put aside by the next write', async () => {
    const dir = await makeFolder(3);
    const before = expectOk(await openCaseFolder(dir));
    const whole = formatEventLine({ ...before.events[3]!, seq: 5 });
    for (const tail of ['{"at":"2026', whole, `${whole}{"at"`]) {
      appendFileSync(join(dir, 'events.ndjson'), tail);
      const torn = expectOk(await openCaseFolder(dir));
      expect(torn.notes.map((n) => n.code)).toEqual(['log-tail-unacknowledged']);
      const seq = torn.state.seq;
      const writer = expectOk(await openCaseWriter(dir, () => nowMs));
      const appended = expectOk(await writer.append('one', () => succeed([entered(9)])));
      expect([appended.state.seq, appended.notes.map((n) => n.code)]).toEqual([seq + 1, ['log-tail-unacknowledged']]);
      const after = expectOk(await openCaseFolder(dir));
      expect([after.notes, after.state.seq]).toEqual([[], seq + 1]);
      const kept = readdirSync(dir).filter((name) => name.startsWith(`events.unacknowledged-${seq}-`));
      expect(kept.map((name) => readFileSync(join(dir, name), 'utf8'))).toEqual([tail]);
    }
  });

  test('a tail behind a writer at work is not named, one behind the lock of a dead writer is', async () => {
    const dir = await makeFolder(1);
    appendFileSync(join(dir, 'events.ndjson'), '{"at":"2026');
    for (const [pid, notes] of [[process.pid, 0], [2 ** 30, 1]] as const) {
      writeFileSync(join(dir, 'lock'), JSON.stringify({ pid, host: hostname(), began: null }));
      expect(expectOk(await openCaseFolder(dir)).notes.length).toBe(notes);
    }
  });

  test('a line that was acknowledged and is torn is damage, not a tail', async () => {
    const dir = await makeFolder(3);
    truncateSync(join(dir, 'events.ndjson'), statSync(join(dir, 'events.ndjson')).size - 4);
    const opened = await openCaseFolder(dir);
    expect(opened.ok ? '' : opened.failure.message).toContain('event 4 is torn, and it was acknowledged');
    expect(expectCode(await openCaseWriter(dir))).toBe('chain-broken');
  });

  test('writers take turns: nothing of any is lost, and all is one chain', async () => {
    const dir = await makeFolder(0);
    const writers = await Promise.all([0, 1, 2].map(async () => expectOk(await openCaseWriter(dir, () => nowMs))));
    await Promise.all(writers.map(async (writer, w) => {
      for (let k = 0; k < 15; k++) expectOk(await writer.append(`writer ${w}`, () => succeed([entered(k), entered(k + 1)])));
    }));
    const { events } = expectOk(await openCaseFolder(dir));
    expect(events.length).toBe(1 + 3 * 15 * 2);
    for (const w of [0, 1, 2]) {
      const own = events.filter((e) => e.by === `writer ${w}`).map((e) => (e.data as { value: string }).value);
      expect(own).toEqual(Array.from({ length: 15 }, (_, k) => [`Colleague ${k}`, `Colleague ${k + 1}`]).flat());
    }
  });

  test('a writer waits for the lock of a living process and no longer than it was told', async () => {
    const dir = await makeFolder(0);
    writeFileSync(join(dir, 'lock'), JSON.stringify({ pid: process.pid, host: hostname(), began: null }));
    const writer = expectOk(await openCaseWriter(dir, () => nowMs, 30));
    const refused = await writer.append('one', () => succeed([entered(1)]));
    expect([expectCode(refused), refused.ok ? '' : refused.failure.message]).toEqual(['case-in-use', expect.stringContaining(String(process.pid))]);
    writeFileSync(join(dir, 'lock'), JSON.stringify({ pid: 1, host: 'another-machine', began: null }));
    expect(expectCode(await writer.append('one', () => succeed([entered(1)])))).toBe('case-in-use');
    writeFileSync(join(dir, 'lock'), JSON.stringify({ pid: 2 ** 30, host: hostname(), began: null }));
    expectOk(await writer.append('one', () => succeed([entered(1)]))); // of a process that died
  });

  test('a clock that steps back puts no event before the last one; what the log cannot hold is refused whole', async () => {
    const dir = await makeFolder(1);
    const at = expectOk(await openCaseFolder(dir)).state.changedAt;
    const writer = expectOk(await openCaseWriter(dir, () => nowMs - 3_600_000));
    expect(expectOk(await writer.append('one', () => succeed([entered(1)]))).state.changedAt).toBe(at);
    const log = logOf(dir);
    for (const bad of [{ kind: 'case.opened', data: OPENED }, { ...entered(1), supersedes: 99 }, { kind: 'huddle.entered', data: { field: 'team.nurse', value: Number.NaN } }] as NewCaseEvent[]) {
      expect(expectCode(await writer.append('one', () => succeed([entered(2), bad])))).toBe('event-invalid');
    }
    expect(logOf(dir)).toBe(log);
  });

  test('is made in a place that is free or empty, and nowhere else; others of the machine cannot read it', async () => {
    const dir = await makeFolder(0);
    expect(statSync(dir).mode & 0o077).toBe(0);
    const log = logOf(dir);
    expect(expectCode(await makeCaseFolder(dir, { ...OPENED, caseId: 'case-test', by: 'one', nowMs }))).toBe('case-place-taken');
    expect(logOf(dir)).toBe(log);
    expect(expectCode(await makeCaseFolder(join(dir, 'case.json'), { ...OPENED, caseId: 'case-test', by: 'one', nowMs }))).toBe('case-place-taken');
    expect(readdirSync(top).filter((name) => name.startsWith('.'))).toEqual([]);
  });
});

describe('a disk that is full', () => {
  const disk = join(top, 'disk');
  mkdirSync(disk);
  const isMounted = process.getuid?.() === 0 && spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=256k', 'tmpfs', disk]).status === 0;
  test.skipIf(!isMounted)('takes nothing of an append that it has no room for, loses nothing, and goes on when there is room', async () => {
    const dir = join(disk, 'case');
    expectOk(await makeCaseFolder(dir, { ...OPENED, caseId: 'case-full', by: 'one', nowMs }));
    const writer = expectOk(await openCaseWriter(dir, () => nowMs));
    const long = (k: number): NewCaseEvent => ({ kind: 'doubt.accepted', data: { code: `code-${k}`, section: 'root', because: 'y'.repeat(390) } });
    let [kept, refused] = [1, ''];
    for (let k = 0; k < 2000 && refused === ''; k++) {
      const appended = await writer.append('one', () => succeed([long(k), long(k)]));
      if (appended.ok) kept = appended.value.state.seq;
      else refused = appended.failure.code;
    }
    expect(refused).toBe('store-full');
    expect(expectCode(await writer.putDocument('z'.repeat(300_000)))).toBe('store-full');
    expect(expectOk(await openCaseFolder(dir)).state.seq).toBe(kept);
    spawnSync('mount', ['-o', 'remount,size=512k', disk]);
    expect(expectOk(await writer.append('one', () => succeed([entered(1)]))).state.seq).toBe(kept + 1);
    expectOk(await verifyCase(expectOk(await openCaseFolder(dir))));
  });
});

const MAIN = fileURLToPath(new URL('../../../bin/trinadir.mjs', import.meta.url));
const isBuilt = existsSync(fileURLToPath(new URL('../../../dist/host/cli/case-log-command.js', import.meta.url)));

describe('a process that logs and is killed', () => {
  test.skipIf(!isBuilt)('loses nothing that it acknowledged, and the next one goes on', async () => {
    const dir = newDir();
    expectOk(await makeCaseFolder(dir, { ...OPENED, caseId: 'case-killed', by: 'one', nowMs }));
    const acknowledged: string[] = [];
    for (const most of [3, 30]) {
      await new Promise<void>((resolve, reject) => {
        const child = spawn(process.execPath, [MAIN, 'case', 'log', dir, '--stdin'], { stdio: ['pipe', 'pipe', 'inherit'] });
        let [seen, k] = [0, 0];
        // One line at a time keeps it at work: the next one is under way whenever it dies.
        const feed = setInterval(() => child.stdin.write(`{"is":"note","text":"tap ${k++}"}\n`), 1);
        child.stdin.on('error', () => {});
        createInterface({ input: child.stdout }).on('line', (line) => {
          acknowledged.push(line);
          if (++seen === most) child.kill('SIGKILL');
        });
        child.on('error', reject);
        child.on('close', () => {
          clearInterval(feed);
          resolve();
        });
      });
    }
    const writer = expectOk(await openCaseWriter(dir));
    expectOk(await writer.append('one', () => succeed([entered(1)])));
    const { events } = expectOk(await openCaseFolder(dir));
    const logged = new Map(events.flatMap((e) => (e.kind === 'room.logged' ? [[e.seq, (e.data as RoomRecord).entryId]] : [])) as [number, string][]);
    expect(acknowledged.length).toBeGreaterThanOrEqual(33);
    for (const line of acknowledged) {
      const [seq, entryId] = line.split(' ') as [string, string];
      expect(logged.get(Number(seq))).toBe(entryId);
    }
    // Beside what was acknowledged: at most what had been flushed and not yet said, once per kill.
    expect(foldRoom(events.flatMap((e) => (e.kind === 'room.logged' ? [e.data as RoomRecord] : []))).holes).toEqual([]);
  });
});

