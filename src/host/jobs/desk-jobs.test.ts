import { spawn } from 'node:child_process';
import { randomBytes } from 'node:crypto';
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { putEmptyDatabase } from '../../../test/support/pglite-template.ts';
import type { CaseEventData, NewCaseEvent } from '../../core/case/case-events.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { parseSurveyDocument } from '../../formats/plan/parse-survey-document.ts';
import { runPhantomCommand } from '../cli/phantom-command.ts';
import { makeCaseFeed } from '../server/case-feed.ts';
import type { Call, CaseNews, Services } from '../server/handler-types.ts';
import { IMPORT_HANDLERS } from '../server/handlers/import-handlers.ts';
import { PLAN_HANDLERS } from '../server/handlers/plan-handlers.ts';
import { expectCode, expectOk } from '../storage/case-store.suite.ts';
import { openStore, type OpenedStore } from '../storage/open-store.ts';
import type { StoredJob } from '../storage/store-types.ts';
import { DeskJobRunner, makeJob } from './desk-job-runner.ts';
import type { ImportJobAsk, PlanJobAnswer } from './desk-job-types.ts';
import { runProcess } from './run-process.ts';

const isBuilt = existsSync(new URL('../../../dist/host/jobs/process-entry.js', import.meta.url));
const JOB_SERVER = fileURLToPath(new URL('../../../test/support/job-server.mjs', import.meta.url));
const top = mkdtempSync(join(tmpdir(), 'trinadir-jobs-'));
const dataFolder = join(top, 'data');
const ctFolder = join(top, 'ct');

let opened: OpenedStore;
let services: Services & { readonly jobs: DeskJobRunner };
const news: CaseNews[] = [];
async function openDesk(): Promise<void> {
  opened = expectOk(await openStore({ dataFolder }));
  const parts = { store: opened.store, blobs: opened.blobs, feed: makeCaseFeed(), dataFolder, version: 'test' };
  services = { ...parts, jobs: new DeskJobRunner(parts) };
}
async function closeDesk(): Promise<void> {
  await services.jobs.close();
  await opened.close();
}

/** One call of a handler as the server makes it. */
const call = (params: unknown, body: unknown = {}, query: unknown = {}): Call<never> =>
  ({ params, body, query, caller: { personId: 'p-anna' }, request: new Request('http://127.0.0.1/') }) as unknown as Call<never>;

async function openCase(caseId: string, ...more: readonly NewCaseEvent[]): Promise<string> {
  expectOk(await services.store.append({ caseId, expectSeq: 0, by: 'p-anna', events: [{ kind: 'case.opened', data: { label: caseId, procedureOn: null, training: true } }, ...more] }));
  services.feed.follow(caseId, (each) => void news.push(each));
  return caseId;
}
const entered = (field: string, value: string): NewCaseEvent => ({ kind: 'referral.entered', data: { field, value, unit: null } });

/** Files as tus leaves them: named by chance, with size and path beside. */
function upload(jobId: string, files: readonly (readonly [path: string, content: Uint8Array])[]): void {
  const folder = join(dataFolder, 'uploads', jobId);
  mkdirSync(folder, { recursive: true });
  for (const [path, content] of files) {
    const name = randomBytes(16).toString('hex');
    writeFileSync(join(folder, name), content);
    writeFileSync(join(folder, `${name}.json`), JSON.stringify({ id: `${jobId}/${name}`, size: content.length, metadata: { importId: jobId, path } }));
  }
}
function readCt(): [string, Uint8Array][] {
  const names = readdirSync(ctFolder, { recursive: true }).map(String).filter((name) => statSync(join(ctFolder, name)).isFile()).sort();
  return names.map((name) => [`Beispiel^Ada/${name}`, readFileSync(join(ctFolder, name))]);
}
async function handIn(caseId: string, files: readonly (readonly [string, Uint8Array])[], acceptIdentityBecause: string | null = null): Promise<StoredJob> {
  const begun = expectOk(await IMPORT_HANDLERS.startImport(call({ caseId }, { files: files.length, bytes: files.reduce((sum, [, content]) => sum + content.length, 0) }), services)) as { jobId: string };
  upload(begun.jobId, files);
  expectOk(await IMPORT_HANDLERS.finishImport(call({ jobId: begun.jobId }, { acceptIdentityBecause }), services));
  return waitFor(begun.jobId);
}
async function waitFor(jobId: string): Promise<StoredJob> {
  let job: StoredJob | null = null;
  await expect.poll(async () => ['done', 'failed', 'cancelled'].includes((job = expectOk(await services.store.findJob(jobId)))!.state), { timeout: PLANNED_WITHIN_MS, interval: 50 }).toBe(true);
  return job!;
}
const newestPlanJob = async (caseId: string): Promise<StoredJob | undefined> => expectOk(await services.store.listJobs({ caseId })).filter(({ kind }) => kind === 'plan').at(-1);
const stateOf = async (caseId: string) => expectOk(await services.store.readState(caseId));
/** A plan computes for seconds; how long that takes is the machine's matter. */
const PLANNED_WITHIN_MS = 500_000;
const bytesOf = (text: string): Uint8Array => new TextEncoder().encode(text);

