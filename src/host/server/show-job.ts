import type { z } from 'zod';
import type { JOB } from '../../formats/api/case-schemas.ts';
import type { StoredJob } from '../storage/store-types.ts';

/** A job as pages see it: without who asked and without its inner question and answer. */
export function showJob({ jobId, caseId, kind, state, progress, failure, createdAt, changedAt }: StoredJob): z.input<typeof JOB> {
  return { jobId, caseId, kind, state, progress: { step: progress.step, ratio: progress.ratio }, failure: failure && { code: failure.code, text: failure.text, next: failure.next }, createdAt, changedAt };
}
