import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { codeOf, makeTestDesk, must, type TestDesk, type Visitor } from '../../../test/support/make-desk.ts';
import { makeCompletedPlan } from '../../../test/support/example-plan.ts';
import type { PlannedChoice } from '../../core/case/case-events.ts';
import { formatPlan } from '../../core/case/format-plan.ts';
import type { PlannedForecast } from '../../core/case/keep-what-ifs.ts';
import { makeWhatIfDesk } from '../jobs/what-if-desk.ts';
import { WorkerPool } from '../jobs/worker-pool.ts';
import { makePrintHandlers } from './handlers/print-handlers.ts';
import { makeWhatIfHandlers } from './handlers/what-if-handlers.ts';

let desk: TestDesk;
let planner: Visitor;
let viewer: Visitor;
let caseId = '';
let planSha256 = '';
const plan = makeCompletedPlan();
const choice: PlannedChoice = { device: plan.landing!.device, size: plan.landing!.size, startMm: 4, paceBpm: 180, isPredilated: false, tension: 'neutral', wireBiasMm: 1.5 };

beforeAll(async () => {
  // Threads need the built program; without them the same functions run here.
  const whatIfs = makeWhatIfHandlers(makeWhatIfDesk(() => new WorkerPool(0)));
  desk = await makeTestDesk({ changeHandlers: (h) => ({ ...h, ...whatIfs, ...makePrintHandlers(() => new WorkerPool(0)) }) });
  [planner, viewer] = [await desk.enter('planner'), await desk.enter('viewer')];
  caseId = (await planner.ask('/api/cases', { method: 'POST', body: { label: 'A 7', procedureOn: '2026-12-01' } })).json<{ caseId: string }>().caseId;
  planSha256 = must(await desk.opened.store.putDocument('plan', formatPlan(plan))).sha256;
}, 120_000);
afterAll(() => desk.close());

const whatIf = (visitor: Visitor, change: Partial<PlannedChoice> = {}, sha = planSha256) => visitor.ask(`/api/cases/${caseId}/what-if`, { method: 'POST', body: { choice: { ...choice, ...change }, planSha256: sha } });
const print = (visitor: Visitor, name: string) => visitor.ask(`/api/cases/${caseId}/prints/${name}`);
const append = async (events: Parameters<typeof desk.opened.store.append>[0]['events']) => {
  const { seq } = must(await desk.opened.store.readState(caseId));
  must(await desk.opened.store.append({ caseId, expectSeq: seq, by: 'trinadir', events }));
};

describe('what-ifs and prints of a case', () => {
  test('before there is a plan nothing is asked or printed; a plan that is not this case\'s opens nothing', async () => {
    expect([(await print(planner, 'plan')).status, codeOf(await print(planner, 'plan'))]).toEqual([404, 'case-without-plan']);
    expect([(await whatIf(planner)).status, codeOf(await whatIf(planner))]).toEqual([404, 'document-unknown']);
  });

  test('a what-if is answered against the plan; a viewer may ask', async () => {
    const { seq } = must(await desk.opened.store.readState(caseId));
    await append([{ kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: seq } }]);
    const answer = await whatIf(viewer);
    expect(answer.status).toBe(200);
    const told = answer.json<PlannedForecast & Record<string, unknown>>();
    expect(told).toMatchObject({ choice, planned: { startMm: plan.release!.startMm }, forecast: { startMm: 4, choice: { paceBpm: 180 } } });
    expect(codeOf(await whatIf(planner, { device: 'another' }))).toBe('device-unknown');
    expect((await whatIf(planner, { startMm: 99 })).status).toBe(400);
    expect((await whatIf(planner, {}, '0'.repeat(64))).status).toBe(404);
  }, 60_000);

  test('of questions that come faster than answers only the newest is answered', async () => {
    const answers = await Promise.all([3, 3.5, 4, 4.5].map((startMm) => whatIf(planner, { startMm })));
    const codes = answers.map((a) => (a.status === 200 ? a.json<PlannedForecast & Record<string, unknown>>().choice.startMm : codeOf(a)));
    expect(codes).toContain(4.5);
    for (const c of codes) expect(['what-if-overtaken', 3, 3.5, 4, 4.5]).toContain(c);
  }, 60_000);

  test('plan, huddle sheet and wall cards come as PDF, and that they were taken stands in the log', async () => {
    for (const name of ['plan', 'huddle', 'wall']) {
      const answer = await print(viewer, name);
      expect([answer.status, answer.headers.get('content-type'), answer.headers.get('cache-control'), answer.text.slice(0, 5)], name).toEqual([200, 'application/pdf', 'no-store', '%PDF-']);
    }
    const log = must(await desk.opened.store.listAudit({ caseId, afterSeq: 0, limit: 100 }));
    expect(log.filter((e) => e.kind === 'export.made').map((e) => e.data['what'])).toEqual(['plan', 'huddle', 'wall']);
  }, 120_000);

  test('after a change neither wall nor huddle sheet is printed from the old plan', async () => {
    await append([{ kind: 'mark.moved', data: { mark: 'ostium.left', lps: [1, 2, 3], was: null } }]);
    expect([(await print(planner, 'wall')).status, codeOf(await print(planner, 'wall')), codeOf(await print(planner, 'huddle'))]).toEqual([409, 'plan-stale', 'plan-stale']);
    expect((await print(planner, 'plan')).status).toBe(200);
    expect(desk.defects).toEqual([]);
  }, 60_000);
});