describe.skipIf(!isBuilt)('jobs of the desk (needs the build)', { timeout: PLANNED_WITHIN_MS }, () => {
  beforeAll(async () => {
    const shape = join(top, 'shape.json');
    writeFileSync(shape, JSON.stringify({ format: 'trinadir.phantom/1', from: { scenario: 'plain-root' }, scan: { dims: [190, 190, 190], spacingMm: [0.65, 0.65, 0.6], sliceThicknessMm: 0.6 } }));
    expect(await runPhantomCommand({ out: ctFolder, shape }, { out: () => {}, err: () => {} })).toBe(0);
    await putEmptyDatabase(dataFolder);
    await openDesk();
  });
  afterAll(async () => {
    await closeDesk();
    rmSync(top, { recursive: true, force: true });
  });

  describe('an import', () => {
    test('of a CT that does not name the entered patient does not join until a person says why', async () => {
      const caseId = await openCase('case-other', entered('identity.name', 'Ada Beispiel'), entered('identity.birthDate', '1941-02-03'), entered('identity.patientId', '4711'));
      const failed = await handIn(caseId, readCt().filter(([path]) => !path.endsWith('.json')).slice(0, 20));
      expect(failed.failure?.code).toBe('identity-differs');
      expect(failed.failure?.text).toContain('name, patient number');
      expect(JSON.stringify(failed)).not.toMatch(/Beispiel|4711|TRAINING/);
      expect((await stateOf(caseId)).scan).toBeNull();
      expectOk(await IMPORT_HANDLERS.retryJob(call({ jobId: failed.jobId }, { acceptIdentityBecause: 'Name changed by marriage, papers seen' }), services));
      expect((await waitFor(failed.jobId)).state).toBe('done');
      const { scan } = await stateOf(caseId);
      expect(scan?.identity).toMatchObject({ verdict: 'differs', acceptedBecause: 'Name changed by marriage, papers seen' });
      expect(existsSync(join(dataFolder, 'uploads', failed.jobId))).toBe(false);
    });

    test('that names the patient joins by itself, keeps no handed-in name, and is planned at once', async () => {
      const caseId = await openCase('case-same', entered('identity.name', 'TRAINING, invented sizes'), entered('identity.patientId', 'TRAINING-0'));
      const ct = readCt();
      const done = await handIn(caseId, ct, 'not needed when they agree');
      expect([done.state, done.failure]).toEqual(['done', null]);
      const { scan } = await stateOf(caseId);
      expect(scan).toMatchObject({ files: ct.length, bytes: ct.reduce((sum, [, content]) => sum + content.length, 0) });
      const manifest = expectOk(await services.store.readDocument(scan!.manifestSha256)).text;
      expect(manifest).not.toMatch(/Beispiel|\.json"/);
      const files = (JSON.parse(manifest) as { files: { sha256: string }[] }).files.map(({ sha256 }) => sha256);
      expect(await services.blobs.verify(files)).toEqual([]);
      await expect.poll(() => newestPlanJob(caseId)).toBeDefined();
      const planned = await waitFor((await newestPlanJob(caseId))!.jobId);
      expect([planned.state, planned.failure]).toEqual(['done', null]);
      const { plan } = await stateOf(caseId);
      expect(plan?.isStale).toBe(false);
      const made = JSON.parse(expectOk(await services.store.readDocument(plan!.planSha256)).text) as Plan;
      expect(made.root?.basalRing.perimeterMm.value).toBeGreaterThan(40);
      expectOk(parseSurveyDocument(expectOk(await services.store.readDocument(plan!.surveySha256!)).text));
      const ratios = news.flatMap((each) => (each.kind === 'job' && each.job.jobId === planned.jobId ? [each.job.progress.ratio] : []));
      expect(ratios).toEqual([...ratios].sort((a, b) => a - b)); // progress never goes back
      await expect.poll(() => readdirSync(join(dataFolder, 'work')), { timeout: 20_000 }).toEqual([]); // nothing is left of the work
    });

    test('of what is no CT, or has not arrived in full, fails with its code and can be given up', async () => {
      const caseId = await openCase('case-broken');
      expect((await handIn(caseId, [['letter.txt', bytesOf('no picture')]], 'x')).failure?.code).toBe('no-ct');
      const begun = expectOk(await IMPORT_HANDLERS.startImport(call({ caseId }, { files: 2, bytes: 10 }), services)) as { jobId: string };
      upload(begun.jobId, [['a.dcm', bytesOf('01234')]]);
      expect(expectCode(await IMPORT_HANDLERS.finishImport(call({ jobId: begun.jobId }, { acceptIdentityBecause: null }), services))).toBe('upload-incomplete');
      const cancelled = expectOk(await IMPORT_HANDLERS.cancelJob(call({ jobId: begun.jobId }), services));
      expect(cancelled).toMatchObject({ state: 'cancelled' });
      expect(existsSync(join(dataFolder, 'uploads', begun.jobId))).toBe(false);
      expect(expectCode(await IMPORT_HANDLERS.retryJob(call({ jobId: begun.jobId }, { acceptIdentityBecause: null }), services))).toBe('upload-gone');
      expect(expectCode(await IMPORT_HANDLERS.cancelJob(call({ jobId: begun.jobId }), services))).toBe('job-over');
      expect(expectCode(await IMPORT_HANDLERS.readJob(call({ jobId: 'job-none' }), services))).toBe('job-unknown');
      expect(expectCode(await PLAN_HANDLERS.startPlan(call({ caseId }), services))).toBe('scan-missing');
    });

    test('one at a time per case; the same person’s new one replaces an unfinished one', async () => {
      const caseId = await openCase('case-twice');
      const start = (personId: string) => IMPORT_HANDLERS.startImport({ ...call({ caseId }, { files: 1, bytes: 10 }), caller: { personId } } as never, services);
      const first = expectOk(await start('p-anna')) as { jobId: string };
      expect(expectCode(await start('p-bert'))).toBe('import-running');
      expectOk(await start('p-anna'));
      expect(expectOk(await services.store.findJob(first.jobId))?.state).toBe('cancelled');
      expect(expectCode(await IMPORT_HANDLERS.startImport(call({ caseId: 'case-nowhere' }, { files: 1, bytes: 1 }), services))).toBe('case-unknown');
    });

    test('whose server died after joining is not joined twice', async () => {
      const caseId = await openCase('case-joined-once');
      const job = makeJob('import', caseId, 'p-anna', { files: 1, bytes: 1, acceptIdentityBecause: 'x' } satisfies ImportJobAsk, 'running');
      const answer = { scanId: job.jobId, manifestSha256: expectOk(await services.store.putDocument('manifest', JSON.stringify({ files: [], volumes: [], proposed: null }))).sha256 };
      expectOk(await services.store.append({ caseId, expectSeq: 1, by: 'p-anna', events: [{ kind: 'scan.joined', data: { ...answer, files: 1, bytes: 1, identity: { verdict: 'same', fields: [], acceptedBecause: null } } }] }));
      expectOk(await services.store.putJob({ ...job, answer }));
      await services.jobs.resume();
      expect((await waitFor(job.jobId)).state).toBe('done');
      expect(expectOk(await services.store.listEvents(caseId, 0)).filter(({ kind }) => kind === 'scan.joined')).toHaveLength(1);
    });
  });

  describe('what stands behind a plan', () => {
    test('volumes, block and surface are read through the case', async () => {
      const caseId = 'case-same';
      const volumes = expectOk(await PLAN_HANDLERS.listVolumes(call({ caseId }), services)) as { seriesUid: string; isMeasured: boolean; slices: number }[];
      expect(volumes).toHaveLength(1);
      expect(volumes[0]).toMatchObject({ isMeasured: true, slices: 190 });
      const block = expectOk(await PLAN_HANDLERS.readBlock(call({ caseId }), services)) as Response;
      const dims = block.headers.get('x-dims')!.split(',').map(Number);
      expect((await block.arrayBuffer()).byteLength).toBe(2 * dims[0]! * dims[1]! * dims[2]!);
      expect(block.headers.get('x-lps-from-voxel')!.split(',').map(Number)).toHaveLength(12);
      const surface = expectOk(await PLAN_HANDLERS.readSurface(call({ caseId, name: 'root-lumen.stl' }), services)) as Response;
      expect((await surface.arrayBuffer()).byteLength).toBeGreaterThan(1000);
    });

    test('a plan is not read through another case, nor as another kind of document', async () => {
      const { plan, scan } = await stateOf('case-same');
      const read = (caseId: string, sha256: string) => PLAN_HANDLERS.readPlan(call({ caseId, sha256 }), services);
      expect(((expectOk(await read('case-same', plan!.planSha256)) as Response).headers.get('cache-control'))).toContain('immutable');
      expect(expectCode(await read('case-other', plan!.planSha256))).toBe('document-unknown');
      expect(expectCode(await read('case-same', scan!.manifestSha256))).toBe('document-unknown');
      expectOk(await PLAN_HANDLERS.readSurvey(call({ caseId: 'case-same', sha256: plan!.surveySha256! }), services));
      expect(expectCode(await PLAN_HANDLERS.readSurvey(call({ caseId: 'case-same', sha256: plan!.planSha256 }), services))).toBe('document-unknown');
    });

    test('a scan without a plan has a block too: all of it', async () => {
      const started = expectOk(await PLAN_HANDLERS.startPlan(call({ caseId: 'case-other' }), services)) as { jobId: string };
      const refused = await waitFor(started.jobId); // 20 slices hold no root
      expect((await stateOf('case-other')).refusal?.code).toBe(refused.failure?.code);
      const block = expectOk(await PLAN_HANDLERS.readBlock(call({ caseId: 'case-other' }), services)) as Response;
      expect(block.headers.get('x-dims')).toBe('190,190,20');
      await block.arrayBuffer();
    });

    test('a kept reading is read through the case that holds it', async () => {
      const marks = { format: 'trinadir.landmarks/1', by: 'p-anna', nadirsLps: { R: [0, 0, 0], L: [20, 0, 0], N: [10, 17, 0] } };
      const { sha256 } = expectOk(await PLAN_HANDLERS.saveLandmarks(call({ caseId: 'case-same' }, marks), services)) as { sha256: string };
      expect(expectCode(await PLAN_HANDLERS.readLandmarks(call({ caseId: 'case-same', sha256 }), services))).toBe('document-unknown');
      const { seq, plan } = await stateOf('case-same');
      expectOk(await services.store.append({ caseId: 'case-same', expectSeq: seq, by: 'p-anna', events: [{ kind: 'reading.saved', data: { readingId: 'reading-1', planSha256: plan!.planSha256, landmarksSha256: sha256 } }] }));
      expect(await (expectOk(await PLAN_HANDLERS.readLandmarks(call({ caseId: 'case-same', sha256 }), services)) as Response).json()).toEqual(marks);
      expect(expectCode(await PLAN_HANDLERS.saveLandmarks(call({ caseId: 'case-same' }, { format: 'other' }), services))).toBe('landmarks-invalid');
    });
  });

  describe('a plan', () => {
    const caseId = 'case-same';
    test('asked for twice is made once; one that runs on an older state is ended for the newer one', async () => {
      const start = async () => expectOk(await PLAN_HANDLERS.startPlan(call({ caseId }), services)) as { jobId: string };
      const first = await start();
      expect((await start()).jobId).toBe(first.jobId);
      const { seq } = await stateOf(caseId);
      expectOk(await services.store.append({ caseId, expectSeq: seq, by: 'p-anna', events: [entered('plan.valveForm', 'three-cusps')] }));
      const second = await start();
      expect(second.jobId).not.toBe(first.jobId);
      expect((await waitFor(first.jobId)).state).toBe('cancelled');
      expectOk(await IMPORT_HANDLERS.cancelJob(call({ jobId: second.jobId }), services));
      expect((await waitFor(second.jobId)).state).toBe('cancelled');
      expect(expectOk(await services.store.listEvents(caseId, seq + 1))).toEqual([]);
    });

    test('whose server is killed in the middle is made at the next start, once, with the marks that were moved', async () => {
      const before = await stateOf(caseId);
      const { basalPlane } = (JSON.parse(expectOk(await services.store.readDocument(before.plan!.planSha256)).text) as Plan).root!;
      const moved = basalPlane.nadirsLps.R.map((x, k) => x + 0.8 * basalPlane.normalLps[k]!) as [number, number, number];
      expectOk(await services.store.append({ caseId, expectSeq: before.seq, by: 'p-anna', events: [{ kind: 'mark.moved', data: { mark: 'nadir.R', lps: moved, was: basalPlane.nadirsLps.R } }] }));
      expect((await stateOf(caseId)).plan?.isStale).toBe(true);
      await closeDesk();
      await new Promise<void>((resolve) => {
        const server = spawn(process.execPath, [JOB_SERVER, dataFolder, caseId], { stdio: ['ignore', 'pipe', 'inherit'] });
        createInterface({ input: server.stdout }).on('line', (line) => {
          if (/^job plan running 0\.[1-9]/.test(line)) server.kill('SIGKILL');
        });
        server.on('close', () => resolve());
      });
      await openDesk();
      services.feed.follow(caseId, (each) => void news.push(each));
      expect((await newestPlanJob(caseId))?.state).toBe('running');
      await services.jobs.resume();
      const planned = await waitFor((await newestPlanJob(caseId))!.jobId);
      expect([planned.state, planned.failure]).toEqual(['done', null]);
      const events = expectOk(await services.store.listEvents(caseId, before.seq + 1));
      expect(events.map(({ kind }) => kind)).toEqual(['plan.made']);
      expect((events[0]!.data as CaseEventData['plan.made']).basedOnSeq).toBe(before.seq + 1);
      const after = (JSON.parse(expectOk(await services.store.readDocument((await stateOf(caseId)).plan!.planSha256)).text) as Plan).root!;
      for (const axis of [0, 1, 2]) expect(after.basalPlane.nadirsLps.R[axis]).toBeCloseTo(moved[axis]!, 3); // as plan.json rounds
      expect(after.basalPlane.nadirsLps.L).toEqual(basalPlane.nadirsLps.L);
      expectOk(await services.store.verifyChains());
    });

    test('that was computed, but not yet told when the server died, is told without computing it again', async () => {
      const { seq, scan } = await stateOf(caseId);
      const old = (await newestPlanJob(caseId))!;
      const answer: PlanJobAnswer = { ...(old.answer as PlanJobAnswer), basedOnSeq: seq };
      const job = { ...makeJob('plan', caseId, 'p-anna', { planInputSeq: seq }, 'running'), answer };
      expect(answer.scanId).toBe(scan?.scanId);
      expectOk(await services.store.putJob(job));
      await services.jobs.resume();
      expect((await waitFor(job.jobId)).state).toBe('done');
      expect(expectOk(await services.store.listEvents(caseId, seq)).map(({ kind }) => kind)).toEqual(['plan.made']);
      // And when it had been told already, it is not told twice.
      expectOk(await services.store.putJob(job));
      await services.jobs.resume();
      expect((await waitFor(job.jobId)).state).toBe('done');
      expect(expectOk(await services.store.listEvents(caseId, seq))).toHaveLength(1);
    });
  });

  test('a computation that breaks or is stopped ends with its code, and takes nothing with it', async () => {
    const broken = runProcess({ kind: 'plan' } as never, () => {});
    expect(expectCode(await broken.outcome)).toBe('defect');
    const stopped = runProcess({ kind: 'plan' } as never, () => {});
    stopped.stop();
    expect(expectCode(await stopped.outcome)).toBe('job-stopped');
  });
});
