import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { Readable } from 'node:stream';
import { setTimeout as wait } from 'node:timers/promises';
import type { CaseState } from '../../../core/case/fold-case.ts';
import type { Plan } from '../../../core/case/plan-types.ts';
import { fail, succeed, type Failure, type Result } from '../../../core/result.ts';
import { JOBS_EN } from '../../../core/text/jobs-en.ts';
import { LANDMARKS } from '../../cli/plan-files.ts';
import { makeJob, makePlanJob } from '../../jobs/desk-job-runner.ts';
import type { BlockJobAnswer, BlockJobAsk, PlanJobAnswer } from '../../jobs/desk-job-types.ts';
import { readManifest } from '../../jobs/plan-job.ts';
import type { KeptBlock } from '../../jobs/process-messages.ts';
import { listVolumeIds, type ScanManifest } from '../../jobs/scan-manifest.ts';
import type { BlobStore, CaseStore, DocumentKind } from '../../storage/store-types.ts';
import { findCasePlan } from '../find-case-plan.ts';
import type { Handlers, Services } from '../handler-types.ts';
import { showJob } from '../show-job.ts';

export type PlanRoute = 'startPlan' | 'readPlan' | 'readSurvey' | 'saveLandmarks' | 'readLandmarks' | 'listVolumes' | 'readBlock' | 'readSurface';

/** What is named by its content never changes. */
export const FOR_EVER = { 'Cache-Control': 'private, max-age=31536000, immutable' };
const BLOCK_WITHIN_MS = 120_000;
const BLOCK_LOOK_MS = 300;
const failUnknown = () => fail('document-unknown' as const, JOBS_EN.documentUnknown, JOBS_EN.documentUnknownNext);
const failNoScan = () => fail('scan-missing' as const, JOBS_EN.noScan, JOBS_EN.noScanNext);

/** Plans of a case and what stands behind them: documents, volumes, the CT for looking at, surfaces. */
export const PLAN_HANDLERS: Pick<Handlers, PlanRoute> = {
  async startPlan({ params: { caseId }, caller }, { store, jobs }) {
    const state = await store.readState(caseId);
    if (!state.ok) return state;
    if (state.value.scan === null) return failNoScan();
    const started = await jobs.start(makePlanJob(state.value, caller!.personId));
    return started.ok ? succeed(showJob(started.value)) : started;
  },

  async readPlan({ params: { caseId, sha256 } }, { store }) {
    const belongs = await findCasePlan(store, caseId, { planSha256: sha256 });
    return belongs.ok ? answerDocument(store, sha256, 'plan') : belongs;
  },
  async readSurvey({ params: { caseId, sha256 } }, { store }) {
    const belongs = await findCasePlan(store, caseId, { surveySha256: sha256 });
    return belongs.ok ? answerDocument(store, sha256, 'survey') : belongs;
  },

  async saveLandmarks({ params: { caseId }, body }, { store }) {
    const state = await store.readState(caseId);
    if (!state.ok) return state;
    const parsed = LANDMARKS.safeParse(body);
    if (!parsed.success) return fail('landmarks-invalid', JOBS_EN.landmarksInvalid, JOBS_EN.landmarksInvalidNext);
    return store.putDocument('landmarks', JSON.stringify(parsed.data));
  },
  async readLandmarks({ params: { caseId, sha256 } }, { store }) {
    const state = await store.readState(caseId);
    if (!state.ok) return state;
    return state.value.readings.some((reading) => reading.landmarksSha256 === sha256) ? answerDocument(store, sha256, 'landmarks') : failUnknown();
  },

  async listVolumes({ params: { caseId } }, { store }) {
    const read = await readScan(store, caseId);
    if (!read.ok) return read;
    const { state, manifest } = read.value;
    const measured = await findMeasured(store, state, manifest);
    if (!measured.ok) return measured;
    const ids = listVolumeIds(manifest.volumes);
    return succeed(manifest.volumes.map((volume, k) => ({
      seriesUid: ids[k]!, description: volume.description, phasePercent: volume.phasePercent, slices: volume.slices, spacingMm: [...volume.spacingMm], verdict: volume.verdict,
      isMeasured: volume.key === measured.value.volumeKey, findings: volume.findings.map(({ code, severity, text, next }) => ({ code, severity, text, next })),
    })));
  },

  async readBlock({ params: { caseId }, query, caller, request }, services) {
    const { store, blobs } = services;
    const read = await readScan(store, caseId);
    if (!read.ok) return read;
    const { state, manifest } = read.value;
    const measured = await findMeasured(store, state, manifest);
    if (!measured.ok) return measured;
    const at = listVolumeIds(manifest.volumes).findIndex((id, k) => id === query.seriesUid || manifest.volumes[k]!.key === query.seriesUid);
    const volumeKey = query.seriesUid === undefined ? measured.value.volumeKey : manifest.volumes[at]?.key;
    if (volumeKey === undefined || volumeKey === null) return failNoScan();
    const ask: BlockJobAsk = { scanId: manifest.scanId, volumeKey, centreLps: measured.value.centreLps };
    const block = await findBlock(services, caseId, ask) ?? await makeBlock(services, caseId, ask, caller!.personId, request.signal);
    if ('code' in block) return { ok: false, failure: block };
    return answerBlob(blobs, block.sha256, { 'Content-Type': 'application/octet-stream', 'X-Dims': block.dims.join(','), 'X-Lps-From-Voxel': block.lpsFromVoxel.join(','), 'X-Padding-Hu': block.paddingHu === null ? '' : String(block.paddingHu) });
  },

  async readSurface({ params: { caseId, name } }, { store, blobs }) {
    const state = await store.readState(caseId);
    if (!state.ok) return state;
    const files = state.value.plan ? await findPlanAnswer(store, caseId, state.value.plan.planSha256) : succeed(null);
    if (!files.ok) return files;
    const sha256 = files.value?.files[`surfaces/${name}`];
    if (sha256 === undefined || !(await blobs.has(sha256))) return fail('plan-part-missing', JOBS_EN.planMissing, JOBS_EN.planMissingNext);
    return answerBlob(blobs, sha256, { 'Content-Type': 'model/stl' });
  },
};

