import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { zipSync } from 'fflate';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { codeOf, makeTestDesk, must, type Answer, type TestDesk, type Visitor } from '../../../test/support/make-desk.ts';
import { makeRunFile } from '../../../test/support/make-run-file.ts';
import type { ContrastAnswer } from '../../core/angiogram/contrast-types.ts';
import { computeDensityRatio } from '../../core/angiogram/density-ratio.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { SealedGrade } from '../../core/case/result-events.ts';
import type { Recording } from '../../core/haemodynamics/recording-types.ts';
import { drawRecording, GOOD_LINE } from '../../core/phantom/draw-line.ts';
import { drawContrastRun, PLAIN_CONTRAST } from '../../core/phantom/contrast-run.ts';
import { PLAIN_CIRCULATION, simulateCirculation } from '../../core/phantom/simulate-circulation.ts';
import { makeVerdictEntry, type VerdictEntry } from '../../core/room/make-verdict-entry.ts';
import type { RoomEntry } from '../../core/room/room-types.ts';
import type { EchoFileAnswer, LiveAnswer, RecordingAnswer, ResultAnswer, TraceAnswer } from '../../formats/api/result-schemas.ts';
import { readStored } from '../case-file/open-stored-case.ts';
import { verifyCase } from '../case-file/verify-case.ts';
import { fail } from '../../core/result.ts';
import { packContrastRun } from '../contrast/write-contrast-run.ts';
import { makeHandlers } from './make-handlers.ts';
import { serveDesk } from './serve-desk.ts';
import { makeUploadDoor } from './upload-door.ts';

type Entered = Visitor & { readonly personId: string };
const DATA = fileURLToPath(new URL('../../../../shared/data', import.meta.url));
const ECG_DATA = join(DATA, 'abp-ecg');
const WAVEFORM = join(DATA, 'dicom-torture', 'waveform', 'hemodynamic_waveform_deflated.dcm');
const ECHO = fileURLToPath(new URL('../../../test/reference/echo', import.meta.url));
const [REPORT, PICTURE] = [join(ECHO, 'adult-explicit.dcm'), join(ECHO, 'us-spectrum.dcm')];
const TAKEN = '2026-03-02T10:14:00.000Z';
let desk: TestDesk;
let one: Entered;
let two: Entered;
let viewer: Entered;
beforeAll(async () => {
  desk = await makeTestDesk();
  [one, two, viewer] = [await desk.enter('planner'), await desk.enter('operator'), await desk.enter('viewer')];
}, 120_000);
afterAll(async () => {
  expect(desk.defects).toEqual([]);
  await desk.close();
});

async function openCase(training = false): Promise<string> {
  const opened = (await one.ask('/api/cases', { method: 'POST', body: { label: 'B 3', procedureOn: null } })).json<{ caseId: string }>().caseId;
  const items = { 'identity.name': 'Invented Person', 'identity.birthDate': '1944-05-17', 'identity.patientId': 'INV-0042' };
  expect((await write(opened, one, ...Object.entries(items).map(([field, value]) => ({ kind: 'referral.entered', data: { field, value, unit: null } })))).status).toBe(200);
  if (training) {
    const tables = (await one.ask('/api/tables')).json<{ kind: string; sha256: string }[]>();
    const of = (kind: string): string => tables.find((t) => t.kind === kind)!.sha256;
    expect((await write(opened, one, { kind: 'tables.chosen', data: { devicesSha256: of('devices'), rulesSha256: of('rules') } })).status).toBe(200);
  }
  return opened;
}
const readState = async (of: string): Promise<CaseState> => must(await desk.opened.store.readState(of));
const write = async (of: string, by: Visitor, ...events: readonly object[]): Promise<Answer> => by.ask(`/api/cases/${of}/events`, { method: 'POST', body: { expectSeq: (await readState(of)).seq, events } });

/** Pressures of an invented circulation as a recorder exports them. */
const writeCsv = ({ channels: [ao, lv] }: Recording): string => `time [s],AO [mmHg],LV [mmHg]\n${Array.from(ao!.samples, (p, i) => `${(i / 250).toFixed(3)},${p.toFixed(2)},${lv!.samples[i]!.toFixed(2)}`).join('\n')}\n`;
const draw = (leakAreaCm2: number, seconds: number, s: number): string => writeCsv(drawRecording(simulateCirculation({ ...PLAIN_CIRCULATION, leakAreaCm2 }, seconds, 250, s), { aortic: GOOD_LINE, ventricular: GOOD_LINE }, 1));
const CSV = draw(0, 14, 3);
const BECAUSE = { 'x-trinadir-because': encodeURIComponent('Seen at the recorder by two') };
const hand = (of: string, raw: string | Uint8Array, query: Readonly<Record<string, string>> = {}, headers: Readonly<Record<string, string>> = BECAUSE, by: Visitor = one): Promise<Answer> =>
  by.ask(`/api/cases/${of}/recordings?${new URLSearchParams({ moment: 'after', takenAt: TAKEN, ending: 'csv', ...query })}`, { method: 'POST', raw, headers: { 'content-type': 'application/octet-stream', ...headers } });
