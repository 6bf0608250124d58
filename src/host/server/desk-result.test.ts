import { readdirSync, readFileSync, existsSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { codeOf, makeTestDesk, must, type Answer, type TestDesk, type Visitor } from '../../../test/support/make-desk.ts';
import { writeZip } from '../../../test/support/write-zip.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { RecordingAnswer, ResultAnswer, TraceAnswer } from '../../formats/api/result-schemas.ts';

type Entered = Visitor & { readonly personId: string };
let desk: TestDesk;
let one: Entered;
let two: Entered;
let viewer: Entered;
let caseId = '';
beforeAll(async () => {
  desk = await makeTestDesk();
  [one, two, viewer] = [await desk.enter('planner'), await desk.enter('operator'), await desk.enter('viewer')];
  caseId = await openCase();
}, 120_000);
afterAll(async () => {
  expect(desk.defects).toEqual([]);
  await desk.close();
});

async function openCase(): Promise<string> {
  const opened = (await one.ask('/api/cases', { method: 'POST', body: { label: 'B 3', procedureOn: null } })).json<{ caseId: string }>().caseId;
  const items = { 'identity.name': 'Invented Person', 'identity.birthDate': '1944-05-17', 'identity.patientId': 'INV-0042' };
  await write(opened, one, ...Object.entries(items).map(([field, value]) => ({ kind: 'referral.entered', data: { field, value, unit: null } })));
  return opened;
}
const readState = async (of = caseId): Promise<CaseState> => must(await desk.opened.store.readState(of));
async function write(of: string, by: Visitor, ...events: readonly object[]): Promise<Answer> {
  return by.ask(`/api/cases/${of}/events`, { method: 'POST', body: { expectSeq: (await readState(of)).seq, events } });
}
/** Aorta and ventricle of an invented circulation: 130/60 over 130/12, 75 a minute, 250 samples a second. */
function makeCsv(seconds: number, fromS = 0): string {
  const rows = ['time s;Ao mmHg;LV mmHg'];
  for (let i = 0; i < seconds * 250; i++) {
    const t = fromS + i / 250;
    const phase = (t % 0.8) / 0.8;
    const push = phase < 0.35 ? Math.sin((Math.PI * phase) / 0.35) : 0;
    const ao = phase < 0.35 ? 60 + 70 * push ** 0.6 * (1 - 0.3 * phase) : 60 + 42 * Math.exp(-(phase - 0.35) * 3.2);
    const lv = phase < 0.38 ? 10 + 122 * Math.sin((Math.PI * phase) / 0.38) ** 0.7 : 8 + 4 * ((phase - 0.38) / 0.62);
    rows.push(`${t.toFixed(3)};${ao.toFixed(2)};${lv.toFixed(2)}`);
  }
  return `${rows.join('\n')}\n`;
}
const BECAUSE = { 'x-trinadir-because': encodeURIComponent('Seen at the recorder by two') };
const hand = (raw: string | Uint8Array, query = 'moment=after&takenAt=2026-03-02T10:14:00.000Z&ending=csv', headers: Readonly<Record<string, string>> = BECAUSE, of = caseId, by: Visitor = one) =>
  by.ask(`/api/cases/${of}/recordings?${query}`, { method: 'POST', raw, headers: { 'content-type': 'application/octet-stream', ...headers } });

describe('recordings of pressures over HTTP', () => {
  test('a recording without a patient is not taken for this one; with a reason it joins, is measured and shown as curves', async () => {
    const csv = makeCsv(12);
    const refused = await hand(csv, undefined, {});
    expect([refused.status, codeOf(refused)]).toEqual([422, 'file-identity-open']);
    expect((await readState()).result.recordings).toEqual([]);
    expect(readdirSync(join(desk.folder, 'data', 'pixels', 'incoming'))).toEqual([]);
    const joined = await hand(csv);
    expect([joined.status, joined.text.slice(0, 200)]).toEqual([200, expect.any(String)]);
    const { recordingId, answer, answerSha256 } = joined.json<RecordingAnswer>();
    expect(answer!.aortic.systolic.value).toBeGreaterThan(115);
    const state = await readState();
    expect(state.result.recordings[0]).toMatchObject({ recordingId, answerSha256, moment: 'after', format: 'csv', identity: { verdict: 'not comparable', acceptedBecause: 'Seen at the recorder by two' } });
    expect((await viewer.ask(`/api/cases/${caseId}/recordings/${recordingId}`)).json()).toEqual(joined.json());
    const trace = (await viewer.ask(`/api/cases/${caseId}/recordings/${recordingId}/trace?fromS=2&toS=4&columns=100`)).json<TraceAnswer>();
    expect(trace.channels.map((c) => c.kind)).toEqual(['aortic', 'ventricular']);
    expect(trace.channels[0]!.lows).toHaveLength(100);
    expect(Math.max(...trace.channels[0]!.highs.map((v) => v ?? 0))).toBeGreaterThan(115);
    const seq = (await readState()).seq;
    expect((await hand(csv)).json<RecordingAnswer>().recordingId).toBe(recordingId);
    expect((await readState()).seq).toBe(seq);
  });
});
