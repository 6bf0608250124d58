import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { codeOf, makeTestDesk, must, type Answer, type TestDesk, type Visitor } from '../../../test/support/make-desk.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import { drawRecording, GOOD_LINE } from '../../core/phantom/draw-line.ts';
import { PLAIN_CIRCULATION, simulateCirculation } from '../../core/phantom/simulate-circulation.ts';
import { succeed } from '../../core/result.ts';
import { foldRoom } from '../../core/room/fold-room.ts';
import { makeVerdictEntry } from '../../core/room/make-verdict-entry.ts';
import type { RoomEntry } from '../../core/room/room-types.ts';
import type { LiveAnswer, RecordingAnswer, ResultAnswer } from '../../formats/api/result-schemas.ts';
import { loadRhythmCase } from './load-rhythm-case.ts';
import { loadVerdictCase } from './load-verdict-case.ts';

type Entered = Visitor & { readonly personId: string };
let desk: TestDesk;
let one: Entered;
let two: Entered;
beforeAll(async () => {
  desk = await makeTestDesk();
  [one, two] = [await desk.enter('planner'), await desk.enter('operator')];
}, 120_000);
afterAll(async () => {
  expect(desk.defects).toEqual([]);
  await desk.close();
});

const ago = (s: number): string => new Date(Date.now() - s * 1000).toISOString();
const pause = (): Promise<void> => new Promise((resolve) => setTimeout(resolve, 5));
const readState = async (of: string): Promise<CaseState> => must(await desk.opened.store.readState(of));
const write = async (of: string, by: Visitor, ...events: readonly object[]): Promise<Answer> => by.ask(`/api/cases/${of}/events`, { method: 'POST', body: { expectSeq: (await readState(of)).seq, events } });
let taps = 0;
/** Each tap comes from a page of its own. */
async function tap(of: string, entry: RoomEntry, happenedAt: string = new Date().toISOString()): Promise<Answer> {
  taps += 1;
  const record = { entryId: `tap-${taps}-entry`, clientId: `client-${taps}-page`, place: 'desk', count: 1, monotonicMs: taps, clientAt: happenedAt, happenedAt, offset: { addedMs: 0, withinMs: 1 }, corrects: null, entry };
  return one.ask(`/api/cases/${of}/room`, { method: 'POST', body: { records: [record] } });
}
const readRoom = async (of: string) => foldRoom(must(await desk.opened.store.listRecords(of, 0)).map(({ data, by, seq }) => ({ ...data, by, seq })));
const CSV = ((): string => {
  const { channels: [ao, lv] } = drawRecording(simulateCirculation({ ...PLAIN_CIRCULATION, leakAreaCm2: 0 }, 14, 250, 3), { aortic: GOOD_LINE, ventricular: GOOD_LINE }, 1);
  return `time [s],AO [mmHg],LV [mmHg]\n${Array.from(ao!.samples, (p, i) => `${(i / 250).toFixed(3)},${p.toFixed(2)},${lv!.samples[i]!.toFixed(2)}`).join('\n')}\n`;
})();
const hand = async (of: string): Promise<RecordingAnswer> =>
  (await one.ask(`/api/cases/${of}/recordings?${new URLSearchParams({ moment: 'after', takenAt: ago(20), ending: 'csv' })}`, { method: 'POST', raw: CSV, headers: { 'content-type': 'application/octet-stream', 'x-trinadir-because': encodeURIComponent('Seen at the recorder') } })).json<RecordingAnswer>();
const grade = (of: string, by: Visitor): Promise<Answer> => by.ask(`/api/cases/${of}/grades`, { method: 'POST', body: { of: 'overall', low: 1, high: 1, takenAt: ago(1), heartRatePerMin: 72, loadingNote: 'awake' } });
const show = (of: string, by: Visitor): Promise<Answer> => by.ask(`/api/cases/${of}/verdict`, { method: 'POST', body: {} });
const result = async (of: string, by: Visitor): Promise<ResultAnswer> => (await by.ask(`/api/cases/${of}/result`)).json<ResultAnswer>();

async function openCase(): Promise<string> {
  const caseId = (await one.ask('/api/cases', { method: 'POST', body: { label: 'B 4', procedureOn: null } })).json<{ caseId: string }>().caseId;
  const tables = (await one.ask('/api/tables')).json<{ kind: string; sha256: string }[]>();
  const of = (kind: string): string => tables.find((t) => t.kind === kind)!.sha256;
  expect((await write(caseId, one, { kind: 'tables.chosen', data: { devicesSha256: of('devices'), rulesSha256: of('rules') } })).status).toBe(200);
  return caseId;
}
/** A case that was released, both readers present and graded, the verdict shown to the first. */
async function openShown(): Promise<{ readonly caseId: string; readonly shown: ResultAnswer }> {
  const caseId = await openCase();
  await tap(caseId, { is: 'phase', phase: 'released' }, ago(60));
  await write(caseId, one, { kind: 'readers.present', data: { personIds: [one.personId, two.personId] } });
  for (const by of [one, two]) await grade(caseId, by);
  const shown = await show(caseId, one);
  expect(shown.status).toBe(200);
  await pause();
  return { caseId, shown: shown.json<ResultAnswer>() };
}