const listIncoming = (): string[] => readdirSync(join(desk.folder, 'data', 'pixels', 'incoming'));

let taps = 0;
async function tap(of: string, entry: RoomEntry, happenedAt: string = new Date().toISOString()): Promise<void> {
  taps += 1;
  const record = { entryId: `tap-${taps}-entry`, clientId: `client-${of.slice(0, 8)}`, place: 'desk', count: taps, monotonicMs: taps, clientAt: happenedAt, happenedAt, offset: { addedMs: 0, withinMs: 1 }, corrects: null, entry };
  expect((await one.ask(`/api/cases/${of}/room`, { method: 'POST', body: { records: [record] } })).status).toBe(200);
}
const pause = (ms = 3): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));
const grade = (of: string, by: Visitor, low: number, high: number, more: object = {}): Promise<Answer> =>
  by.ask(`/api/cases/${of}/grades`, { method: 'POST', body: { of: 'overall', low, high, takenAt: TAKEN, heartRatePerMin: 72, loadingNote: 'LOADING-OF-THE-GRADE', ...more } });
const result = async (of: string, by: Visitor): Promise<ResultAnswer> => (await by.ask(`/api/cases/${of}/result`)).json<ResultAnswer>();
const show = (of: string, by: Visitor): Promise<Answer> => by.ask(`/api/cases/${of}/verdict`, { method: 'POST', body: {} });
const verify = async (of: string) => verifyCase(must(await readStored(of, desk.opened.store, async () => {})));

