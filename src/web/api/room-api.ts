import type { RoomRecord } from '../../core/room/room-types.ts';
import type { CheckedRecord } from '../../formats/api/room-schemas.ts';
import { callApi, makeApiPath, type ApiAnswer } from './call-api.ts';

/** What the server tells of a room: the case, which plan is frozen, and records that are new since `seq`. */
export type RoomNews = ApiAnswer<'readRoom'>;

/** On a network that was cut an answer never comes: the page must know soon, and a plan may take its time. */
const MOST_MS = 6000;
const MOST_PLAN_MS = 60_000;

export const readRoom = (caseId: string, after: number) => callApi('readRoom', { params: { caseId }, query: { after }, mostMs: MOST_MS });
/** The core's records are readonly all through; the schema's are the same without that word. */
export const sendRecords = (caseId: string, records: readonly RoomRecord[]) => callApi('logRoom', { params: { caseId }, body: { records: records as unknown as CheckedRecord[] }, mostMs: MOST_MS });
export const readClock = () => callApi('compareClock', { mostMs: MOST_MS });
export const readFrozen = (caseId: string, sha256: string) => callApi('readFrozen', { params: { caseId, sha256 }, mostMs: MOST_PLAN_MS });
export const makeFeedPath = (caseId: string, after: number): string => makeApiPath('followRoom', { params: { caseId }, query: { after } });
