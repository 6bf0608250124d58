import type { Kysely, Selectable } from 'kysely';
import type { CaseEvent, NewCaseEvent } from '../../core/case/case-events.ts';
import { applyEvent, type CaseState } from '../../core/case/fold-case.ts';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { failCaseUnknown, linkEvents, makeCaseRow, readEventRow, writeEventRow } from './case-calls.ts';
import { attempt } from './store-failures.ts';
import type { CaseStore, LogRequest, LogOutcome, StoredPairing, StoreFailureCode } from './store-types.ts';
import type { PairingRow, StoreTables } from './tables.ts';

type RoomCalls = Pick<CaseStore, 'appendRecords' | 'listRecords' | 'addPairing' | 'takePairing' | 'findPairing' | 'listPairings' | 'endPairing'>;

/** Log of the room, and what may be paired to it. */
export function makeRoomCalls(db: Kysely<StoreTables>, nowMs: () => number): RoomCalls {
  const now = (): string => new Date(nowMs()).toISOString();
  return {
    appendRecords: (request) => attempt(() => appendRecords(db, request, nowMs)),
    listRecords: (caseId, afterSeq) => attempt(async () => {
      const rows = await db.selectFrom('events').selectAll().where('case_id', '=', caseId).where('seq', '>', afterSeq).where('kind', '=', 'room.logged').orderBy('seq').execute();
      return succeed(rows.map((row) => readEventRow(row) as CaseEvent<'room.logged'>));
    }),

    addPairing: (pairing) => attempt(async () => {
      await db.insertInto('pairings').values(writePairingRow(pairing)).execute();
      return succeed(pairing);
    }),
    takePairing: (codeSha256) => attempt(async () => {
      const at = now();
      // One statement: of two who type the same code at the same moment one comes in.
      const row = await db.updateTable('pairings').set({ used_at: at }).where('code_sha256', '=', codeSha256).where('used_at', 'is', null).where('ended_at', 'is', null).where('expires_at', '>', at).returningAll().executeTakeFirst();
      return succeed(row ? readPairingRow(row) : null);
    }),
    findPairing: (pairingId) => attempt(async () => {
      const row = await db.selectFrom('pairings').selectAll().where('pairing_id', '=', pairingId).executeTakeFirst();
      return succeed(row ? readPairingRow(row) : null);
    }),
    listPairings: (caseId) => attempt(async () => succeed((await db.selectFrom('pairings').selectAll().where('case_id', '=', caseId).orderBy('made_at').orderBy('pairing_id').execute()).map(readPairingRow))),
    endPairing: (pairingId) => attempt(() => db.transaction().execute(async (tx) => {
      await tx.updateTable('pairings').set({ ended_at: now() }).where('pairing_id', '=', pairingId).where('ended_at', 'is', null).execute();
      await tx.deleteFrom('sessions').where('pairing_id', '=', pairingId).execute();
      return succeed(null);
    })),
  };
}

/**
 * Puts records at the end of the case's chain, whatever was written to it meanwhile. What the log has is left as it is;
 * a tap that another record's number stands for is refused, and nothing of the request is written then.
 */
async function appendRecords(db: Kysely<StoreTables>, { caseId, by, records }: LogRequest, nowMs: () => number): Promise<Result<LogOutcome, StoreFailureCode>> {
  return db.transaction().execute(async (tx) => {
    const row = await tx.selectFrom('cases').select(['seq', 'sha256', 'changed_at', 'state']).where('case_id', '=', caseId).forUpdate().executeTakeFirst();
    if (!row) return failCaseUnknown();
    const before = JSON.parse(row.state) as CaseState;
    const stored = await tx.selectFrom('events').select(['entry_id', 'data']).where('case_id', '=', caseId).where('entry_id', 'in', records.map((r) => r.entryId)).execute();
    const known = new Map(stored.map((s) => [s.entry_id!, formatTap(JSON.parse(s.data) as RoomRecord)]));
    const fresh: RoomRecord[] = [];
    for (const [k, record] of records.entries()) {
      const was = known.get(record.entryId);
      if (was === undefined) {
        fresh.push(record);
        known.set(record.entryId, formatTap(record));
      } else if (was !== formatTap(record)) {
        return fail('record-differs', STORE_EN.recordDiffers, STORE_EN.recordDiffersNext, { record: k });
      }
    }
    const taken = fresh.map((r) => r.entryId);
    const knownIds = [...new Set(records.map((r) => r.entryId))].filter((id) => !taken.includes(id));
    if (fresh.length === 0) return succeed({ state: before, events: [], taken, known: knownIds });
    const nowIso = new Date(nowMs()).toISOString();
    const at = row.changed_at > nowIso ? row.changed_at : nowIso;
    const events = fresh.map((record): NewCaseEvent => ({ kind: 'room.logged', data: placeBefore(record, at) }));
    const linked = linkEvents({ caseId, expectSeq: row.seq, by, events }, row, at);
    if (!linked.ok) return linked;
    const state = linked.value.reduce(applyEvent, before);
    // Taps change nothing that the work list shows, and reading the whole plan again would cost more than the tap.
    const line = before.room.entries === 0
      ? await makeCaseRow(tx, state)
      : { seq: state.seq, sha256: state.sha256, changed_at: state.changedAt, state: JSON.stringify(state) };
    await tx.updateTable('cases').set(line).where('case_id', '=', caseId).execute();
    await tx.insertInto('events').values(linked.value.map(writeEventRow)).execute();
    return succeed({ state, events: linked.value as readonly CaseEvent<'room.logged'>[], taken, known: knownIds });
  });
}

/** What makes two copies the same tap. Its corrected time is not part of it: a page may know it better when it sends again. */
export const formatTap = ({ entryId, clientId, place, count, monotonicMs, clientAt, corrects, entry }: RoomRecord): string =>
  formatCanonical({ entryId, clientId, place, count, monotonicMs, clientAt, corrects, entry });

/**
 * No tap was made after it arrived: one that says so comes from a page whose clock runs ahead. It is set to its arrival;
 * what was added to the page's time, and how far that may be wrong, stands beside it, and the raw time stays.
 */
export function placeBefore(record: RoomRecord, arrivedAt: string): RoomRecord {
  const lateMs = Date.parse(record.happenedAt) - Date.parse(arrivedAt);
  if (lateMs <= 0) return record;
  return { ...record, happenedAt: arrivedAt, offset: { addedMs: Date.parse(arrivedAt) - Date.parse(record.clientAt), withinMs: (record.offset?.withinMs ?? 0) + lateMs } };
}

function readPairingRow(row: Selectable<PairingRow>): StoredPairing {
  return {
    pairingId: row.pairing_id, caseId: row.case_id, kind: row.kind as StoredPairing['kind'], by: row.by_whom, codeSha256: row.code_sha256,
    madeAt: row.made_at, expiresAt: row.expires_at, usedAt: row.used_at, endedAt: row.ended_at,
  };
}
function writePairingRow(p: StoredPairing): PairingRow {
  return { pairing_id: p.pairingId, case_id: p.caseId, kind: p.kind, by_whom: p.by, code_sha256: p.codeSha256, made_at: p.madeAt, expires_at: p.expiresAt, used_at: p.usedAt, ended_at: p.endedAt };
}