describe('recordings of pressures over HTTP', () => {
  let caseId = '';
  beforeAll(async () => void (caseId = await openCase()));

  test('a recording that names nobody is not taken for this patient; with a reason it joins, is measured and shown as curves', async () => {
    const refused = await hand(caseId, CSV, {}, {});
    expect([refused.status, codeOf(refused)]).toEqual([422, 'file-identity-open']);
    expect((await readState(caseId)).result.recordings).toEqual([]);
    expect(listIncoming()).toEqual([]);
    const joined = await hand(caseId, CSV);
    expect(joined.status).toBe(200);
    const { recordingId, answer, answerSha256 } = joined.json<RecordingAnswer>();
    expect(answer!.aortic.systolic.value).toBeGreaterThan(80);
    expect((await readState(caseId)).result.recordings[0]).toMatchObject({ recordingId, answerSha256, moment: 'after', format: 'csv', channels: null, takenAt: TAKEN, identity: { verdict: 'not comparable', acceptedBecause: 'Seen at the recorder by two' } });
    expect((await viewer.ask(`/api/cases/${caseId}/recordings/${recordingId}`)).json()).toEqual(joined.json());
    const trace = (await viewer.ask(`/api/cases/${caseId}/recordings/${recordingId}/trace?fromS=2&toS=4&columns=100`)).json<TraceAnswer>();
    expect(trace.channels.map((c) => [c.kind, c.lows.length])).toEqual([['aortic', 100], ['ventricular', 100]]);
    // The picture keeps each beat's peak: it is the answer's, within the beats' own spread.
    expect(Math.abs(Math.max(...trace.channels[0]!.highs.map((v) => v ?? 0)) - answer!.aortic.systolic.value!)).toBeLessThan(8);
    for (const [column, low] of trace.channels[0]!.lows.entries()) expect(low! <= trace.channels[0]!.highs[column]!).toBe(true);
    expect(listIncoming()).toEqual([]);
  });

  test('the same file again is the same recording; of another moment it is another', async () => {
    const { seq, result: { recordings } } = await readState(caseId);
    expect((await hand(caseId, CSV)).json<RecordingAnswer>().recordingId).toBe(recordings[0]!.recordingId);
    expect((await readState(caseId)).seq).toBe(seq);
    expect((await hand(caseId, CSV, { moment: 'baseline' })).json<RecordingAnswer>().recordingId).not.toBe(recordings[0]!.recordingId);
  });

  test('a file without a pressure joins with its refusal, in words', async () => {
    const answer = (await hand(caseId, 'time [s],note [V]\n' + Array.from({ length: 400 }, (_, i) => `${(i / 100).toFixed(2)},${i % 7}`).join('\n'))).json<RecordingAnswer>();
    expect(answer).toMatchObject({ answer: null, answerSha256: null, refusal: { code: 'no-pressure-channel' } });
    expect((await viewer.ask(`/api/cases/${caseId}/recordings/${answer.recordingId}`)).json()).toEqual(answer);
  });

  test('refusals by code: no recording, a time ahead, an unread reason, a viewer, one that is not there', async () => {
    expect(codeOf(await hand(caseId, Uint8Array.of(0, 1, 2, 3, 255)))).toBe('recording-format-unknown');
    expect(codeOf(await hand(caseId, CSV, { takenAt: '2400-01-01T00:00:00.000Z' }))).toBe('taken-in-future');
    expect(codeOf(await hand(caseId, CSV, {}, { 'x-trinadir-because': 'x' }))).toBe('request-invalid');
    expect(codeOf(await hand(caseId, CSV, { channels: 'nonsense' }))).toBe('channel-choice-invalid');
    expect((await hand(caseId, CSV, {}, BECAUSE, viewer)).status).toBe(403);
    expect((await one.ask(`/api/cases/${caseId}/recordings/recording-none`)).status).toBe(404);
    const [first] = (await readState(caseId)).result.recordings;
    expect(codeOf(await one.ask(`/api/cases/${caseId}/recordings/${first!.recordingId}/trace?fromS=900`))).toBe('trace-range');
    expect(listIncoming()).toEqual([]);
  });

  test.skipIf(!existsSync(ECG_DATA))('a WFDB record comes as a ZIP of its parts; without its header, or with two records, it is refused', async () => {
    const part = (name: string): Uint8Array => readFileSync(join(ECG_DATA, name));
    const parts = { 'record/041s.hea': part('041s.hea'), 'record/041s01.hea': part('041s01.hea'), 'record/041s01.dat': part('041s01.dat'), 'record/041s02.hea': part('041s02.hea'), 'record/041s02.dat': part('041s02.dat') };
    const joined = await hand(caseId, zipSync(parts), { ending: 'zip' });
    expect([joined.status, joined.json<RecordingAnswer>().answer?.rhythm.beats ?? 0]).toEqual([200, expect.any(Number)]);
    expect((await readState(caseId)).result.recordings.at(-1)!.format).toBe('wfdb');
    expect(codeOf(await hand(caseId, zipSync({ '041s01.dat': part('041s01.dat') }), { ending: 'zip' }))).toBe('recording-zip-record');
    expect(codeOf(await hand(caseId, zipSync({ '041s01.hea': part('041s01.hea'), '041s01.dat': part('041s01.dat'), '041s02.hea': part('041s02.hea'), '041s02.dat': part('041s02.dat') }), { ending: 'zip' }))).toBe('recording-zip-record');
    expect(codeOf(await hand(caseId, Uint8Array.of(0x50, 0x4b, 3, 4, 9, 9, 9), { ending: 'zip' }))).toBe('not-zip');
  });
});

describe('pressures as they come', () => {
  let caseId = '';
  beforeAll(async () => void (caseId = await openCase()));
  const open = (of = caseId, channels: string | null = null): Promise<Answer> => one.ask(`/api/cases/${of}/live`, { method: 'POST', body: { channels } });
  const append = (liveId: string, raw: string, of = caseId): Promise<Answer> => one.ask(`/api/cases/${of}/live/${liveId}`, { method: 'POST', raw, headers: { 'content-type': 'text/csv' } });
  const end = (liveId: string, keep: object | null, of = caseId): Promise<Answer> => one.ask(`/api/cases/${of}/live/${liveId}/end`, { method: 'POST', body: { keep } });

  test('parts cut anywhere are answered beat by beat, and what is kept is a recording with the same numbers', async () => {
    const { liveId } = (await open()).json<LiveAnswer>();
    expect(codeOf(await open())).toBe('live-busy');
    let beats = 0;
    for (let at = 0; at < CSV.length; at += 15_001) beats += (await append(liveId, CSV.slice(at, at + 15_001))).json<LiveAnswer>().beats.length;
    expect(beats).toBeGreaterThan(8);
    const kept = (await end(liveId, { moment: 'after', takenAt: TAKEN })).json<RecordingAnswer>();
    const whole = (await hand(await openCase(), CSV)).json<RecordingAnswer>();
    expect(kept.answer!.aortic.systolic.value).toBe(whole.answer!.aortic.systolic.value);
    expect((await readState(caseId)).result.recordings[0]).toMatchObject({ format: 'csv', identity: { verdict: 'not comparable', acceptedBecause: 'Taken live at this case.' } });
    expect(codeOf(await append(liveId, 'x'))).toBe('live-unknown');
    expect(listIncoming()).toEqual([]);
  });

  test('what is not kept is forgotten; a stream of another case, a broken one and one of nothing are refused', async () => {
    const { liveId } = (await open()).json<LiveAnswer>();
    expect(codeOf(await append(liveId, 'a', await openCase()))).toBe('live-unknown');
    expect(codeOf(await end(liveId, { moment: 'after', takenAt: TAKEN }))).toBe('live-empty');
    expect((await append(liveId, CSV.slice(0, 2000))).status).toBe(200);
    expect((await end(liveId, null)).json()).toBeNull();
    const before = (await readState(caseId)).result.recordings.length;
    const broken = (await open()).json<LiveAnswer>();
    expect(codeOf(await append(broken.liveId, `time [s],note [V]\n${Array.from({ length: 300 }, (_, i) => `${i / 100},${i % 5}`).join('\n')}\n`))).toBe('no-pressure-channel');
    expect(codeOf(await append(broken.liveId, '3,4\n'))).toBe('live-unknown');
    expect((await one.ask(`/api/cases/${caseId}/live/${broken.liveId}`, { method: 'POST', body: {} })).status).toBe(415);
    expect((await readState(caseId)).result.recordings).toHaveLength(before);
    expect(listIncoming()).toEqual([]);
  });
});

