import { createHash } from 'node:crypto';
import { rm } from 'node:fs/promises';
import { createReadStream } from 'node:fs';
import type { PatientIdentity } from '../../core/case/compare-identity.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { RecordingMoment } from '../../core/case/result-events.ts';
import type { PressureAnswer, PressureInputs } from '../../core/haemodynamics/pressure-types.ts';
import { succeed, type Result } from '../../core/result.ts';
import type { RecordingAnswer } from '../../formats/api/result-schemas.ts';
import { readStamp } from '../cli/clock.ts';
import { addCaseEvent } from '../jobs/add-case-event.ts';
import type { ReadPressureAnswer, ReadPressureAsk } from '../jobs/pressure-jobs.ts';
import type { ThreadDesk } from '../jobs/thread-desk.ts';
import { checkTakenAt } from './check-taken-at.ts';
import type { Services } from './handler-types.ts';
import { judgeFileIdentity } from './judge-file-identity.ts';

export interface JoinRecordingAsk {
  readonly caseId: string;
  readonly by: string;
  /** Beside the store; it is adopted or removed. */
  readonly path: string;
  readonly moment: RecordingMoment;
  readonly takenAt: string;
  readonly channels: string | null;
  readonly because: string | null;
  /** Whom it is of, where the file does not say; null: as the file says. */
  readonly identity?: PatientIdentity | undefined;
  readonly nowMs: number;
}

/**
 * A file that lies beside the store becomes a recording of the case: read and measured in a thread, its patient compared with
 * the entered one, kept by its content, its answer stored, joined. The same file again, of the same moment and with the same
 * channels, is the same recording; one that was withdrawn joins anew. Whatever is refused is removed.
 * Fails     taken-in-future, file-identity-differs, file-identity-open, and as readHandedRecording and the store
 */
export async function joinRecording(services: Services, thread: ThreadDesk, ask: JoinRecordingAsk): Promise<Result<RecordingAnswer, string>> {
  const { store, blobs } = services;
  const { caseId, by, path, moment, takenAt, channels } = ask;
  try {
    const state = await store.readState(caseId);
    if (!state.ok) return state;
    const taken = checkTakenAt(takenAt, ask.nowMs);
    if (!taken.ok) return taken;
    const stamp = readStamp();
    if (!stamp.ok) return stamp;
    const read = await thread.run<Result<ReadPressureAnswer, string>>('read-pressure', { path, channels, inputs: readPressureInputs(state.value), stamp: stamp.value } satisfies ReadPressureAsk);
    if (!read.ok) return read;
    const { answer, refusal, format, durationS } = read.value;
    const identity = judgeFileIdentity(state.value, ask.identity ?? read.value.identity, ask.because);
    if (!identity.ok) return identity;
    const recordingId = await nameRecording(path, moment, channels);
    const known = state.value.result.recordings.find((r) => r.recordingId === recordingId);
    if (known?.withdrawn === null) return showRecording(services.store, known);
    const kept = await blobs.adopt(path);
    if (!kept.ok) return kept;
    const stored = answer === null ? null : await store.putDocument('pressure', JSON.stringify(answer));
    if (stored && !stored.ok) return stored;
    const answerSha256 = stored?.value.sha256 ?? null;
    const joined = await addCaseEvent(services, caseId, by, {
      kind: 'recording.joined', data: { recordingId, moment, blobSha256: kept.value.sha256, answerSha256, refusal, format, channels, takenAt, durationS, identity: identity.value },
    });
    return joined.ok ? succeed({ recordingId, answerSha256, answer, refusal }) : joined;
  } finally {
    await rm(path, { force: true }).catch(() => {});
  }
}

/** What was measured in it, as it was stored. */
export async function showRecording(store: Services['store'], { recordingId, answerSha256, refusal }: CaseState['result']['recordings'][number]): Promise<Result<RecordingAnswer, string>> {
  if (answerSha256 === null) return succeed({ recordingId, answerSha256, answer: null, refusal });
  const document = await store.readDocument(answerSha256);
  return document.ok ? succeed({ recordingId, answerSha256, answer: JSON.parse(document.value.text) as PressureAnswer, refusal }) : document;
}

/** What persons said that a measurement needs. */
export function readPressureInputs({ result }: Pick<CaseState, 'result'>): PressureInputs {
  const by = result.entries['breathing.by']?.value;
  const output = result.entries['circulation.outputLPerMin']?.value;
  return { breathing: by === 'spontaneous' || by === 'ventilated' ? by : undefined, cardiacOutputLPerMin: typeof output === 'number' ? output : undefined };
}

async function nameRecording(path: string, moment: RecordingMoment, channels: string | null): Promise<string> {
  const hash = createHash('sha256').update(`${moment}\n${channels ?? ''}\n`);
  for await (const part of createReadStream(path)) hash.update(part as Buffer);
  return `recording-${hash.digest('hex').slice(0, 32)}`;
}
