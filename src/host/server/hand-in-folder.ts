import { randomBytes } from 'node:crypto';
import { mkdir, readdir, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { CaseState } from '../../core/case/fold-case.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { JOBS_EN } from '../../core/text/jobs-en.ts';
import { makeJob } from '../jobs/desk-job-runner.ts';
import { linkOrCopy } from '../jobs/lay-out-scan.ts';
import type { ImportJobAsk } from '../jobs/desk-job-types.ts';
import type { StoredJob } from '../storage/store-types.ts';
import type { Services } from './handler-types.ts';
import { uploadFolder } from './upload-door.ts';

/**
 * Hands a folder of this machine in for a case, as the page hands in files that were dropped on it: linked into the
 * import's upload folder, then received.
 * Fails     as the store
 */
export async function handInFolder(services: Services, ask: { readonly caseId: string; readonly by: string; readonly folder: string; readonly acceptIdentityBecause: string | null }): Promise<Result<StoredJob, string>> {
  const files: { path: string; bytes: number }[] = [];
  for (const path of (await readdir(ask.folder, { recursive: true })).sort()) {
    const info = await stat(join(ask.folder, path));
    if (info.isFile()) files.push({ path: path.replaceAll('\\', '/'), bytes: info.size });
  }
  const jobAsk: ImportJobAsk = { files: files.length, bytes: files.reduce((sum, { bytes }) => sum + bytes, 0), acceptIdentityBecause: ask.acceptIdentityBecause };
  const job = makeJob('import', ask.caseId, ask.by, jobAsk, 'receiving');
  const stored = await services.store.putJob(job);
  if (!stored.ok) return stored;
  const place = uploadFolder(services.dataFolder, job.jobId);
  await mkdir(place, { recursive: true });
  for (const { path, bytes } of files) {
    const name = randomBytes(16).toString('hex');
    await linkOrCopy(join(ask.folder, path), join(place, name));
    await writeFile(join(place, `${name}.json`), JSON.stringify({ id: `${job.jobId}/${name}`, size: bytes, offset: bytes, metadata: { importId: job.jobId, path } }));
  }
  return services.jobs.start(job);
}

/**
 * Waits until a case has a plan of its scan, or will not get one. `tell` hears of each step.
 * Fails     as the job that ended without a plan
 */
export async function waitForPlan({ store, feed }: Services, caseId: string, tell: (step: string, ratio: number) => void): Promise<Result<CaseState, string>> {
  let wake: () => void = () => {};
  let failure: StoredJob['failure'] = null;
  const unfollow = feed.follow(caseId, (news) => {
    if (news.kind === 'job') tell(news.job.progress.step, news.job.progress.ratio);
    if (news.kind === 'job' && (news.job.state === 'failed' || news.job.state === 'cancelled')) failure = news.job.failure ?? { code: 'job-stopped', text: JOBS_EN.stopped, next: JOBS_EN.stoppedNext };
    wake();
  });
  try {
    for (;;) {
      const heard = new Promise<void>((resolve) => (wake = resolve));
      const state = await store.readState(caseId);
      if (!state.ok) return state;
      if (state.value.plan !== null && !state.value.plan.isStale) return succeed(state.value);
      const ended = failure as StoredJob['failure'];
      if (ended !== null) return fail(ended.code, ended.text, ended.next);
      await heard;
    }
  } finally {
    unfollow();
  }
}
