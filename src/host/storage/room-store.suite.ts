import { sql, type Kysely } from 'kysely';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { foldCase } from '../../core/case/fold-case.ts';
import type { Result } from '../../core/result.ts';
import type { RoomEntry, RoomRecord } from '../../core/room/room-types.ts';
import { expectCode, expectOk } from './case-store.suite.ts';
import { hashEvent } from './hash-chain.ts';
import { openTables } from './open-store.ts';
import type { CaseStore, StoredPairing } from './store-types.ts';
import type { StoreTables } from './tables.ts';
import { makeVerifyCall } from './verify-chains.ts';

const START = Date.UTC(2026, 10, 25, 9);
let made = 0;
function tap(entry: RoomEntry, more: Partial<RoomRecord> = {}): RoomRecord {
  made += 1;
  const at = new Date(START - 1000 + made).toISOString();
  return { entryId: `tap-${String(made).padStart(5, '0')}`, clientId: 'page-one', place: 'desk', count: made, monotonicMs: made, clientAt: at, happenedAt: at, offset: null, corrects: null, entry, ...more };
}
const contrast = (ml: number, more: Partial<RoomRecord> = {}): RoomRecord => tap({ is: 'contrast', ml }, more);

/** What the store promises of the room's log and of pairings. `open` gives an empty database of one engine. */
export function describeRoomStore(engine: string, open: () => Promise<Kysely<StoreTables>>): void {
  describe(`room store on ${engine}`, () => {
    let db: Kysely<StoreTables>;
    let store: CaseStore;
    let clockMs = START;
    let cases = 0;
    beforeAll(async () => {
      db = await open();
      store = expectOk(await openTables(db, () => clockMs));
    });
    afterAll(() => store?.close());
    const start = async (): Promise<string> => {
      const caseId = `room-case-${++cases}`;
      expectOk(await store.append({ caseId, expectSeq: 0, by: 'p-anna', events: [{ kind: 'case.opened', data: { label: 'A room', procedureOn: null, training: false } }] }));
      return caseId;
    };
    const append = (caseId: string, records: readonly RoomRecord[], by = 'p-anna') => store.appendRecords({ caseId, by, records });

    test('records stand at the end of the chain, each with the hash of the one in front, and the state counts them', async () => {
      const caseId = await start();
      const first = expectOk(await append(caseId, [contrast(1), contrast(2)]));
      const second = expectOk(await append(caseId, [contrast(3)], 'p-bert'));
      expect([first.taken.length, second.state.room, second.events.map((e) => [e.seq, e.by])]).toEqual([2, { entries: 3, lastSeq: 4 }, [[4, 'p-bert']]]);
      const events = expectOk(await store.listEvents(caseId, 0));
      for (const [k, event] of events.entries()) expect([event.sha256, event.prevSha256]).toEqual([hashEvent(event), events[k - 1]?.sha256 ?? '0'.repeat(64)]);
      expect(expectOk(await store.readState(caseId))).toEqual(foldCase(caseId, events));
      expect(expectOk(await store.listRecords(caseId, 2)).map((e) => e.seq)).toEqual([3, 4]);
      expectOk(await store.verifyChains());
    });

    test('many writers at the same moment, with copies of one another: every tap once, without gaps', async () => {
      const caseId = await start();
      const taps = Array.from({ length: 30 }, (_, i) => contrast(i));
      const answers = await Promise.all(Array.from({ length: 12 }, (_, k) => append(caseId, taps.slice(k * 2, k * 2 + 8))));
      const taken = answers.flatMap((a) => expectOk(a).taken);
      expect([...taken].sort()).toEqual(taps.map((t) => t.entryId).sort());
      expect(expectOk(await store.listEvents(caseId, 0)).map((e) => e.seq)).toEqual(Array.from({ length: 31 }, (_, k) => k + 1));
    });

    test('an edit that has not seen taps is taken; one that has not seen an edit is not', async () => {
      const caseId = await start();
      const date = (expectSeq: number) => store.append({ caseId, expectSeq, by: 'p-anna', events: [{ kind: 'case.dated', data: { procedureOn: '2026-12-01' } }] });
      expectOk(await append(caseId, [contrast(1), contrast(2)]));
      expect(expectOk(await date(1)).map((e) => e.seq)).toEqual([4]);
      expectOk(await append(caseId, [contrast(3)]));
      expect(expectCode(await date(1))).toBe('case-changed');
      expect(expectCode(await date(6))).toBe('case-changed');
      expect(expectOk(await date(4)).map((e) => e.seq)).toEqual([6]);
      expectOk(await store.verifyChains());
    });

    test('one number for two taps writes nothing; an unknown case is refused', async () => {
      const caseId = await start();
      const one = contrast(1);
      expectOk(await append(caseId, [one]));
      const refused = await append(caseId, [contrast(2), contrast(3), { ...one, count: one.count + 1 }]);
      expect([expectCode(refused), refused.ok ? null : refused.failure.evidence]).toEqual(['record-differs', { record: 2 }]);
      expect(expectOk(await store.listRecords(caseId, 0))).toHaveLength(1);
      expect(expectCode(await append('room-case-none', [one]))).toBe('case-unknown');
      // The same number in another case is another tap.
      expectOk(await append(await start(), [one]));
    });

    test('a server whose clock was set back does not log before the last event, and no tap is made after it arrived', async () => {
      const caseId = await start();
      clockMs = START - 3_600_000;
      const { events } = expectOk(await append(caseId, [contrast(1), contrast(2, { happenedAt: '2030-01-01T00:00:00.000Z' })]));
      clockMs = START;
      expect(events.map((e) => e.at)).toEqual([new Date(START).toISOString(), new Date(START).toISOString()]);
      expect(events.map((e) => e.data.happenedAt > e.at)).toEqual([false, false]);
    });

    test('a changed, removed, doubled, moved or hidden tap is found and named', async () => {
      const caseId = await start();
      expectOk(await append(caseId, [tap({ is: 'depth', reading: { depthMm: 4, lowMm: 3, highMm: 5, state: 'uncorrected', by: 'entered', views: [{ primaryDeg: 0, secondaryDeg: 0 }], cusp: 'N', edge: 'inflow', clicks: 1, unsheathedRatio: null } }), contrast(2), contrast(3)]));
      const tamper = async (...changes: ReturnType<typeof sql>[]): Promise<Result<unknown, string>> => {
        let found: Result<unknown, string> | null = null;
        const undo = new Error('undo');
        await db.transaction().execute(async (tx) => {
          await sql`alter table events disable trigger events_stay`.execute(tx);
          for (const change of changes) await change.execute(tx);
          found = await makeVerifyCall(tx).verifyChains();
          throw undo;
        }).catch((problem: unknown) => {
          if (problem !== undo) throw problem;
        });
        return found!;
      };
      const broken: readonly (readonly [string, number, readonly ReturnType<typeof sql>[]])[] = [
        ['another depth', 2, [sql`update events set data = replace(data, '"depthMm":4', '"depthMm":2') where case_id = ${caseId} and seq = 2`]],
        ['another time', 3, [sql`update events set data = replace(data, 'T08:', 'T07:') where case_id = ${caseId} and seq = 3`]],
        ['another person', 3, [sql`update events set by_whom = 'p-bert' where case_id = ${caseId} and seq = 3`]],
        ['the last one gone', 3, [sql`delete from events where case_id = ${caseId} and seq = 4`]],
        ['one in the middle gone', 3, [sql`delete from events where case_id = ${caseId} and seq = 3`]],
        ['two changed places', 3, [sql`update events set seq = 99 where case_id = ${caseId} and seq = 3`, sql`update events set seq = 3 where case_id = ${caseId} and seq = 4`, sql`update events set seq = 4 where case_id = ${caseId} and seq = 99`]],
        ['its number taken away, so that it could be logged again', 3, [sql`update events set entry_id = null where case_id = ${caseId} and seq = 3`]],
        ['fewer taps in the state', 4, [sql`update cases set state = replace(state, '"entries":3', '"entries":2') where case_id = ${caseId}`]],
      ];
      for (const [what, seq, changes] of broken) {
        const found = await tamper(...changes);
        expect(found.ok ? 'whole' : found.failure.code, what).toBe('chain-broken');
        if (!found.ok) expect([found.failure.evidence['caseId'], found.failure.evidence['seq']], what).toEqual([caseId, seq]);
      }
      expectOk(await store.verifyChains());
      await expect(sql`update events set entry_id = 'x' where case_id = ${caseId}`.execute(db)).rejects.toThrow('append only');
    });

    test('a pairing is taken once, within its minutes, and its session ends with it', async () => {
      const caseId = await start();
      expectOk(await store.addPerson({ personId: 'p-anna', login: 'anna', displayName: 'Anna', role: 'operator', isActive: true, passwordHash: null, oidcSubject: null }));
      const pairing = (n: number): StoredPairing => ({ pairingId: `pairing-${n}`, caseId, kind: 'remote', by: 'p-anna', codeSha256: String(n).repeat(64), madeAt: new Date(START).toISOString(), expiresAt: new Date(START + 60_000).toISOString(), usedAt: null, endedAt: null });
      for (const n of [1, 2, 3]) expectOk(await store.addPairing(pairing(n)));
      const taken = await Promise.all(Array.from({ length: 6 }, () => store.takePairing('1'.repeat(64))));
      expect(taken.filter((t) => expectOk(t) !== null)).toHaveLength(1);
      clockMs = START + 60_000;
      expect(expectOk(await store.takePairing('2'.repeat(64)))).toBeNull();
      clockMs = START;
      expectOk(await store.endPairing('pairing-3'));
      expect(expectOk(await store.takePairing('3'.repeat(64)))).toBeNull();
      expect(expectOk(await store.takePairing('4'.repeat(64)))).toBeNull();
      const session = { tokenSha256: 'a'.repeat(64), personId: 'p-anna', csrfToken: 'c', createdAt: 'x', seenAt: 'x', expiresAt: 'x', scope: { kind: 'remote', caseId, pairingId: 'pairing-1' } } as const;
      expectOk(await store.addSession(session));
      expect(expectOk(await store.findSession(session.tokenSha256))).toEqual(session);
      expectOk(await store.endPairing('pairing-1'));
      expect(expectOk(await store.findSession(session.tokenSha256))).toBeNull();
      expectOk(await store.addSession(session)); // its device came in while somebody ended it
      expect(expectOk(await store.findSession(session.tokenSha256))).toBeNull();
      expect(expectOk(await store.listPairings(caseId)).map((p) => [p.pairingId, p.usedAt !== null, p.endedAt !== null])).toEqual([['pairing-1', true, true], ['pairing-2', false, false], ['pairing-3', false, true]]);
      expect(expectOk(await store.findPairing('pairing-none'))).toBeNull();
    });
  });
}
