import type { CaseState } from '../../core/case/fold-case.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import type { RouteName } from '../../formats/api/api-routes.ts';
import { callApi, makeApiPath, type ApiResult } from './call-api.ts';

/** What the server tells of a room: the case, which plan is frozen, and records that are new since `seq`. */
export interface RoomNews {
  readonly caseId: string;
  readonly label: string;
  readonly training: boolean;
  readonly frozen: CaseState['frozen'];
  readonly seq: number;
  readonly records: readonly (RoomRecord & { readonly by: string; readonly seq: number })[];
}
/** Which of the records handed in are new to the log, and which it had. */
export interface LogAnswer {
  readonly seq: number;
  readonly taken: readonly string[];
  readonly known: readonly string[];
}

interface Ask {
  readonly params?: Readonly<Record<string, string>>;
  readonly query?: Readonly<Record<string, string | number>>;
  readonly body?: unknown;
  readonly mostMs?: number;
}
/** On a network that was cut an answer never comes: the page must know soon, and a plan may take its time. */
const MOST_MS = 6000;
const MOST_PLAN_MS = 60_000;
/** The table of routes checks what comes back; this file names what it is. */
const ask = callApi as unknown as (name: string, ask: Ask) => Promise<ApiResult<unknown>>;

export const readRoom = (caseId: string, after: number) => ask('readRoom', { params: { caseId }, query: { after }, mostMs: MOST_MS }) as Promise<ApiResult<RoomNews>>;
export const sendRecords = (caseId: string, records: readonly RoomRecord[]) => ask('logRoom', { params: { caseId }, body: { records }, mostMs: MOST_MS }) as Promise<ApiResult<LogAnswer>>;
export const readClock = () => ask('compareClock', { mostMs: MOST_MS }) as Promise<ApiResult<{ readonly at: string; readonly nowMs: number }>>;
export const readFrozen = (caseId: string, sha256: string) => ask('readFrozen', { params: { caseId, sha256 }, mostMs: MOST_PLAN_MS }) as Promise<ApiResult<Response>>;
export const makeFeedPath = (caseId: string): string => makeApiPath('followRoom' as RouteName, { params: { caseId } });
