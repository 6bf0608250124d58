import { fail, succeed, type Result } from '../../../core/result.ts';
import { assembleRhythm } from '../../../core/rhythm-case/assemble-rhythm.ts';
import { RUNS_EN } from '../../../core/text/runs-en.ts';
import { MOST_RECORDING_BYTES, type RhythmPageAnswer } from '../../../formats/api/result-schemas.ts';
import { BECAUSE_HEADER } from '../../../formats/api/run-schemas.ts';
import type { ThreadDesk } from '../../jobs/thread-desk.ts';
import { formatInstant } from '../../security/steady-clock.ts';
import type { Door } from '../door.ts';
import type { Handlers, Services } from '../handler-types.ts';
import { joinEcgRecord } from '../join-ecg-record.ts';
import { readReason } from '../judge-file-identity.ts';
import { loadRhythmCase } from '../load-rhythm-case.ts';
import { takeRunFile } from '../take-run-file.ts';

export type RhythmRoute = 'addEcg' | 'readRhythm';

/** ECG records are handed in and read; what the signed rhythm rules say of a case is composed anew for each who asks. */
export function makeRhythmHandlers(door: Pick<Door, 'readNow'>, thread: ThreadDesk): Pick<Handlers, RhythmRoute> {
  return {
    async addEcg({ params: { caseId }, query, caller, request }, services) {
      const because = readReason(request.headers.get(BECAUSE_HEADER));
      if (because === undefined) return fail('request-invalid', RUNS_EN.reasonUnread, RUNS_EN.reasonUnreadNext);
      const state = await services.store.readState(caseId);
      if (!state.ok) return state;
      const file = await takeRunFile(request, services.dataFolder, MOST_RECORDING_BYTES);
      if (!file.ok) return file;
      const joined = await joinEcgRecord(services, thread, { caseId, by: caller!.personId, path: file.value, moment: query.moment, takenAt: query.takenAt, channels: query.channels ?? null, because, nowMs: door.readNow() });
      return joined.ok ? answerRhythm(services, door, caseId) : joined;
    },

    readRhythm: ({ params: { caseId } }, services) => answerRhythm(services, door, caseId),
  };
}

async function answerRhythm({ store }: Pick<Services, 'store'>, door: Pick<Door, 'readNow'>, caseId: string): Promise<Result<RhythmPageAnswer, string>> {
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const listed = await store.listRecords(caseId, 0);
  if (!listed.ok) return listed;
  const source = {
    state: state.value, records: listed.value.map(({ data, by, seq }) => ({ ...data, by, seq })),
    async readDocument(sha256: string): Promise<Result<string, string>> {
      const read = await store.readDocument(sha256);
      return read.ok ? succeed(read.value.text) : read;
    },
  };
  const now = formatInstant(door.readNow());
  const loaded = await loadRhythmCase(source, now);
  if (!loaded.ok) return loaded;
  return succeed({ ...assembleRhythm(loaded.value), now, isTraining: state.value.training || loaded.value.rules?.training === true });
}
