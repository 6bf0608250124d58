import { formatCanonical } from '../../../core/audit/format-canonical.ts';
import { fail, succeed, type Result } from '../../../core/result.ts';
import { foldRoom, mergeRecords } from '../../../core/room/fold-room.ts';
import { makeVerdictEntry, type VerdictEntry } from '../../../core/room/make-verdict-entry.ts';
import type { RoomRecord } from '../../../core/room/room-types.ts';
import { formatText } from '../../../core/text/catalogue.ts';
import { ROOM_LOG_EN } from '../../../core/text/room-log-en.ts';
import { readInstantMs } from '../../../core/units/iso-time.ts';
import { findRoundStart, type VerdictAnswer } from '../../../core/verdict/compose-verdict.ts';
import { readVerdictClock } from '../../../core/verdict/read-verdict-clock.ts';
import { formatInstant } from '../../security/steady-clock.ts';
import type { CaseStore } from '../../storage/store-types.ts';
import { findAnyCaller, type Door } from '../door.ts';
import type { Handlers } from '../handler-types.ts';
import { readLastEventId } from '../stream-feed.ts';
import { readRoomNews, streamRoom } from '../stream-room.ts';

export type RoomRoute = 'readRoom' | 'logRoom' | 'followRoom' | 'compareClock';

/** The room's log: what is new, taps, news as they happen, and the server's time. */
export function makeRoomHandlers(door: Door): Pick<Handlers, RoomRoute> {
  return {
    readRoom: ({ params: { caseId }, query: { after } }, { store }) => readRoomNews(store, caseId, after),

    async logRoom({ params: { caseId }, body: { records }, caller, session }, { store, feed }) {
      if (session!.scope && records.some((r) => r.place !== session!.scope!.kind)) return fail('not-allowed', ROOM_LOG_EN.placeNotYours, ROOM_LOG_EN.placeNotYoursNext);
      const shown = await checkVerdicts(store, caseId, records);
      if (!shown.ok) return shown;
      const logged = await store.appendRecords({ caseId, by: caller!.personId, records });
      if (!logged.ok && logged.failure.code === 'record-differs') {
        // As a body of a wrong form: it never goes, however often it is sent.
        const record = String(logged.failure.evidence['record']);
        return fail('request-invalid', formatText(ROOM_LOG_EN, 'recordDiffers', { record }), ROOM_LOG_EN.recordDiffersNext, { where: `body.records.${record}.entryId` });
      }
      if (!logged.ok) return logged;
      const { state, events, taken, known } = logged.value;
      if (events.length > 0) feed.publish(caseId, { kind: 'case', state, events });
      return succeed({ seq: state.seq, taken: [...taken], known: [...known] });
    },

    async followRoom({ params: { caseId }, query, caller, session, request }, { store, feed }) {
      const state = await store.readState(caseId);
      if (!state.ok) return state;
      const mayStay = async (): Promise<boolean> => {
        const now = await findAnyCaller(request.headers, door);
        if (!now.ok) return true; // a store that is away for a moment ends nobody's session
        return now.value?.person.personId === caller!.personId && now.value.session.scope?.pairingId === session!.scope?.pairingId;
      };
      // A page that knows more than there is (an older store was put back) is told everything from the beginning.
      const after = readLastEventId(request.headers) ?? query.after;
      return succeed(streamRoom({ store, feed, caseId, after: after > state.value.seq ? 0 : after, mayStay, signal: request.signal }));
    },

    async compareClock() {
      const nowMs = door.readNow();
      return succeed({ at: formatInstant(nowMs), nowMs });
    },
  };
}

/**
 * A verdict comes to the wall only as it was shown to a reader of this case: after the own grades, with the words it had then, and
 * in the round in which it is tapped. A page that has not heard of a manoeuvre yet would bring the last round's verdict back.
 */
async function checkVerdicts(store: CaseStore, caseId: string, records: readonly RoomRecord[]): Promise<Result<null, string>> {
  if (!records.some((r) => r.entry?.is === 'verdict')) return succeed(null);
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const listed = await store.listRecords(caseId, 0);
  if (!listed.ok) return listed;
  const ordered = mergeRecords(listed.value.map(({ data, by, seq }) => ({ ...data, by, seq })), records);
  for (const { entryId, entry, happenedAt } of records) {
    // Sent again because the answer was lost: what the log has already is compared with it by the store, not judged anew.
    if (entry?.is !== 'verdict' || listed.value.some(({ data }) => data.entryId === entryId)) continue;
    const till = ordered.slice(0, ordered.findIndex((r) => r.entryId === entryId) + 1);
    const sinceAt = findRoundStart(readVerdictClock(foldRoom(till), happenedAt));
    const isShown = state.value.result.shown.some((s) => s.what === 'verdict' && s.answerSha256 === entry.answerSha256 && (sinceAt === null || readInstantMs(s.at) > readInstantMs(sinceAt)));
    const document = isShown ? await store.readDocument(entry.answerSha256) : null;
    if (document && !document.ok && document.failure.code !== 'blob-unknown') return document;
    const made = document?.ok ? makeVerdictEntry(JSON.parse(document.value.text) as VerdictAnswer, entry.answerSha256) : null;
    if (made && nameGrades(made) === nameGrades(entry)) continue;
    return fail('verdict-not-shown', formatText(ROOM_LOG_EN, 'verdictNotShown', { record: entryId }), ROOM_LOG_EN.verdictNotShownNext);
  }
  return succeed(null);
}
/** Sentences may be worded otherwise by a newer version; what is said of the leak and of each remedy may not. */
const nameGrades = ({ word, side, witnesses, remedies }: VerdictEntry): string => formatCanonical({ word, side, witnesses, remedies: remedies.map(({ code, state }) => ({ code, state })) });
