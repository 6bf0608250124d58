import { statfs } from 'node:fs/promises';
import { fail, succeed, type Result } from '../../../core/result.ts';
import { formatText } from '../../../core/text/catalogue.ts';
import { JOBS_EN } from '../../../core/text/jobs-en.ts';
import { STORE_EN } from '../../../core/text/store-en.ts';
import { LIVE_STATES, makeJob, makePlanJob } from '../../jobs/desk-job-runner.ts';
import type { ImportJobAsk } from '../../jobs/desk-job-types.ts';
import type { CaseStore, StoredJob } from '../../storage/store-types.ts';
import type { Handlers } from '../handler-types.ts';
import { showJob } from '../show-job.ts';
import { listUploads } from '../upload-door.ts';

export type ImportRoute = 'startImport' | 'finishImport' | 'readJob' | 'cancelJob' | 'retryJob';

/** Scans are handed in, and jobs followed, stopped and tried again. */
export const IMPORT_HANDLERS: Pick<Handlers, ImportRoute> = {
  async startImport({ params: { caseId }, body, caller }, { store, jobs, feed, dataFolder }) {
    const state = await store.readState(caseId);
    if (!state.ok) return state;
    const live = await store.listJobs({ caseId, states: [...LIVE_STATES] });
    if (!live.ok) return live;
    for (const other of live.value.filter(({ kind }) => kind === 'import')) {
      // A person who begins again gives up what they had begun; that of another person is not touched.
      if (other.state !== 'receiving' || other.by !== caller!.personId) return fail('import-running', JOBS_EN.importRunning, JOBS_EN.importRunningNext);
      const ended = await jobs.cancel(other.jobId);
      if (!ended.ok) return ended;
    }
    const room = await readRoom(dataFolder);
    if (room !== null && room < body.bytes) return fail('store-full', STORE_EN.full, STORE_EN.fullNext, { bytes: body.bytes, room });
    const ask: ImportJobAsk = { files: body.files, bytes: body.bytes, acceptIdentityBecause: null };
    const stored = await store.putJob(makeJob('import', caseId, caller!.personId, ask, 'receiving'));
    if (!stored.ok) return stored;
    feed.publish(caseId, { kind: 'job', job: stored.value });
    return succeed(showJob(stored.value));
  },

  async finishImport({ params: { jobId }, body }, { store, jobs, dataFolder }) {
    const found = await findJob(store, jobId);
    if (!found.ok) return found;
    const job = found.value;
    if (job.kind !== 'import' || job.state !== 'receiving') return failNotReady(job);
    const ask = job.ask as ImportJobAsk;
    const whole = (await listUploads(dataFolder, jobId)).filter(({ bytes, wantedBytes }) => bytes === wantedBytes).length;
    if (whole !== ask.files) {
      return fail('upload-incomplete', formatText(JOBS_EN, 'uploadMissing', { missing: ask.files - whole, files: ask.files }), JOBS_EN.uploadMissingNext, { missing: ask.files - whole });
    }
    return show(await jobs.start({ ...job, ask: { ...ask, acceptIdentityBecause: body.acceptIdentityBecause } }));
  },

  async readJob({ params: { jobId } }, { store }) {
    return show(await findJob(store, jobId));
  },

  async cancelJob({ params: { jobId } }, { store, jobs }) {
    const found = await findJob(store, jobId);
    return found.ok ? show(await jobs.cancel(jobId)) : found;
  },

  async retryJob({ params: { jobId }, body }, { store, jobs, dataFolder }) {
    const found = await findJob(store, jobId);
    if (!found.ok) return found;
    const job = found.value;
    if (job.state !== 'failed' && job.state !== 'cancelled') return failNotReady(job);
    if (job.kind === 'import') {
      const ask = job.ask as ImportJobAsk;
      if ((await listUploads(dataFolder, jobId)).length !== ask.files) return fail('upload-gone', JOBS_EN.uploadGone, JOBS_EN.uploadGoneNext);
      return show(await jobs.start({ ...job, answer: null, ask: { ...ask, acceptIdentityBecause: body.acceptIdentityBecause ?? ask.acceptIdentityBecause } }));
    }
    if (job.kind === 'block') return show(await jobs.start({ ...job, answer: null }));
    const state = await store.readState(job.caseId);
    return state.ok ? show(await jobs.start({ ...job, answer: null, ask: makePlanJob(state.value, job.by).ask })) : state;
  },
};

const show = (job: Result<StoredJob, string>) => (job.ok ? succeed(showJob(job.value)) : job);
const failNotReady = ({ state }: StoredJob) => fail('job-not-ready' as const, formatText(JOBS_EN, 'jobNotReady', { state }), JOBS_EN.jobNotReadyNext, { state });

async function findJob(store: CaseStore, jobId: string): Promise<Result<StoredJob, string>> {
  const found = await store.findJob(jobId);
  if (!found.ok) return found;
  return found.value === null ? fail('job-unknown', JOBS_EN.jobUnknown, JOBS_EN.jobUnknownNext) : succeed(found.value);
}

/** Bytes that are free for us; null where the system does not say. */
async function readRoom(folder: string): Promise<number | null> {
  const about = await statfs(folder).catch(() => null);
  return about ? about.bavail * about.bsize : null;
}
