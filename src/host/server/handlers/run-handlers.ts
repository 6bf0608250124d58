import type { CaseState } from '../../../core/case/fold-case.ts';
import { fail, succeed, type Result } from '../../../core/result.ts';
import { RUNS_EN } from '../../../core/text/runs-en.ts';
import { BECAUSE_HEADER, MOST_RUN_BYTES } from '../../../formats/api/run-schemas.ts';
import type { XaRun } from '../../../formats/dicom/read-xa.ts';
import type { BlobStore, CaseStore } from '../../storage/store-types.ts';
import type { Handlers } from '../handler-types.ts';
import { joinRun } from '../join-run.ts';
import { readReason } from '../judge-file-identity.ts';
import { describeRun, failGone, readRunHead, readRunPicture } from '../run-file.ts';
import { takeRunFile } from '../take-run-file.ts';
import { FOR_EVER } from './plan-handlers.ts';

export type RunRoute = 'addRun' | 'readRun' | 'readRunFrame';
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
    async addRun({ params: { caseId }, caller, request }, services) {
      const because = readReason(request.headers.get(BECAUSE_HEADER));
      if (because === undefined) return fail('request-invalid', RUNS_EN.reasonUnread, RUNS_EN.reasonUnreadNext);
      const state = await services.store.readState(caseId);
      if (!state.ok) return state;
      const file = await takeRunFile(request, services.dataFolder, MOST_RUN_BYTES);
      return file.ok ? joinRun(services, { caseId, by: caller!.personId, path: file.value, because }) : file;
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
