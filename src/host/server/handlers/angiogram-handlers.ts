import { randomBytes } from 'node:crypto';
import type { z } from 'zod';
import type { ContrastAnswer, ContrastAsk } from '../../../core/angiogram/contrast-types.ts';
import { fail, succeed, type Result } from '../../../core/result.ts';
import { RECORDINGS_EN } from '../../../core/text/recordings-en.ts';
import { RUNS_EN } from '../../../core/text/runs-en.ts';
import type { ANGIOGRAM_ASK } from '../../../formats/api/result-schemas.ts';
import { readStamp } from '../../cli/clock.ts';
import { addCaseEvent } from '../../jobs/add-case-event.ts';
import type { MeasureRunAsk } from '../../jobs/contrast-job.ts';
import type { ThreadDesk } from '../../jobs/thread-desk.ts';
import { checkTakenAt } from '../check-taken-at.ts';
import type { Door } from '../door.ts';
import type { Handlers } from '../handler-types.ts';
import { failGone } from '../run-file.ts';

export type AngiogramRoute = 'measureAngiogram' | 'readAngiogram';

/** Densities of the case's runs: measured in a thread, kept, and shown as they were kept. */
export function makeAngiogramHandlers(door: Pick<Door, 'readNow'>, thread: ThreadDesk): Pick<Handlers, AngiogramRoute> {
  return {
    async measureAngiogram({ params: { caseId }, body, caller }, services) {
      const { store, blobs } = services;
      const taken = checkTakenAt(body.takenAt, door.readNow());
      if (!taken.ok) return taken;
      const state = await store.readState(caseId);
      if (!state.ok) return state;
      const run = state.value.runs.find((r) => r.runId === body.runId);
      if (!run) return fail('run-unknown', RUNS_EN.unknown, RUNS_EN.unknownNext);
      if (!(await blobs.has(run.blobSha256))) return failGone();
      const stamp = readStamp();
      if (!stamp.ok) return stamp;
      const measured = await thread.run<Result<ContrastAnswer, string>>('measure-run', { path: blobs.pathOf(run.blobSha256), ask: readContrastAsk(body), stamp: stamp.value } satisfies MeasureRunAsk);
      if (!measured.ok) return measured;
      const kept = await store.putDocument('contrast', JSON.stringify(measured.value));
      if (!kept.ok) return kept;
      const answerSha256 = kept.value.sha256;
      const angiogramId = `angiogram-${randomBytes(12).toString('hex')}`;
      const { takenAt, heartRatePerMin, loadingNote } = body;
      const added = await addCaseEvent(services, caseId, caller!.personId, [
        { kind: 'angiogram.measured', data: { angiogramId, runId: run.runId, answerSha256 } },
        { kind: 'witness.noted', data: { of: angiogramId, takenAt, heartRatePerMin, loadingNote } },
      ]);
      return added.ok ? succeed({ angiogramId, answerSha256, answer: measured.value }) : added;
    },

    async readAngiogram({ params: { caseId, angiogramId } }, { store }) {
      const state = await store.readState(caseId);
      if (!state.ok) return state;
      const found = state.value.result.angiograms.find((a) => a.angiogramId === angiogramId);
      if (!found) return fail('angiogram-unknown', RECORDINGS_EN.angiogramUnknown, RECORDINGS_EN.angiogramUnknownNext);
      const document = await store.readDocument(found.answerSha256);
      return document.ok ? succeed({ angiogramId, answerSha256: found.answerSha256, answer: JSON.parse(document.value.text) as unknown }) : document;
    },
  };
}

/** What was asked over HTTP, as the measurement takes it: what nobody said is left out. */
function readContrastAsk({ regions, frames, ratePerMin, said }: z.output<typeof ANGIOGRAM_ASK>): ContrastAsk {
  const given = <T>(value: T | null): T | undefined => value ?? undefined;
  return {
    regions: regions ? { aorta: regions.aorta, outflow: regions.outflow, background: regions.background ?? null } : undefined,
    frames: given(frames), ratePerMin: given(ratePerMin), breathHeld: given(said.isBreathHeld), isPaced: given(said.isPaced), tableMoved: given(said.isTableMoved), isOverlapped: given(said.hasOverlap),
  };
}
