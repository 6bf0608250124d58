import type { Kysely } from 'kysely';
import { makeCaseCalls } from './case-calls.ts';
import { makePeopleCalls } from './people-calls.ts';
import { makeRecordCalls } from './record-calls.ts';
import { makeRoomCalls } from './room-calls.ts';
import type { CaseStore } from './store-types.ts';
import type { StoreTables } from './tables.ts';
import { makeVerifyCall } from './verify-chains.ts';

/** The store over an open database of either engine, its tables brought forward (migrate.ts). */
export function makeCaseStore(db: Kysely<StoreTables>, nowMs: () => number): CaseStore {
  return { ...makeCaseCalls(db, nowMs), ...makePeopleCalls(db, nowMs), ...makeRecordCalls(db, nowMs), ...makeRoomCalls(db, nowMs), ...makeVerifyCall(db), close: () => db.destroy() };
}
