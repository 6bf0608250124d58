import { randomUUID } from 'node:crypto';
import { z } from 'zod';
import type { CaseEventData, NewCaseEvent } from '../../core/case/case-events.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import type { RoomEntry, RoomRecord } from '../../core/room/room-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CASE_FILE_EN } from '../../core/text/case-file-en.ts';
import { STORE_EN } from '../../core/text/store-en.ts';
import { ID } from '../../formats/api/case-schemas.ts';
import { ROOM_ENTRY, ROOM_RECORD } from '../../formats/api/room-schemas.ts';
import { formatTap, placeBefore } from '../storage/room-calls.ts';
import type { Moment } from './case-clock.ts';
import { describeIssue } from './event-schemas.ts';
import type { CaseWriter } from './write-case-folder.ts';

/** What a line of standard input may hold beside a whole record: an entry, or a correction of an earlier record. */
const CORRECTION = z.strictObject({ corrects: ID, entry: ROOM_ENTRY.nullable() });

export interface RecordMaker {
  /** A record of this process from what was typed or read. Fails room-entry-invalid (names the field). */
  make(content: unknown, corrects?: string | null): Result<RoomRecord, 'room-entry-invalid'>;
}

/**
 * Makes records as a page of the room makes them: counted without gaps, timed by the monotonic clock of the process. A
 * whole record (with its entryId) is taken as it is, so that what another program kept can be handed in twice.
 */
export function makeRecordMaker(clock: () => Moment, newId: () => string = randomUUID): RecordMaker {
  const clientId = `cli-${newId()}`.slice(0, 64);
  let count = 0;
  const put = (entry: RoomEntry | null, corrects: string | null): Result<RoomRecord, never> => {
    const { monotonicMs, wallMs, steadyMs } = clock();
    const addedMs = Math.round(steadyMs) - wallMs;
    return succeed({
      entryId: newId(), clientId, place: 'desk', count: ++count, monotonicMs: Math.round(monotonicMs * 1000) / 1000,
      clientAt: new Date(wallMs).toISOString(), happenedAt: new Date(wallMs + addedMs).toISOString(),
      offset: { addedMs, withinMs: 1 }, corrects, entry, // the clock that writes the log is the one that is read here
    });
  };
  return {
    make(content, corrects = null) {
      if (content === null && corrects !== null) return put(null, corrects);
      const shape = content !== null && typeof content === 'object' ? content : {};
      if ('entryId' in shape) return check(ROOM_RECORD, content, (record) => succeed(record));
      if ('corrects' in shape) return check(CORRECTION, content, ({ entry, corrects: other }) => put(entry, other));
      return check(ROOM_ENTRY, content, (entry) => put(entry, corrects));
    },
  };
}

function check<S extends z.ZodType>(schema: S, content: unknown, then: (value: z.infer<S>) => Result<RoomRecord, never>): Result<RoomRecord, 'room-entry-invalid'> {
  const parsed = schema.safeParse(content);
  if (parsed.success) return then(parsed.data);
  const { field, problem } = describeIssue(parsed.error);
  return fail('room-entry-invalid', formatText(CASE_FILE_EN, 'entryWrong', { field, problem }), CASE_FILE_EN.entryWrongNext, { field, problem });
}

export interface Logged {
  readonly seq: number;
  /** In the order of the log; `seq` of each. */
  readonly taken: readonly { readonly entryId: string; readonly seq: number }[];
  readonly known: readonly string[];
  /** Records whose number another tap has. */
  readonly differing: readonly string[];
}

/**
 * Puts records at the end of the log, as the server does: what it has is left as it is, a number that another tap has is
 * refused (and the others are kept all the same), and no tap was made after it arrived.
 * Fails     record-unknown (`mustKnow` and nothing there to correct), and as CaseWriter.append
 */
export async function logRecords(writer: CaseWriter, by: string, records: readonly RoomRecord[], mustKnow: 'corrected' | 'nothing' = 'nothing'): Promise<Result<Logged, string>> {
  let [known, differing]: [string[], string[]] = [[], []];
  const appended = await writer.append(by, (_state, events, at) => {
    [known, differing] = [[], []];
    const asked = new Set(records.flatMap((r) => (r.corrects === null ? [r.entryId] : [r.entryId, r.corrects])));
    const taps = new Map<string, string>();
    for (const event of events) {
      const tap = event.kind === 'room.logged' ? (event.data as RoomRecord) : null;
      if (tap && asked.has(tap.entryId)) taps.set(tap.entryId, formatTap(tap));
    }
    const fresh: NewCaseEvent[] = [];
    for (const record of records) {
      if (mustKnow === 'corrected' && record.corrects !== null && !taps.has(record.corrects)) return fail('record-unknown', CASE_FILE_EN.correctsUnknown, CASE_FILE_EN.correctsUnknownNext);
      const was = taps.get(record.entryId);
      if (was === undefined) {
        taps.set(record.entryId, formatTap(record));
        fresh.push({ kind: 'room.logged', data: placeBefore(record, at) });
      } else (was === formatTap(record) ? known : differing).push(record.entryId);
    }
    return succeed(fresh);
  });
  if (!appended.ok) return appended;
  const { added, state } = appended.value;
  return succeed({ seq: state.seq, taken: added.map((e) => ({ entryId: (e.data as CaseEventData['room.logged']).entryId, seq: e.seq })), known, differing });
}
export const failDiffering = () => fail('record-differs' as const, STORE_EN.recordDiffers, STORE_EN.recordDiffersNext);