describe('own grade first', () => {
  let caseId = '';
  beforeAll(async () => {
    caseId = await openCase(true);
    await tap(caseId, { is: 'phase', phase: 'released' }, new Date(Date.now() - 60_000).toISOString());
    expect((await write(caseId, one, { kind: 'readers.present', data: { personIds: [one.personId, two.personId] } })).status).toBe(200);
    const at = new Date(Date.now() - 30_000).toISOString();
    const { recordingId } = (await hand(caseId, draw(0, 14, 5), { takenAt: at })).json<RecordingAnswer>();
    expect((await write(caseId, one, { kind: 'witness.noted', data: { of: recordingId, takenAt: at, heartRatePerMin: 72, loadingNote: 'awake' } }, { kind: 'echo.begun', data: { echoId: 'echo-one', takenAt: at } },
      { kind: 'witness.noted', data: { of: 'echo-one', takenAt: at, heartRatePerMin: 72, loadingNote: 'awake' } }, { kind: 'echo.entered', data: { echoId: 'echo-one', field: 'circumference', value: 5, trace: null } })).status).toBe(200);
  }, 60_000);

  /** Everything that this person can read of the case over HTTP. */
  async function readAll(by: Visitor): Promise<string> {
    const state = await readState(caseId);
    const paths = ['', '/events', '/result', '/room', ...state.result.grades.flatMap(({ sealedSha256: s }) => [`/plans/${s}`, `/surveys/${s}`, `/landmarks/${s}`, `/frozen/${s}`]), ...state.result.shown.map(({ answerSha256: s }) => `/plans/${s}`)];
    const texts = await Promise.all(paths.map(async (path) => (await by.ask(`/api/cases/${caseId}${path}`)).text));
    const documents = await Promise.all([...state.result.grades.map((g) => g.sealedSha256), ...state.result.shown.map((s) => s.answerSha256)].map(async (sha256) => (await by.ask(`/api/tables/${sha256}`)).text));
    const feed = await fetch(`${desk.origin}/api/cases/${caseId}/feed`, { headers: { cookie: by.cookie, 'last-event-id': '0' } });
    const reader = feed.body!.getReader();
    const first = new TextDecoder().decode((await reader.read()).value);
    await reader.cancel();
    return [...texts, ...documents, first].join('\n');
  }

  test('while the gate is closed nobody but its author can read a sealed grade, anywhere', async () => {
    const closed = await result(caseId, one);
    expect(closed).toMatchObject({ answerSha256: null, grades: [], verdict: { verdict: null, remedies: null, settling: [], gate: { isOpen: false, waitingFor: [one.personId, two.personId] } } });
    const given = await grade(caseId, one, 1.37, 3.91);
    expect(given.json<ResultAnswer>().grades.map((g) => [g.by, g.low, g.high])).toEqual([[one.personId, 1.37, 3.91]]);
    expect(given.json<ResultAnswer>().verdict.verdict).toBeNull();
    const sealed = (await readState(caseId)).result.grades[0]!;
    const document = JSON.parse(must(await desk.opened.store.readDocument(sealed.sealedSha256)).text) as SealedGrade;
    expect(document).toMatchObject({ low: 1.37, high: 3.91 });
    expect(document.nonce).toMatch(/^[0-9a-f]{32}$/);
    for (const by of [two, viewer]) expect(await readAll(by)).not.toMatch(/LOADING-OF-THE-GRADE|1\.37|3\.91|nonce/);
    expect(await readAll(one)).toContain('LOADING-OF-THE-GRADE');
  });

  test('the verdict is refused to both until the second has graded, and to whoever has no grade', async () => {
    for (const by of [one, two]) expect([(await show(caseId, by)).status, codeOf(await show(caseId, by))]).toEqual([409, 'grade-first']);
    expect((await show(caseId, viewer)).status).toBe(403);
    const third = await desk.enter('operator');
    await pause();
    const second = (await grade(caseId, two, 0, 1)).json<ResultAnswer>();
    // The second now sees the first's, and the log says that it was shown.
    expect(second.grades.map((g) => g.by).sort()).toEqual([one.personId, two.personId].sort());
    expect((await readState(caseId)).result.shown).toMatchObject([{ what: 'grades', by: two.personId }]);
    expect(second.verdict.verdict).toBeNull();
    expect(codeOf(await show(caseId, third))).toBe('grade-first');
    expect((await result(caseId, third)).grades).toEqual([]);
  });

  test('then it is shown, kept and logged once for each; the log proves the order', async () => {
    const shown = await show(caseId, one);
    expect(shown.status).toBe(200);
    const answer = shown.json<ResultAnswer>();
    expect(answer.isTraining).toBe(true);
    expect(answer.verdict.verdict!.speaking.map((w) => w.kind)).toEqual(['pressure', 'echo']);
    expect(answer.verdict.remedies).toHaveLength(6);
    expect(must(await desk.opened.store.readDocument(answer.answerSha256!)).kind).toBe('verdict');
    expect((await show(caseId, one)).status).toBe(200);
    expect((await readState(caseId)).result.shown.filter((s) => s.what === 'verdict')).toMatchObject([{ by: one.personId }]);
    // Asked again without having been shown: still hidden for the other.
    expect((await result(caseId, two)).verdict.verdict).toBeNull();
    expect((await result(caseId, one)).verdict.verdict!.word).toBe(answer.verdict.verdict!.word);
    expect(await verify(caseId)).toMatchObject({ ok: true });
    const decided = (sha256: string) => write(caseId, one, { kind: 'result.decided', data: { decision: 'finish', because: 'As agreed at the table', answerSha256: sha256 } });
    expect((await decided(answer.answerSha256!)).status).toBe(200);
    expect(codeOf(await decided('a'.repeat(64)))).toBe('event-not-here');
    // The same verdict again is the same document; one that says something else is logged, so that it can be decided over.
    expect((await show(caseId, one)).json<ResultAnswer>().answerSha256).toBe(answer.answerSha256);
    expect((await write(caseId, one, { kind: 'result.entered', data: { field: 'circulation.isStable', value: true } })).status).toBe(200);
    const other = (await show(caseId, one)).json<ResultAnswer>();
    expect(other.answerSha256).not.toBe(answer.answerSha256);
    expect((await readState(caseId)).result.shown.filter((s) => s.what === 'verdict').map((s) => s.answerSha256)).toEqual([answer.answerSha256, other.answerSha256]);
    expect((await decided(other.answerSha256!)).status).toBe(200);
  });

  test('a balloon begins a new round: all grade again, and nothing of the last round is shown for this one', async () => {
    await tap(caseId, { is: 'dilated', balloonMm: 22, when: 'after' });
    await pause();
    expect(codeOf(await show(caseId, one))).toBe('grade-first');
    const closed = await result(caseId, two);
    expect(closed).toMatchObject({ answerSha256: null, verdict: { verdict: null, gate: { isOpen: false } } });
    expect(closed.grades.every((g) => g.by === two.personId)).toBe(true);
    await grade(caseId, one, 0, 1);
    await grade(caseId, two, 0, 0);
    const again = (await show(caseId, two)).json<ResultAnswer>();
    // Readings of before the balloon do not speak for after it.
    expect(again.verdict.verdict!.word).toBe('CANNOT SAY');
    expect(again.verdict.verdict!.silent.every((w) => w.reasons.some((r) => r.code === 'witness-before-manoeuvre'))).toBe(true);
    expect(await verify(caseId)).toMatchObject({ ok: true });
  });

  test('a verdict that was logged as shown too early is named by the audit', async () => {
    const other = await openCase(true);
    await write(other, one, { kind: 'readers.present', data: { personIds: [one.personId, two.personId] } });
    const doc = must(await desk.opened.store.putDocument('verdict', JSON.stringify({ caseId: other })));
    must(await desk.opened.store.append({ caseId: other, expectSeq: (await readState(other)).seq, by: one.personId, events: [{ kind: 'verdict.shown', data: { what: 'verdict', answerSha256: doc.sha256 } }] }));
    expect(await verify(other)).toMatchObject({ ok: false, failure: { code: 'grade-breach' } });
  });

  test('two who ask and grade at once: each is logged once, and the order still holds', async () => {
    const other = await openCase(true);
    await write(other, one, { kind: 'readers.present', data: { personIds: [one.personId, two.personId] } });
    await Promise.all([grade(other, one, 1, 1), grade(other, two, 1, 2), grade(other, one, 1, 2), show(other, one), show(other, two)]);
    const shown = await Promise.all([show(other, one), show(other, two), show(other, one), result(other, two), hand(other, CSV)]);
    expect(shown[0].status).toBe(200);
    const state = await readState(other);
    expect(state.result.shown.filter((s) => s.what === 'verdict').map((s) => s.by).sort()).toEqual([one.personId, two.personId].sort());
    expect(await verify(other)).toMatchObject({ ok: true });
  });
});

