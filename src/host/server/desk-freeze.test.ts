import { createHash } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeReadyCase } from '../../../test/support/frozen-fixture.ts';
import { codeOf, makeTestDesk, must, type TestDesk, type Visitor } from '../../../test/support/make-desk.ts';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import type { NewCaseEvent } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { makeWhatIfDesk } from '../jobs/what-if-desk.ts';
import { WorkerPool } from '../jobs/worker-pool.ts';
import { makeFreezeHandlers } from './handlers/freeze-handlers.ts';

let desk: TestDesk;
let planner: Visitor & { readonly personId: string };
let viewer: Visitor;
let caseId = '';
const sha256Of = (text: string): string => createHash('sha256').update(text).digest('hex');
const IDENTITY = { 'identity.name': 'Invented Person', 'identity.birthDate': '1944-05-17', 'identity.patientId': 'INV-0042' };

beforeAll(async () => {
  desk = await makeTestDesk({ changeHandlers: (h) => ({ ...h, ...makeFreezeHandlers(makeWhatIfDesk(() => new WorkerPool(0))) }) });
  [planner, viewer] = [await desk.enter('planner'), await desk.enter('viewer')];
  caseId = (await planner.ask('/api/cases', { method: 'POST', body: { label: 'A 7', procedureOn: '2026-12-01' } })).json<{ caseId: string }>().caseId;
  await add(Object.entries(IDENTITY).map(([field, value]) => ({ kind: 'referral.entered', data: { field, value, unit: null } })));
}, 120_000);
afterAll(() => desk.close());

const readState = async (): Promise<CaseState> => must(await desk.opened.store.readState(caseId));
const add = async (events: readonly NewCaseEvent[]) => planner.ask(`/api/cases/${caseId}/events`, { method: 'POST', body: { expectSeq: (await readState()).seq, events } });
const freeze = async (visitor: Visitor = planner, expectSeq?: number) => visitor.ask(`/api/cases/${caseId}/freeze`, { method: 'POST', body: { expectSeq: expectSeq ?? (await readState()).seq } });
const compare = (body: Record<string, string>, visitor: Visitor = planner) => visitor.ask(`/api/cases/${caseId}/identity`, { method: 'POST', body });
const readFrozen = (sha256: string, visitor: Visitor = viewer, of = caseId) => visitor.ask(`/api/cases/${of}/frozen/${sha256}`);

describe('freeze over HTTP', () => {
  test('before there is a plan nothing is frozen; a viewer freezes nothing', async () => {
    expect([(await freeze()).status, codeOf(await freeze())]).toEqual([409, 'freeze-blocked']);
    expect((await freeze(viewer)).status).toBe(403);
  });

  test('two identifiers are compared and forgotten; one alone is refused', async () => {
    expect(codeOf(await compare({ name: 'Invented Person' }))).toBe('identity-too-few');
    const differs = await compare({ patientId: 'INV-0043', birthDate: '1944-05-17' });
    expect(differs.json()).toMatchObject({ verdict: 'differs', fields: [{ field: 'name', result: 'missing' }, { field: 'birthDate', result: 'same' }, { field: 'patientId', result: 'differs' }] });
    const same = await compare({ patientId: 'inv-0042', birthDate: '1944-05-17' });
    expect(same.json()).toMatchObject({ verdict: 'same' });
    const log = JSON.stringify([must(await desk.opened.store.listEvents(caseId, 0)).filter((e) => e.kind === 'identity.checked'), must(await desk.opened.store.listAudit({ afterSeq: 0, limit: 500 }))]);
    expect(log).not.toMatch(/INV-004|inv-0042|1944-05-17/);
  });

  test('a case that lacks nothing is frozen: canonical bytes under their own hash, read by a viewer', async () => {
    await makeReadyCase(desk.opened.store, caseId, planner.personId);
    const answer = await freeze();
    expect([answer.status, answer.text.slice(0, 300)]).toEqual([200, expect.anything()]);
    const { frozenSha256, state } = answer.json<{ frozenSha256: string; state: CaseState }>();
    expect(state.frozen).toMatchObject({ frozenSha256, amends: null, differences: [], isBehind: false, by: planner.personId });
    const read = await readFrozen(frozenSha256);
    expect([read.status, sha256Of(read.text)]).toEqual([200, frozenSha256]);
    const document = read.json<FrozenDocument & Record<string, unknown>>();
    expect(formatCanonical(document)).toBe(read.text);
    expect(document).toMatchObject({ caseId, label: 'A 7', training: true, overrides: [{ code: 'training-sizes', because: 'This is a rehearsal.' }] });
    expect(read.text).not.toMatch(/Invented Person|INV-0042|1944-05-17/);
  });
});
