import { rm } from 'node:fs/promises';
import type { EcgMoment } from '../../core/rhythm/rhythm-types.ts';
import { succeed, type Result } from '../../core/result.ts';
import { readStamp } from '../cli/clock.ts';
import { addCaseEvent } from '../jobs/add-case-event.ts';
import type { ReadEcgAnswer, ReadEcgAsk } from '../jobs/ecg-job.ts';
import type { ThreadDesk } from '../jobs/thread-desk.ts';
import { checkTakenAt } from './check-taken-at.ts';
import type { Services } from './handler-types.ts';
import { judgeFileIdentity } from './judge-file-identity.ts';
import type { EcgDocument } from './load-rhythm-case.ts';

export interface JoinEcgAsk {
  readonly caseId: string;
  readonly by: string;
  /** Beside the store; it is adopted or removed. */
  readonly path: string;
  readonly moment: EcgMoment;
  readonly takenAt: string;
  readonly channels: string | null;
  readonly because: string | null;
  readonly nowMs: number;
}

/**
 * A file that lies beside the store becomes the ECG record of a moment: read and measured in a thread, its patient compared with
 * the entered one, kept by its content, its reading stored, joined. The same file again, of the same moment and time, changes
 * nothing. Whatever is refused is removed.
 * Fails     taken-in-future, file-identity-differs, file-identity-open, and as readEcg and the store
 */
export async function joinEcgRecord(services: Services, thread: ThreadDesk, ask: JoinEcgAsk): Promise<Result<null, string>> {
  const { store, blobs } = services;
  const { caseId, by, path, moment, takenAt, channels } = ask;
  try {
    const state = await store.readState(caseId);
    if (!state.ok) return state;
    const taken = checkTakenAt(takenAt, ask.nowMs);
    if (!taken.ok) return taken;
    const stamp = readStamp();
    if (!stamp.ok) return stamp;
    const read = await thread.run<Result<ReadEcgAnswer, string>>('read-ecg', { path, channels, stamp: stamp.value } satisfies ReadEcgAsk);
    if (!read.ok) return read;
    const identity = judgeFileIdentity(state.value, read.value.identity, ask.because);
    if (!identity.ok) return identity;
    const kept = await blobs.adopt(path);
    if (!kept.ok) return kept;
    const known = state.value.result.ecgs[moment]?.joined ?? null;
    if (known && known.blobSha256 === kept.value.sha256 && known.takenAt === takenAt && channels === null) return succeed(null);
    const document: EcgDocument = { format: 'trinadir.ecg/1', reading: read.value.reading };
    const stored = await store.putDocument('ecg', JSON.stringify(document));
    if (!stored.ok) return stored;
    const joined = await addCaseEvent(services, caseId, by, {
      kind: 'ecg.joined', data: { moment, blobSha256: kept.value.sha256, readingSha256: stored.value.sha256, takenAt, identity: identity.value },
    });
    return joined.ok ? succeed(null) : joined;
  } finally {
    await rm(path, { force: true }).catch(() => {});
  }
}