describe('events of the result are checked against the case', () => {
  test('fields, echoes, pictures, witnesses and readers must be there', async () => {
    const caseId = await openCase();
    const codeFor = async (...events: object[]): Promise<string> => codeOf(await write(caseId, one, ...events));
    expect(await codeFor({ kind: 'witness.noted', data: { of: 'recording-none', takenAt: TAKEN, heartRatePerMin: null, loadingNote: null } })).toBe('event-not-here');
    expect(await codeFor({ kind: 'echo.entered', data: { echoId: 'echo-none', field: 'circumference', value: 5, trace: null } })).toBe('event-not-here');
    const begun = { kind: 'echo.begun', data: { echoId: 'echo-x1', takenAt: TAKEN } };
    expect(await codeFor(begun, { kind: 'echo.entered', data: { echoId: 'echo-x1', field: 'nobody', value: 5, trace: null } })).toBe('entry-invalid');
    expect(await codeFor(begun, { kind: 'echo.entered', data: { echoId: 'echo-x1', field: 'circumference', value: 500, trace: null } })).toBe('entry-invalid');
    expect(await codeFor(begun, { kind: 'echo.entered', data: { echoId: 'echo-x1', field: 'circumference', value: 5, trace: { blobSha256: 'a'.repeat(64), frame: 1, is: 'clock', points: [[1, 1], [2, 2]] } } })).toBe('event-not-here');
    expect(await codeFor(begun, { kind: 'echo.entered', data: { echoId: 'echo-x1', field: 'circumference', value: 5, trace: null } })).toBe('none');
    expect(await codeFor({ kind: 'result.entered', data: { field: 'signs.leakPlace', value: 'nowhere' } })).toBe('entry-invalid');
    expect(await codeFor({ kind: 'readers.present', data: { personIds: ['person-nobody'] } })).toBe('event-not-here');
  });
});

