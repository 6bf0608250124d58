import type { RecordingLine } from '../../../core/case/fold-result.ts';
import { fail, succeed, type Result } from '../../../core/result.ts';
import { formatText } from '../../../core/text/catalogue.ts';
import { RECORDINGS_EN } from '../../../core/text/recordings-en.ts';
import { RUNS_EN } from '../../../core/text/runs-en.ts';
import { SERVER_EN } from '../../../core/text/server-en.ts';
import { MOST_LIVE_BYTES, MOST_RECORDING_BYTES, type TraceAnswer } from '../../../formats/api/result-schemas.ts';
import { BECAUSE_HEADER } from '../../../formats/api/run-schemas.ts';
import { parseChannelMap } from '../../../formats/waveform/parse-channel-map.ts';
import { readStamp } from '../../cli/clock.ts';
import type { TraceAsk } from '../../jobs/pressure-jobs.ts';
import type { ThreadDesk } from '../../jobs/thread-desk.ts';
import { NOBODY } from '../../recordings/read-handed-recording.ts';
import type { CaseStore } from '../../storage/store-types.ts';
import type { Door } from '../door.ts';
import type { Handlers } from '../handler-types.ts';
import { joinRecording, readPressureInputs, showRecording } from '../join-recording.ts';
import { readReason } from '../judge-file-identity.ts';
import type { LiveDesk, LivePart } from '../live-desk.ts';
import { readBytes } from '../read-body.ts';
import { takeRunFile } from '../take-run-file.ts';

export type RecordingRoute = 'addRecording' | 'readRecording' | 'readTrace' | 'openLive' | 'appendLive' | 'endLive';

/** Recordings of pressures: handed in whole, shown, and taken as they come. */
export function makeRecordingHandlers(door: Door, thread: ThreadDesk, live: LiveDesk): Pick<Handlers, RecordingRoute> {
  return {
    async addRecording({ params: { caseId }, query, caller, request }, services) {
      const because = readReason(request.headers.get(BECAUSE_HEADER));
      if (because === undefined) return fail('request-invalid', RUNS_EN.reasonUnread, RUNS_EN.reasonUnreadNext);
      const state = await services.store.readState(caseId);
      if (!state.ok) return state;
      const file = await takeRunFile(request, services.dataFolder, MOST_RECORDING_BYTES);
      if (!file.ok) return file;
      return joinRecording(services, thread, { caseId, by: caller!.personId, path: file.value, moment: query.moment, takenAt: query.takenAt, channels: query.channels ?? null, because, nowMs: door.readNow() });
    },

    async readRecording({ params: { caseId, recordingId } }, { store }) {
      const found = await findRecording(store, caseId, recordingId);
      return found.ok ? showRecording(store, found.value) : found;
    },

    async readTrace({ params: { caseId, recordingId }, query }, { store, blobs }) {
      const found = await findRecording(store, caseId, recordingId);
      if (!found.ok) return found;
      const { blobSha256, channels } = found.value;
      const ask: TraceAsk = { path: blobs.pathOf(blobSha256), channels, fromS: query.fromS, toS: query.toS ?? null, columns: query.columns };
      return thread.run<Result<TraceAnswer, string>>('trace-recording', ask);
    },

    async openLive({ params: { caseId }, body: { channels }, caller }, { store }) {
      const state = await store.readState(caseId);
      if (!state.ok) return state;
      const choices = channels === null ? null : parseChannelMap(channels);
      if (choices && !choices.ok) return choices;
      const opened = await live.open({ caseId, by: caller!.personId, choices: choices?.value ?? [], channels, inputs: readPressureInputs(state.value) });
      return opened.ok ? succeed(showLive(opened.value)) : opened;
    },

    async appendLive({ params: { caseId, liveId }, request }) {
      if (!/^text\/csv\s*(;|$)/i.test(request.headers.get('content-type') ?? '')) return fail('not-csv', RECORDINGS_EN.liveNotUtf8, RECORDINGS_EN.liveNotUtf8Next);
      if (Number(request.headers.get('content-length') ?? 0) > MOST_LIVE_BYTES) return failLarge();
      const bytes = await readBytes(request, MOST_LIVE_BYTES);
      if (bytes === 'too-large') return failLarge();
      if (bytes === 'slow') return fail('body-slow', SERVER_EN.bodySlow, SERVER_EN.bodySlowNext);
      if (bytes === 'cut') return fail('live-cut', RECORDINGS_EN.livePart, RECORDINGS_EN.livePartNext);
      const stamp = readStamp();
      if (!stamp.ok) return stamp;
      const appended = await live.append(caseId, liveId, bytes, stamp.value);
      return appended.ok ? succeed(showLive(appended.value)) : appended;
    },

    async endLive({ params: { caseId, liveId }, body: { keep }, caller }, services) {
      if (keep === null) return live.end(caseId, liveId);
      const copied = await live.copy(caseId, liveId);
      if (!copied.ok) return copied;
      const { path, channels } = copied.value;
      const joined = await joinRecording(services, thread, { caseId, by: caller!.personId, path, moment: keep.moment, takenAt: keep.takenAt, channels, because: RECORDINGS_EN.liveBecause, identity: NOBODY, nowMs: door.readNow() });
      // What was not kept is still there to be kept: nobody can record it a second time.
      if (joined.ok) await live.end(caseId, liveId);
      return joined;
    },
  };
}

const failLarge = () => fail('body-too-large', formatText(SERVER_EN, 'bodyTooLarge', { bytes: MOST_LIVE_BYTES }), SERVER_EN.bodyTooLargeNext, { mostBytes: MOST_LIVE_BYTES });

const showLive = ({ liveId, beats, findings }: LivePart) => ({ liveId, beats: [...beats], findings: findings.map(({ code, text, next }) => ({ code, text, next })) });

async function findRecording(store: CaseStore, caseId: string, recordingId: string): Promise<Result<RecordingLine, string>> {
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const recording = state.value.result.recordings.find((r) => r.recordingId === recordingId);
  return recording ? succeed(recording) : fail('recording-unknown', RECORDINGS_EN.unknown, RECORDINGS_EN.unknownNext);
}