describe('rounds of grading', () => {
  test('a page that has not heard of the balloon cannot put the last round’s verdict on the wall; a tap that was late can', async () => {
    const { caseId, shown } = await openShown();
    const entry = makeVerdictEntry(shown.verdict, shown.answerSha256!)!;
    const before = new Date().toISOString();
    await pause();
    expect((await tap(caseId, { is: 'dilated', balloonMm: 22, when: 'after' })).status).toBe(200);
    await pause();
    const refused = await tap(caseId, entry);
    expect([refused.status, codeOf(refused), (await readRoom(caseId)).verdict]).toEqual([422, 'verdict-not-shown', null]);
    // It was on its way when the balloon went in: it is logged, and void.
    expect((await tap(caseId, entry, before)).status).toBe(200);
    expect((await readRoom(caseId)).verdict).toMatchObject({ voidBy: { what: 'dilated' } });
  });

  test('the turn to another valve after release begins a round: all grade again', async () => {
    const { caseId } = await openShown();
    expect((await tap(caseId, { is: 'phase', phase: 'valve-in' })).status).toBe(200);
    await pause();
    expect(codeOf(await show(caseId, one))).toBe('grade-first');
    expect((await result(caseId, two)).grades.map((g) => g.by)).toEqual([two.personId]);
    for (const by of [one, two]) await grade(caseId, by);
    expect((await show(caseId, two)).status).toBe(200);
  });

  test('reading the result tells the verdict that was logged as shown, until a newer one is asked for', async () => {
    const { caseId, shown } = await openShown();
    await hand(caseId);
    const again = await result(caseId, one);
    expect([again.answerSha256, again.verdict.verdict]).toEqual([shown.answerSha256, shown.verdict.verdict]);
    const newer = (await show(caseId, one)).json<ResultAnswer>();
    expect(newer.verdict.verdict).not.toEqual(shown.verdict.verdict);
    expect((await result(caseId, one)).answerSha256).toBe(newer.answerSha256);
  });

  test('a decision names a verdict that was shown, not what else was kept of the case', async () => {
    const { caseId, shown } = await openShown();
    const decide = async (answerSha256: string): Promise<string> => codeOf(await write(caseId, one, { kind: 'result.decided', data: { decision: 'finish', because: 'As agreed', answerSha256 } }));
    const grades = (await readState(caseId)).result.shown.find((s) => s.what === 'grades')!;
    expect(await decide(grades.answerSha256)).toBe('event-not-here');
    expect(await decide(shown.answerSha256!)).toBe('none');
  });
});

describe('what was handed in', () => {
  test('a recording that was withdrawn by mistake joins again when it is handed in again', async () => {
    const caseId = await openCase();
    const { recordingId } = await hand(caseId);
    expect((await write(caseId, one, { kind: 'witness.withdrawn', data: { of: recordingId, because: 'By mistake' } })).status).toBe(200);
    expect((await hand(caseId)).recordingId).toBe(recordingId);
    expect((await readState(caseId)).result.recordings).toMatchObject([{ recordingId, withdrawn: null }]);
  });

  test('what is said to be taken on a later day is refused, on whatever way it comes', async () => {
    const caseId = await openCase();
    const { recordingId } = await hand(caseId);
    const note = { takenAt: '2400-01-01T00:00:00.000Z', heartRatePerMin: 72, loadingNote: 'awake' };
    const angiogram = await one.ask(`/api/cases/${caseId}/angiograms`, { method: 'POST', body: { runId: 'run-none', regions: null, frames: null, ratePerMin: null, said: { isBreathHeld: null, isPaced: null, isTableMoved: null, hasOverlap: null }, ...note } });
    const events = await Promise.all([{ kind: 'witness.noted', data: { of: recordingId, ...note } }, { kind: 'echo.begun', data: { echoId: 'echo-late', takenAt: note.takenAt } }].map((event) => write(caseId, one, event)));
    expect([angiogram, ...events].map(codeOf)).toEqual(['taken-in-future', 'taken-in-future', 'taken-in-future']);
  });

  test('a stream that cannot be kept is not lost: it is kept at the next try', async () => {
    const caseId = await openCase();
    const { liveId } = (await one.ask(`/api/cases/${caseId}/live`, { method: 'POST', body: { channels: null } })).json<LiveAnswer>();
    expect((await one.ask(`/api/cases/${caseId}/live/${liveId}`, { method: 'POST', raw: CSV, headers: { 'content-type': 'text/csv' } })).status).toBe(200);
    const end = (takenAt: string): Promise<Answer> => one.ask(`/api/cases/${caseId}/live/${liveId}/end`, { method: 'POST', body: { keep: { moment: 'after', takenAt } } });
    expect(codeOf(await end('2400-01-01T00:00:00.000Z'))).toBe('taken-in-future');
    expect((await end(ago(1))).json<RecordingAnswer>().answer?.rhythm.beats).toBeGreaterThan(8);
    expect(codeOf(await end(ago(1)))).toBe('live-unknown');
    expect(readdirSync(join(desk.folder, 'data', 'pixels', 'incoming'))).toEqual([]);
  });

  test('while the patient in the room may be another, neither verdict nor rhythm reads a plan', async () => {
    const caseId = await openCase();
    const state = await readState(caseId);
    const line = { frozenSha256: 'f'.repeat(64), planSha256: 'e'.repeat(64), amends: null, differences: [], by: 'x', at: ago(9), seq: 1, isBehind: true };
    const read: string[] = [];
    const load = async (isOfAnother: boolean) => {
      read.length = 0;
      const source = { state: { ...state, tables: { ...state.tables, rulesSha256: null }, plan: { ...state.plan!, planSha256: 'e'.repeat(64) }, frozen: { ...line, isOfAnother } }, records: [], readDocument: async (sha256: string) => (read.push(sha256), succeed('{"plan":null,"device":{"sizes":[]},"choice":{}}')) };
      return [must(await loadVerdictCase(source, ago(0), () => false)), must(await loadRhythmCase(source, ago(0)))] as const;
    };
    await load(false);
    expect(read).toEqual([line.frozenSha256, line.frozenSha256]);
    const [verdict, rhythm] = await load(true);
    expect([read, verdict.frozen, verdict.plan, rhythm.plan, rhythm.chosen]).toEqual([[], null, null, null, null]);
  });
});