describe('wrong patient, angiograms and echo files', () => {
  let caseId = '';
  beforeAll(async () => void (caseId = await openCase()));

  test('a drawn run of known leak is measured in its regions, kept, shown again, and speaks as the angiogram', async () => {
    const shape = { ...PLAIN_CONTRAST, columns: 128, rows: 128, quanta: 2500, seed: 5 };
    const drawn = drawContrastRun(shape);
    const run = (await one.ask(`/api/cases/${caseId}/runs`, { method: 'POST', raw: packContrastRun(drawn, shape), headers: { 'content-type': 'application/dicom', ...BECAUSE } })).json<{ runId: string }>();
    const { aorta, outflow } = drawn.truth.regions;
    const measured = await one.ask(`/api/cases/${caseId}/angiograms`, { method: 'POST', body: { runId: run.runId, regions: { aorta, outflow }, frames: null, ratePerMin: null, said: { isBreathHeld: true, isPaced: false, isTableMoved: false, hasOverlap: false }, takenAt: TAKEN, heartRatePerMin: 70, loadingNote: 'awake' } });
    expect([measured.status, measured.status === 200 ? '' : measured.text]).toEqual([200, '']);
    const { angiogramId, answer } = measured.json<{ angiogramId: string; answer: ContrastAnswer }>();
    // The answer's own band holds what was drawn.
    const truth = computeDensityRatio(drawn.frameTimesMs, drawn.truth.outflow, drawn.truth.aorta, answer.window!.fromMs, answer.window!.toMs);
    expect([answer.ratio.low! <= truth, truth <= answer.ratio.high!]).toEqual([true, true]);
    expect((await viewer.ask(`/api/cases/${caseId}/angiograms/${angiogramId}`)).json()).toEqual(measured.json());
    expect((await readState(caseId)).result.angiograms[0]).toMatchObject({ angiogramId, runId: run.runId, note: { takenAt: TAKEN, heartRatePerMin: 70, loadingNote: 'awake' } });
  });

  test('a run of too few frames is refused by the measurement, in its own words; an unknown run is not found', async () => {
    const run = (await one.ask(`/api/cases/${caseId}/runs`, { method: 'POST', raw: makeRunFile({}), headers: { 'content-type': 'application/dicom' } })).json<{ runId: string }>();
    const ask = (runId: string): Promise<Answer> => one.ask(`/api/cases/${caseId}/angiograms`, { method: 'POST', body: { runId, regions: null, frames: null, ratePerMin: null, said: { isBreathHeld: null, isPaced: null, isTableMoved: null, hasOverlap: null }, takenAt: TAKEN, heartRatePerMin: 70, loadingNote: 'awake' } });
    const few = await ask(run.runId);
    expect([few.status, codeOf(few)]).toEqual([422, 'contrast-frames-too-few']);
    expect((await ask('run-none')).status).toBe(404);
    expect((await one.ask(`/api/cases/${caseId}/angiograms/angiogram-none`)).status).toBe(404);
    expect((await readState(caseId)).result.angiograms).toHaveLength(1);
  });

  test.skipIf(!existsSync(WAVEFORM))('a waveform that names another patient is refused, by field only, and nothing of it is kept; so is a report', async () => {
    await write(caseId, one, { kind: 'echo.begun', data: { echoId: 'echo-w1', takenAt: TAKEN } });
    const refused = [
      await hand(caseId, readFileSync(WAVEFORM), {}, {}),
      await one.ask(`/api/cases/${caseId}/echoes/echo-w1/files`, { method: 'POST', raw: readFileSync(REPORT), headers: { 'content-type': 'application/dicom' } }),
    ];
    for (const answer of refused) {
      expect([answer.status, codeOf(answer)]).toEqual([422, 'file-identity-differs']);
      expect(answer.text).not.toMatch(/Invented|INV-0042|1944|\^/);
    }
    const state = await readState(caseId);
    expect([state.result.recordings, state.result.echoes.at(-1)!.files]).toEqual([[], []]);
    expect(listIncoming()).toEqual([]);
  });

  test('a report becomes entries, a picture is shown with its regions and frames', async () => {
    await write(caseId, one, { kind: 'echo.begun', data: { echoId: 'echo-r1', takenAt: TAKEN } });
    const send = (file: string): Promise<Answer> => one.ask(`/api/cases/${caseId}/echoes/echo-r1/files`, { method: 'POST', raw: readFileSync(file), headers: { 'content-type': 'application/dicom', ...BECAUSE } });
    const report = (await send(REPORT)).json<EchoFileAnswer>();
    expect(report.is).toBe('report');
    expect(Object.keys(report.fields).length).toBeGreaterThan(2);
    const [field, value] = Object.entries(report.fields)[0]!;
    expect((await readState(caseId)).result.echoes.find((e) => e.echoId === 'echo-r1')!.entries[field]).toMatchObject({ value, from: 'report' });
    const picture = (await send(PICTURE)).json<EchoFileAnswer>();
    expect(picture.is).toBe('picture');
    const path = `/api/cases/${caseId}/echoes/echo-r1/pictures/${picture.blobSha256}`;
    const about = (await viewer.ask(path)).json<{ rows: number; columns: number; frames: number; regions: unknown[] }>();
    expect(about.regions.length).toBeGreaterThan(0);
    const frame = await fetch(`${desk.origin}${path}/frames/1`, { headers: { cookie: viewer.cookie } });
    expect([frame.status, (await frame.arrayBuffer()).byteLength, frame.headers.get('x-rows')]).toEqual([200, about.rows * about.columns, String(about.rows)]);
    expect((await viewer.ask(`${path}/frames/9999`)).status).toBe(404);
    expect((await viewer.ask(`/api/cases/${caseId}/echoes/echo-w1/pictures/${picture.blobSha256}`)).status).toBe(404);
  });

  test('an echo file needs its echo, and another kind of file is named', async () => {
    const send = (echoId: string, raw: Uint8Array | string): Promise<Answer> => one.ask(`/api/cases/${caseId}/echoes/${echoId}/files`, { method: 'POST', raw, headers: { 'content-type': 'application/dicom' } });
    expect((await send('echo-none', makeRunFile({}))).status).toBe(404);
    await write(caseId, one, { kind: 'echo.begun', data: { echoId: 'echo-f1', takenAt: TAKEN } });
    expect(codeOf(await send('echo-f1', makeRunFile({})))).toBe('echo-file-other');
    expect((await send('echo-f1', 'no dicom')).status).toBe(422);
    expect((await one.ask(`/api/cases/${caseId}/echoes/echo-f1/pictures/${'a'.repeat(64)}`)).status).toBe(404);
    expect((await readState(caseId)).result.echoes[0]!.files).toEqual([]);
    expect(listIncoming()).toEqual([]);
  });
});