/** What the job that made a plan kept beside it: pages, prints, surfaces, block. */
async function findPlanAnswer(store: CaseStore, caseId: string, planSha256: string): Promise<Result<PlanJobAnswer | null, string>> {
  const jobs = await store.listJobs({ caseId, states: ['done'] });
  if (!jobs.ok) return jobs;
  const made = jobs.value.filter(({ kind, answer }) => kind === 'plan' && (answer as PlanJobAnswer | null)?.planSha256 === planSha256).at(-1);
  return succeed((made?.answer as PlanJobAnswer | undefined) ?? null);
}

async function readScan(store: CaseStore, caseId: string): Promise<Result<{ readonly state: CaseState; readonly manifest: ScanManifest }, string>> {
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  if (state.value.scan === null) return failNoScan();
  const manifest = await readManifest(store, state.value.scan.manifestSha256);
  return manifest.ok ? succeed({ state: state.value, manifest: manifest.value }) : manifest;
}

/** Which volume is measured, and where its root lies when a plan found it. */
async function findMeasured(store: CaseStore, state: CaseState, manifest: ScanManifest): Promise<Result<Pick<BlockJobAsk, 'centreLps'> & { readonly volumeKey: string | null }, string>> {
  const chosen = state.scan?.seriesUid ?? null;
  const first = chosen === null ? manifest.proposed : (manifest.volumes.find((v) => v.seriesUid === chosen)?.key ?? null);
  const fallback = first ?? manifest.volumes[0]?.key ?? null;
  if (state.plan === null) return succeed({ volumeKey: fallback, centreLps: null });
  const [answer, document] = [await findPlanAnswer(store, state.caseId, state.plan.planSha256), await store.readDocument(state.plan.planSha256)];
  if (!answer.ok) return answer;
  if (!document.ok) return document;
  const centreLps = (JSON.parse(document.value.text) as Plan).root?.basalPlane.pointLps ?? null;
  return succeed({ volumeKey: answer.value?.block?.volumeKey ?? fallback, centreLps });
}

/** A block kept by the plan or by an earlier block job; null: none, or its file is gone. */
async function findBlock({ store, blobs }: Pick<Services, 'store' | 'blobs'>, caseId: string, ask: BlockJobAsk): Promise<KeptBlock | Failure<string> | null> {
  const jobs = await store.listJobs({ caseId, states: ['done'] });
  if (!jobs.ok) return jobs.failure;
  for (const { kind, answer, ask: asked } of [...jobs.value].reverse()) {
    const block = kind === 'plan' ? withScan((answer as PlanJobAnswer | null)) : kind === 'block' ? (answer as BlockJobAnswer | null) : null;
    // A coarse block of before the first plan is replaced once there is a root to look at.
    const isCoarse = kind === 'block' && (asked as BlockJobAsk).centreLps === null && ask.centreLps !== null;
    if (block && block.scanId === ask.scanId && block.volumeKey === ask.volumeKey && !isCoarse && (await blobs.has(block.sha256))) return block;
  }
  return null;
}
const withScan = (answer: PlanJobAnswer | null): BlockJobAnswer | null => (answer?.block ? { ...answer.block, scanId: answer.scanId } : null);

/** Has the block cut and waits for it: the page asks once. */
async function makeBlock(services: Services, caseId: string, ask: BlockJobAsk, by: string, signal: AbortSignal): Promise<KeptBlock | Failure<string>> {
  const { store, jobs } = services;
  const live = await store.listJobs({ caseId, states: ['waiting', 'running'] });
  if (!live.ok) return live.failure;
  const same = live.value.find(({ kind, ask: other }) => kind === 'block' && JSON.stringify(other) === JSON.stringify(ask));
  const started = same ? succeed(same) : await jobs.start(makeJob('block', caseId, by, ask));
  if (!started.ok) return started.failure;
  const untilMs = performance.now() + BLOCK_WITHIN_MS;
  while (performance.now() < untilMs && !signal.aborted) {
    const now = await store.findJob(started.value.jobId);
    if (!now.ok) return now.failure;
    if (now.value?.state === 'done') return now.value.answer as BlockJobAnswer;
    if (now.value?.failure) return fail(now.value.failure.code, now.value.failure.text, now.value.failure.next).failure;
    if (now.value === null || now.value.state === 'cancelled') break;
    await wait(BLOCK_LOOK_MS);
  }
  return fail('job-not-ready', JOBS_EN.blockSlow, JOBS_EN.blockSlowNext).failure;
}

async function answerDocument(store: CaseStore, sha256: string, kind: DocumentKind): Promise<Result<Response, string>> {
  const document = await store.readDocument(sha256);
  if (!document.ok) return document;
  if (document.value.kind !== kind) return failUnknown();
  return succeed(new Response(document.value.text, { headers: { ...FOR_EVER, 'Content-Type': 'application/json; charset=utf-8' } }));
}

async function answerBlob(blobs: BlobStore, sha256: string, headers: Readonly<Record<string, string>>): Promise<Result<Response, string>> {
  const path = blobs.pathOf(sha256);
  const { size } = await stat(path);
  return succeed(new Response(Readable.toWeb(createReadStream(path, { highWaterMark: 1 << 20 })) as ReadableStream, { headers: { ...headers, 'Content-Length': String(size), 'Cache-Control': 'private, no-cache' } }));
}
