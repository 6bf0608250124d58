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

describe('after a freeze', () => {
  const last = async (): Promise<CaseState> => readState();
  test('a state the person has not seen is not frozen, and nothing is frozen twice', async () => {
    const { seq, frozen } = await last();
    const again = await freeze();
    expect([again.status, codeOf(again)]).toEqual([409, 'freeze-unchanged']);
    expect((await add([{ kind: 'huddle.entered', data: { field: 'team.echo', value: 'Colleague Nine' } }])).status).toBe(200);
    await add([{ kind: 'blocker.overridden', data: { code: 'training-sizes', because: 'This is a rehearsal.' } }]);
    const unseen = await freeze(planner, seq);
    expect([unseen.status, codeOf(unseen)]).toEqual([409, 'case-changed']);
    expect(unseen.json<{ newer: unknown[] } & Record<string, unknown>>().newer).toHaveLength(2);
    expect((await last()).frozen).toMatchObject({ frozenSha256: frozen!.frozenSha256, isBehind: true });
  });

  test('an amendment is linked to the plan before and says what differs; both are still read, neither by another case', async () => {
    const first = (await last()).frozen!.frozenSha256;
    const answer = await freeze();
    expect(answer.status).toBe(200);
    const { frozenSha256, state } = answer.json<{ frozenSha256: string; state: CaseState }>();
    expect(state.frozen).toMatchObject({ amends: first, differences: ['huddle.team.echo'], isBehind: false });
    for (const sha256 of [first, frozenSha256]) expect((await readFrozen(sha256)).status).toBe(200);
    const other = (await planner.ask('/api/cases', { method: 'POST', body: { label: 'B 8', procedureOn: null } })).json<{ caseId: string }>().caseId;
    for (const sha256 of [frozenSha256, state.plan!.planSha256, 'a'.repeat(64)]) expect([(await readFrozen(sha256, viewer, other)).status, codeOf(await readFrozen(sha256, viewer, other))]).toEqual([404, 'frozen-unknown']);
    expect(codeOf(await readFrozen(state.plan!.planSha256))).toBe('frozen-unknown'); // a plan is no frozen plan
  });

  test('another choice is frozen with a forecast of its own; the same draws give the same bytes', async () => {
    await add([{ kind: 'huddle.entered', data: { field: 'depth.startMm', value: 4 } }]);
    expect(codeOf(await freeze())).toBe('freeze-blocked');
    for (const code of ['choice-not-forecast', 'training-sizes']) expect((await add([{ kind: 'blocker.overridden', data: { code, because: 'Seen on the dry run.' } }])).status).toBe(200);
    const answer = await freeze();
    const document = (await readFrozen(answer.json<{ frozenSha256: string }>().frozenSha256)).json<FrozenDocument & Record<string, unknown>>();
    expect([document.choice.startMm, document.plan.release?.startMm, document.plan.landing?.startMm]).toEqual([4, 4, 4]);
    expect(document.differences).toContain('choice.startMm');
  }, 120_000);

  test('what cannot be overridden, stands no more, or fits no item is refused; a viewer enters nothing', async () => {
    const { seq } = await last();
    const put = (kind: string, data: object) => planner.ask(`/api/cases/${caseId}/events`, { method: 'POST', body: { expectSeq: seq, events: [{ kind, data }] } });
    expect(codeOf(await put('blocker.overridden', { code: 'plan-stale', because: 'no time' }))).toBe('override-not-allowed');
    expect(codeOf(await put('blocker.overridden', { code: 'kit-snare', because: 'no time' }))).toBe('override-not-allowed');
    expect(codeOf(await put('huddle.entered', { field: 'access.side', value: 'west' }))).toBe('entry-invalid');
    expect(codeOf(await put('huddle.entered', { field: 'identity.name', value: 'Invented Person' }))).toBe('entry-invalid');
    expect((await put('plan.frozen', { frozenSha256: 'a'.repeat(64) })).status).toBe(400); // no person writes what the tool finds
    expect((await put('identity.checked', { verdict: 'same', fields: [] })).status).toBe(400);
    expect((await compare({ patientId: 'INV-0042', birthDate: '1944-05-17' }, viewer)).status).toBe(403);
    expect(must(await desk.opened.store.verifyChains()).cases).toBe(2);
    expect(desk.defects).toEqual([]);
  });
});