describe('a verdict for the wall', () => {
  test('is logged as it was shown; never before, never with another word, another remedy or of another case', async () => {
    const caseId = await openCase(true);
    const put = (of: string, entry: RoomEntry): Promise<Answer> => {
      taps += 1;
      const at = new Date().toISOString();
      return one.ask(`/api/cases/${of}/room`, { method: 'POST', body: { records: [{ entryId: `verdict-${taps}-entry`, clientId: 'client-of-walls', place: 'desk', count: taps, monotonicMs: taps, clientAt: at, happenedAt: at, offset: null, corrects: null, entry }] } });
    };
    await write(caseId, one, { kind: 'readers.present', data: { personIds: [one.personId] } });
    await grade(caseId, one, 1, 2);
    const made = (answerSha256: string): VerdictEntry => ({ is: 'verdict', answerSha256, word: 'CANNOT SAY', side: null, witnesses: [], remedies: [], waitUntil: null, next: '' });
    expect(codeOf(await put(caseId, made('a'.repeat(64))))).toBe('verdict-not-shown');
    const shown = (await show(caseId, one)).json<ResultAnswer>();
    const entry = makeVerdictEntry(shown.verdict, shown.answerSha256!)!;
    const { remedies: [first, ...rest] } = entry;
    const false_: readonly RoomEntry[] = [{ ...entry, word: entry.word === 'AGREE' ? 'DISAGREE' : 'AGREE' }, { ...entry, remedies: [{ ...first!, state: first!.state === 'open' ? 'closed' : 'open' }, ...rest] }, { ...entry, witnesses: [{ kind: 'pressure', low: 0, high: 0.25 }] }];
    for (const each of false_) expect([(await put(caseId, each)).status, codeOf(await put(caseId, each))]).toEqual([422, 'verdict-not-shown']);
    expect(codeOf(await put(await openCase(), entry))).toBe('verdict-not-shown');
    expect((await readState(caseId)).room.entries).toBe(0);
    const sent = { entryId: 'verdict-sent-twice', clientId: 'client-of-walls', place: 'desk', count: 99, monotonicMs: 99, clientAt: new Date().toISOString(), happenedAt: new Date().toISOString(), offset: null, corrects: null, entry };
    const send = (): Promise<Answer> => one.ask(`/api/cases/${caseId}/room`, { method: 'POST', body: { records: [sent] } });
    expect((await send()).status).toBe(200);
    // Its answer was lost, and a balloon was logged meanwhile: what the log has is known, and nothing is refused.
    await tap(caseId, { is: 'dilated', balloonMm: 20, when: 'after' });
    const again = await send();
    expect([again.status, again.json<{ known: readonly string[] }>().known]).toEqual([200, ['verdict-sent-twice']]);
    expect((await readState(caseId)).room.entries).toBe(2);
  });
});

