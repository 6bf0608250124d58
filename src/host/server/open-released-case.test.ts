import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeStoredPlan } from '../../../test/support/frozen-fixture.ts';
import { makeTestDesk, must, type TestDesk } from '../../../test/support/make-desk.ts';
import type { DepthReading } from '../../core/projection/depth-types.ts';
import { foldRoom } from '../../core/room/fold-room.ts';
import { writeTrainingRecords } from '../cli/write-training-records.ts';
import { openReleasedCase } from './open-released-case.ts';
import { openTrainingCase } from './open-training-case.ts';

const DEPTH: DepthReading = { depthMm: 4, lowMm: 3.2, highMm: 4.8, state: 'corrected', by: 'marks', views: [{ primaryDeg: 0, secondaryDeg: 0 }, { primaryDeg: 40, secondaryDeg: 0 }], cusp: 'N', edge: 'inflow', clicks: 4, unsheathedRatio: null };
const RELEASED = 'training-case-released';
let desk: TestDesk;
let personId = '';
let planned = '';
beforeAll(async () => {
  desk = await makeTestDesk();
  const { store } = desk.opened;
  ({ caseId: planned, personId } = must(await openTrainingCase(store)));
  const planSha256 = must(await store.putDocument('plan', makeStoredPlan().planText)).sha256;
  const { seq } = must(await store.readState(planned));
  must(await store.append({ caseId: planned, expectSeq: seq, by: 'trinadir', events: [{ kind: 'plan.made', data: { planSha256, surveySha256: null, basedOnSeq: seq } }] }));
  await writeTrainingRecords(join(desk.folder, 'records'), 101);
  must(await openReleasedCase(desk.server.services, { planned, caseId: RELEASED, by: personId, recordsFolder: join(desk.folder, 'records'), depth: DEPTH }));
}, 240_000);
afterAll(() => desk.close());

describe('the training case after release', () => {
  test('is a training case of its own: frozen, released after it was frozen, with every record in', async () => {
    const { store } = desk.opened;
    const state = must(await store.readState(RELEASED));
    expect(state).toMatchObject({ training: true, label: 'Training case, after release', plan: { isStale: false }, frozen: { isBehind: false } });
    expect(state.result.recordings.map((r) => [r.moment, r.refusal])).toEqual([['baseline', null], ['after', null]]);
    expect([state.result.echoes.length, state.result.angiograms.length, Object.keys(state.result.ecgs).sort()]).toEqual([1, 1, ['baseline', 'post']]);
    const events = must(await store.listEvents(RELEASED, 0));
    const place = (kind: string): number => events.findIndex((e) => e.kind === kind);
    const room = foldRoom(must(await store.listRecords(RELEASED, 0)).map(({ data, by, seq }) => ({ ...data, by, seq })));
    expect([room.depth?.reading.depthMm, room.depth?.before ?? null, room.releasedAt !== null, room.phase?.phase]).toEqual([DEPTH.depthMm, null, true, 'result']);
    expect(place('plan.frozen')).toBeLessThan(place('room.logged'));
    expect(events.every((e, k) => k === 0 || e.at >= events[k - 1]!.at)).toBe(true);
    must(await store.verifyChains());
  });

  test('nobody has graded: the visitor is the reader whose own grade opens the verdict', async () => {
    const state = must(await desk.opened.store.readState(RELEASED));
    expect([state.result.grades, state.result.shown, state.result.readers?.personIds]).toEqual([[], [], [personId]]);
    expect(JSON.stringify(must(await desk.opened.store.listEvents(RELEASED, 0)))).not.toMatch(/grade\.sealed|verdict\.shown/);
  });

  test('the first case stays as it was: planned, not frozen, nothing handed in, so that its visitor walks it', async () => {
    const state = must(await desk.opened.store.readState(planned));
    expect([state.frozen, state.result.recordings, state.result.readers]).toEqual([null, [], null]);
    expect(must(await desk.opened.store.listRecords(planned, 0))).toEqual([]);
  });
});
