import { copyFile, mkdir, rm } from 'node:fs/promises';
import { randomBytes } from 'node:crypto';
import { join } from 'node:path';
import type { IdentityCheck } from '../../core/case/identity-types.ts';
import { compareIdentity } from '../../core/case/compare-identity.ts';
import { fail, succeed, type Failure, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RUNS_EN } from '../../core/text/runs-en.ts';
import type { RunAnswer } from '../../formats/api/run-schemas.ts';
import { addCaseEvent } from '../jobs/add-case-event.ts';
import { listIdentityFields } from '../jobs/describe-identity.ts';
import { readEntered } from '../jobs/desk-job-types.ts';
import type { Services } from './handler-types.ts';
import { describeRun, readRunHead } from './run-file.ts';

/**
 * A file that lies beside the store becomes a run of the case: read, its patient compared with the entered one, kept by
 * its content, joined. The same file again is the same run. Whatever is refused is removed, so that nothing of another
 * patient stays.
 * Fails     run-identity-differs and run-identity-open (unless `because` says why), and as readRunHead and the store
 */
export async function joinRun(services: Services, { caseId, by, path, because }: { readonly caseId: string; readonly by: string; readonly path: string; readonly because: string | null }): Promise<Result<RunAnswer, string>> {
  const { store, blobs } = services;
  try {
    const state = await store.readState(caseId);
    if (!state.ok) return state;
    const head = await readRunHead(path);
    if (!head.ok) return head;
    const { run } = head.value;
    const identity = compareIdentity(readEntered(state.value), head.value.identity);
    if (identity.verdict !== 'same' && because === null) return { ok: false, failure: describeOther(identity) };
    const kept = await blobs.adopt(path);
    if (!kept.ok) return kept;
    const { sha256 } = kept.value;
    const runId = `run-${sha256.slice(0, 32)}`;
    const now = await store.readState(caseId);
    if (!now.ok) return now;
    if (!now.value.runs.some((r) => r.runId === runId)) {
      const joined = await addCaseEvent(services, caseId, by, {
        kind: 'run.joined',
        data: {
          runId, blobSha256: sha256, frames: run.frameCount, rows: run.rows, columns: run.columns, view: run.views[0] ?? null,
          identity: { ...identity, acceptedBecause: identity.verdict === 'same' ? null : because },
        },
      });
      if (!joined.ok) return joined;
    }
    return succeed(describeRun(runId, run));
  } finally {
    await rm(path, { force: true }).catch(() => {});
  }
}

/** A run of this machine, as a page hands one in. Its own file stays where it is. */
export async function handInRun(services: Services, ask: { readonly caseId: string; readonly by: string; readonly file: string; readonly because: string | null }): Promise<Result<RunAnswer, string>> {
  const folder = join(services.dataFolder, 'pixels', 'incoming');
  const path = join(folder, `run-${randomBytes(12).toString('hex')}`);
  await mkdir(folder, { recursive: true });
  await copyFile(ask.file, path);
  return joinRun(services, { caseId: ask.caseId, by: ask.by, path, because: ask.because });
}

/** Which fields do not agree, never what stands in them. */
function describeOther({ verdict, fields }: Omit<IdentityCheck, 'acceptedBecause'>): Failure<'run-identity-differs' | 'run-identity-open'> {
  const named = listIdentityFields(fields, verdict === 'differs' ? 'differs' : 'missing');
  if (verdict === 'differs') return fail('run-identity-differs', formatText(RUNS_EN, 'identityDiffers', { fields: named }), RUNS_EN.identityDiffersNext, { fields: named }).failure;
  return fail('run-identity-open', formatText(RUNS_EN, 'identityOpen', { fields: named }), RUNS_EN.identityOpenNext, { fields: named }).failure;
}