describe('after a restart of the server', () => {
  test('grades, round and verdict stand as they stood; a stream that was open is gone', async () => {
    const caseId = await openCase(true);
    await write(caseId, one, { kind: 'readers.present', data: { personIds: [one.personId, two.personId] } });
    await grade(caseId, one, 1, 2);
    const { liveId } = (await one.ask(`/api/cases/${caseId}/live`, { method: 'POST', body: { channels: null } })).json<LiveAnswer>();
    const before = await result(caseId, two);
    const { port } = desk.server;
    await desk.server.close();
    const again = must(await serveDesk({
      opened: desk.opened, dataFolder: join(desk.folder, 'data'), pagesFolder: join(desk.folder, 'web'), version: 'trinadir test', readNow: Date.now, port, checkAnswers: true, onDefect: (problem) => void desk.defects.push(String(problem)),
      makeJobs: () => ({ start: async () => fail('none', '', ''), cancel: async () => fail('none', '', ''), resume: async () => {}, close: async () => {} }), makeHandlers, makeUploads: makeUploadDoor,
    }));
    try {
      expect((await result(caseId, two)).verdict.gate).toEqual(before.verdict.gate);
      expect(codeOf(await show(caseId, one))).toBe('grade-first');
      await grade(caseId, two, 1, 1);
      expect((await show(caseId, two)).status).toBe(200);
      expect((await one.ask(`/api/cases/${caseId}/live/${liveId}`, { method: 'POST', raw: 'a\n', headers: { 'content-type': 'text/csv' } })).status).toBe(404);
      expect(await verify(caseId)).toMatchObject({ ok: true });
    } finally {
      await again.close();
    }
  });
});
