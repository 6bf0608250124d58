import { mkdir, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { fail, succeed, type Result } from '../../core/result.ts';
import { PRINTS_EN } from '../../core/text/prints-en.ts';
import { claimOutFolder } from '../cli/write-whole.ts';
import type { BlobStore, CaseStore } from '../storage/store-types.ts';
import type { PlanJobAnswer } from './desk-job-types.ts';

/**
 * Writes the newest plan of a case into a folder: the same files as `trinadir plan` writes.
 * Fails     case-without-plan, and as the stores and claimOutFolder
 */
export async function exportPlan({ store, blobs }: { readonly store: CaseStore; readonly blobs: BlobStore }, caseId: string, folder: string, options: { readonly replace: boolean }): Promise<Result<readonly string[], string>> {
  const none = fail('case-without-plan', PRINTS_EN.withoutPlan, PRINTS_EN.withoutPlanNext);
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const jobs = await store.listJobs({ caseId, states: ['done', 'running'] });
  if (!jobs.ok) return jobs;
  const made = jobs.value.map((job) => (job.kind === 'plan' ? (job.answer as PlanJobAnswer | null) : null)).find((answer) => answer !== null && answer.planSha256 === state.value.plan?.planSha256);
  if (!made) return none;
  const plan = await store.readDocument(made.planSha256);
  if (!plan.ok) return plan;
  const place = await claimOutFolder(folder, options);
  if (!place.ok) return place;
  const write = async (name: string, content: string | Uint8Array): Promise<void> => {
    await mkdir(dirname(join(place.value.workDir, name)), { recursive: true });
    await writeFile(join(place.value.workDir, name), content);
  };
  await write('plan.json', plan.value.text);
  for (const [name, sha256] of Object.entries(made.files)) {
    const content = await blobs.read(sha256);
    if (!content.ok) {
      await place.value.abandon();
      return content;
    }
    await write(name, content.value);
  }
  const published = await place.value.publish();
  return published.ok ? succeed(['plan.json', ...Object.keys(made.files)].sort()) : published;
}
