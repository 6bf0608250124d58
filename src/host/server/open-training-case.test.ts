import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeTestDesk, must, type TestDesk } from '../../../test/support/make-desk.ts';
import { TRAINING_PATIENT } from '../../core/device/training-table.ts';
import { makePatientFacts } from '../../core/patient/make-patient-facts.ts';
import { checkEntry } from '../../core/patient/referral-fields.ts';
import { openDemoDesk } from '../cli/demo-desk.ts';
import { exportPlan } from '../jobs/export-plan.ts';
import { handInFolder, waitForPlan } from './hand-in-folder.ts';
import { openTrainingCase } from './open-training-case.ts';
import { listUploads } from './upload-door.ts';

let desk: TestDesk;
let caseId = '';
let personId = '';
beforeAll(async () => {
  desk = await makeTestDesk();
  ({ caseId, personId } = must(await openTrainingCase(desk.opened.store)));
});
afterAll(() => desk.close());

describe('the training case', () => {
  test('is marked as training, and what is entered gives the plan the training patient', async () => {
    const state = must(await desk.opened.store.readState(caseId));
    expect(state).toMatchObject({ training: true, label: 'Training case' });
    for (const [field, { value }] of Object.entries(state.referral)) expect(checkEntry(field, value), field).toBeNull();
    expect(makePatientFacts(state.referral, TRAINING_PATIENT.by)).toEqual(TRAINING_PATIENT);
    expect(state.tables.devicesSha256).toMatch(/^[0-9a-f]{64}$/);
  });

  test('its person comes in by the start address alone: no password opens the account', async () => {
    for (const password of ['', 'training', 'null', '12 letters or more']) {
      const answer = await desk.visit().ask('/api/session', { method: 'POST', body: { login: 'training', password } });
      expect([400, 401]).toContain(answer.status);
    }
  });

  test('a folder is handed in as the page would: every file linked, with its path, before the import starts', async () => {
    const folder = join(desk.folder, 'ct', 'series');
    mkdirSync(folder, { recursive: true });
    for (const k of [1, 2, 3]) writeFileSync(join(folder, `IM ${k}.dcm`), 'x'.repeat(k));
    const job = must(await handInFolder(desk.server.services, { caseId, by: personId, folder: join(desk.folder, 'ct'), acceptIdentityBecause: 'training' }));
    const files = await listUploads(join(desk.folder, 'data'), job.jobId);
    expect(files.map((f) => [f.path, f.bytes, f.wantedBytes])).toEqual([1, 2, 3].map((k) => [`series/IM ${k}.dcm`, k, k]));
    expect(desk.jobs.map((j) => j.ask)).toEqual([{ files: 3, bytes: 6, acceptIdentityBecause: 'training' }]);
  });

  test('waiting ends with the plan, or with why there is none', async () => {
    const { feed } = desk.server.services;
    const job = desk.jobs[0]!;
    const steps: string[] = [];
    const failing = waitForPlan(desk.server.services, caseId, (step) => steps.push(step));
    await new Promise((resolve) => setTimeout(resolve, 100));
    feed.publish(caseId, { kind: 'job', job: { ...job, state: 'failed', progress: { step: 'Looking', ratio: 0.5 }, failure: { code: 'root-not-found', text: 't', next: 'n' } } });
    const outcome = await failing;
    expect([outcome.ok, !outcome.ok && outcome.failure.code, steps]).toEqual([false, 'root-not-found', ['Looking']]);
  });

  test('the plan of a case is written out as the plan verb writes it', async () => {
    const { store, blobs } = desk.opened;
    const out = join(desk.folder, 'plan');
    expect(await exportPlan(desk.opened, caseId, out, { replace: false })).toMatchObject({ ok: false, failure: { code: 'case-without-plan' } });
    const planSha256 = must(await store.putDocument('plan', '{"format":"trinadir.plan/1"}')).sha256;
    const kept = must(await blobs.put((async function* () { yield new TextEncoder().encode('solid'); })()));
    must(await store.putJob({ ...desk.jobs[0]!, jobId: 'job-plan', kind: 'plan', state: 'done', answer: { scanId: 's', planSha256, surveySha256: null, basedOnSeq: 1, files: { 'surfaces/root-lumen.stl': kept.sha256 }, block: null } }));
    const { seq } = must(await store.readState(caseId));
    must(await store.append({ caseId, expectSeq: seq, by: 'trinadir', events: [{ kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: seq } }] }));
    expect(must(await waitForPlan(desk.server.services, caseId, () => {})).plan?.planSha256).toBe(planSha256);
    expect(must(await exportPlan(desk.opened, caseId, out, { replace: false }))).toEqual(['plan.json', 'surfaces/root-lumen.stl']);
    expect([readFileSync(join(out, 'plan.json'), 'utf8'), readFileSync(join(out, 'surfaces', 'root-lumen.stl'), 'utf8')]).toEqual(['{"format":"trinadir.plan/1"}', 'solid']);
    expect(await exportPlan(desk.opened, caseId, out, { replace: false })).toMatchObject({ ok: false, failure: { code: 'out-folder-holds-answer' } });
  });

  test('the demo empties no data folder but its own', async () => {
    const dataFolder = join(desk.folder, 'other');
    mkdirSync(dataFolder);
    writeFileSync(join(dataFolder, 'precious'), 'x');
    const io = { out: () => {}, err: () => {}, isTerminal: false };
    const opened = await openDemoDesk({ ctFolder: '', dataFolder, planFolder: '', port: 0, replace: true, quiet: true, json: false }, io);
    expect(opened).toMatchObject({ ok: false, failure: { code: 'data-not-of-demo' } });
    expect(existsSync(join(dataFolder, 'precious'))).toBe(true);
  });
});
