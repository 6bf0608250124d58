import { rm } from 'node:fs/promises';
import { fail } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { JOBS_EN } from '../../core/text/jobs-en.ts';
import { listUploads, uploadFolder } from '../server/upload-door.ts';
import type { StoredJob } from '../storage/store-types.ts';
import { addCaseEvent } from './add-case-event.ts';
import { describeIdentity } from './describe-identity.ts';
import { readEntered, type ImportJobAnswer, type ImportJobAsk, type JobContext, type JobEnd } from './desk-job-types.ts';

/**
 * From uploaded files to a scan of the case: keep, look, compare the patient, join. The CT joins by itself only when it
 * names the entered patient; otherwise a person says why.
 * Fails     upload-incomplete, upload-gone, identity-differs, identity-not-comparable, and as scanPath and the store
 */
export async function runImportJob(job: StoredJob, context: JobContext): Promise<JobEnd> {
  const { services: { store, dataFolder } } = context;
  const ask = job.ask as ImportJobAsk;
  const state = await store.readState(job.caseId);
  if (!state.ok) return state;
  const scanId = job.jobId;
  const folder = uploadFolder(dataFolder, job.jobId);
  const done: ImportJobAnswer | null = job.answer as ImportJobAnswer | null;
  // The server ended between joining and saying so: the scan is there.
  if (done && state.value.scan?.scanId === scanId) {
    await rm(folder, { recursive: true, force: true });
    return { ok: true, answer: done, plansNext: true };
  }
  const files = await listUploads(dataFolder, job.jobId);
  const whole = files.filter(({ bytes, wantedBytes }) => bytes === wantedBytes);
  if (whole.length !== ask.files) {
    return fail('upload-incomplete', formatText(JOBS_EN, 'uploadMissing', { missing: ask.files - whole.length, files: ask.files }), JOBS_EN.uploadMissingNext, { missing: ask.files - whole.length });
  }
  const looked = await context.run({ kind: 'import', dataFolder, workFolder: context.workFolder, scanId, files: whole, entered: readEntered(state.value) });
  if (!looked.ok) return looked;
  if (looked.value.kind !== 'import') throw new Error('The process answered another question.');
  const { manifest, identity, bytes } = looked.value;
  if (identity.verdict !== 'same' && ask.acceptIdentityBecause === null) return { ok: false, failure: describeIdentity(identity) };
  context.tell(JOBS_EN.joining, 1);
  const kept = await store.putDocument('manifest', JSON.stringify(manifest));
  if (!kept.ok) return kept;
  const answer: ImportJobAnswer = { scanId, manifestSha256: kept.value.sha256 };
  const noted = await context.keep({ answer });
  if (!noted.ok) return noted;
  if (context.isStopped()) return fail('job-stopped', JOBS_EN.stopped, JOBS_EN.stoppedNext);
  const joined = await addCaseEvent(context.services, job.caseId, job.by, {
    kind: 'scan.joined',
    data: { ...answer, files: manifest.files.length, bytes, identity: { ...identity, acceptedBecause: identity.verdict === 'same' ? null : ask.acceptIdentityBecause } },
  });
  if (!joined.ok) return joined;
  await rm(folder, { recursive: true, force: true });
  return { ok: true, answer, plansNext: manifest.proposed !== null };
}
