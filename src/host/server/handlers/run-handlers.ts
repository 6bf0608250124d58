import { rm } from 'node:fs/promises';
import type { IdentityCheck } from '../../../core/case/case-events.ts';
import { compareIdentity } from '../../../core/case/compare-identity.ts';
import type { CaseState } from '../../../core/case/fold-case.ts';
import { fail, succeed, type Failure, type Result } from '../../../core/result.ts';
import { formatText } from '../../../core/text/catalogue.ts';
import { JOBS_EN } from '../../../core/text/jobs-en.ts';
import { RUNS_EN } from '../../../core/text/runs-en.ts';
import { MOST_RUN_BYTES } from '../../../formats/api/run-schemas.ts';
import type { XaRun } from '../../../formats/dicom/read-xa.ts';
import { addCaseEvent } from '../../jobs/add-case-event.ts';
import { readEntered } from '../../jobs/desk-job-types.ts';
import type { BlobStore, CaseStore } from '../../storage/store-types.ts';
import type { Handlers } from '../handler-types.ts';
import { describeRun, failGone, readRunHead, readRunPicture } from '../run-file.ts';
import { takeRunFile } from '../take-run-file.ts';

export type RunRoute = 'addRun' | 'readRun' | 'readRunFrame';
const FIELDS = { name: JOBS_EN.fieldName, birthDate: JOBS_EN.fieldBirthDate, sex: JOBS_EN.fieldSex, patientId: JOBS_EN.fieldPatientId } as const;
/** A run never changes under its id; browsers keep it for this person alone. */
const FOR_EVER = { 'Cache-Control': 'private, max-age=31536000, immutable' };
/** Headers of runs that pages are looking at: a frame is asked for many times a second. */
const MOST_HEADS = 16;

/** Angiographic runs: handed in, described, and shown frame by frame. */
export function makeRunHandlers(): Pick<Handlers, RunRoute> {
  const heads = new Map<string, XaRun>();
  const findHead = async (blobs: BlobStore, sha256: string): Promise<Result<XaRun, string>> => {
    const known = heads.get(sha256);
    if (known) return succeed(known);
    const head = (await blobs.has(sha256)) ? await readRunHead(blobs.pathOf(sha256)) : failGone();
    if (!head.ok) return head;
    if (heads.size >= MOST_HEADS) heads.clear();
    heads.set(sha256, head.value.run);
    return succeed(head.value.run);
  };
  return {
    async addRun({ params: { caseId }, query: { because }, caller, request }, services) {
      const { store, blobs, dataFolder } = services;
      const state = await store.readState(caseId);
      if (!state.ok) return state;
      const file = await takeRunFile(request, dataFolder, MOST_RUN_BYTES);
      if (!file.ok) return file;
      try {
        const head = await readRunHead(file.value);
        if (!head.ok) return head;
        const identity = compareIdentity(readEntered(state.value), head.value.identity);
        if (identity.verdict !== 'same' && because === undefined) return { ok: false, failure: describeOther(identity) };
        const kept = await blobs.adopt(file.value);
        if (!kept.ok) return kept;
        const { run } = head.value;
        const { sha256 } = kept.value;
        const runId = `run-${sha256.slice(0, 32)}`;
        const now = await store.readState(caseId);
        if (!now.ok) return now;
        // The same file again is the same run.
        if (!now.value.runs.some((r) => r.runId === runId)) {
          const joined = await addCaseEvent(services, caseId, caller!.personId, {
            kind: 'run.joined',
            data: {
              runId, blobSha256: sha256, frames: run.frameCount, rows: run.rows, columns: run.columns, view: run.views[0] ?? null,
              identity: { ...identity, acceptedBecause: identity.verdict === 'same' ? null : (because ?? null) },
            },
          });
          if (!joined.ok) return joined;
        }
        return succeed(describeRun(runId, run));
      } finally {
        await rm(file.value, { force: true }).catch(() => {});
      }
    },

    async readRun({ params: { caseId, runId } }, { store, blobs }) {
      const found = await findRun(store, caseId, runId);
      if (!found.ok) return found;
      const head = await findHead(blobs, found.value.blobSha256);
      return head.ok ? succeed(describeRun(runId, head.value)) : head;
    },

    async readRunFrame({ params: { caseId, runId, number } }, { store, blobs }) {
      const found = await findRun(store, caseId, runId);
      if (!found.ok) return found;
      const head = await findHead(blobs, found.value.blobSha256);
      if (!head.ok) return head;
      const picture = await readRunPicture(blobs.pathOf(found.value.blobSha256), head.value, Number(number));
      if (!picture.ok) return picture;
      const { kind, bytes } = picture.value;
      return succeed(new Response(bytes, { headers: { ...FOR_EVER, 'Content-Type': kind === 'jpeg' ? 'image/jpeg' : 'application/octet-stream', 'Content-Length': String(bytes.length), 'X-Rows': String(head.value.rows), 'X-Columns': String(head.value.columns) } }));
    },
  };
}

async function findRun(store: CaseStore, caseId: string, runId: string): Promise<Result<CaseState['runs'][number], string>> {
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const run = state.value.runs.find((r) => r.runId === runId);
  return run ? succeed(run) : fail('run-unknown', RUNS_EN.unknown, RUNS_EN.unknownNext);
}

/** Which fields do not agree, never what stands in them. */
function describeOther({ verdict, fields }: Omit<IdentityCheck, 'acceptedBecause'>): Failure<'run-identity-differs' | 'run-identity-open'> {
  const list = (result: 'differs' | 'missing'): string => fields.filter((f) => f.result === result).map((f) => FIELDS[f.field]).join(', ');
  if (verdict === 'differs') return fail('run-identity-differs', formatText(RUNS_EN, 'identityDiffers', { fields: list('differs') }), RUNS_EN.identityDiffersNext, { fields: list('differs') }).failure;
  return fail('run-identity-open', formatText(RUNS_EN, 'identityOpen', { fields: list('missing') }), RUNS_EN.identityOpenNext, { fields: list('missing') }).failure;
}
