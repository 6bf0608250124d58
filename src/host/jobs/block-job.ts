import { fail } from '../../core/result.ts';
import { JOBS_EN } from '../../core/text/jobs-en.ts';
import type { StoredJob } from '../storage/store-types.ts';
import type { BlockJobAnswer, BlockJobAsk, JobContext, JobEnd } from './desk-job-types.ts';
import { readManifest } from './plan-job.ts';

/** Cuts one volume of a case's scan out for looking at. Fails: scan-missing, and as readBlock. */
export async function runBlockJob(job: StoredJob, context: JobContext): Promise<JobEnd> {
  const { store, dataFolder } = context.services;
  const { scanId, volumeKey, centreLps } = job.ask as BlockJobAsk;
  const state = await store.readState(job.caseId);
  if (!state.ok) return state;
  if (state.value.scan?.scanId !== scanId) return fail('scan-missing', JOBS_EN.noScan, JOBS_EN.noScanNext);
  const manifest = await readManifest(store, state.value.scan.manifestSha256);
  if (!manifest.ok) return manifest;
  const read = await context.run({ kind: 'block', dataFolder, workFolder: context.workFolder, manifest: manifest.value, volumeKey, centreLps });
  if (!read.ok) return read;
  if (read.value.kind !== 'block') throw new Error('The process answered another question.');
  return { ok: true, answer: { ...read.value.block, scanId } satisfies BlockJobAnswer };
}
