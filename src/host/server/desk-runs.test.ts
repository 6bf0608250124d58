import { existsSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { encapsulate, u16 } from '../../../test/fuzz/build-dicom.ts';
import { codeOf, makeTestDesk, must, type TestDesk, type Visitor } from '../../../test/support/make-desk.ts';
import { makeRunFile, type RunFile } from '../../../test/support/make-run-file.ts';
import { writeXa } from '../../formats/dicom/write-xa.ts';
import { handInRun } from './join-run.ts';
import { openTrainingCase } from './open-training-case.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { RunAnswer } from '../../formats/api/run-schemas.ts';

let desk: TestDesk;
let planner: Visitor;
let viewer: Visitor;
let caseId = '';
beforeAll(async () => {
  desk = await makeTestDesk();
  [planner, viewer] = [await desk.enter('planner'), await desk.enter('viewer')];
  caseId = (await planner.ask('/api/cases', { method: 'POST', body: { label: 'A 7', procedureOn: null } })).json<{ caseId: string }>().caseId;
  const items = { 'identity.name': 'Invented Person', 'identity.birthDate': '1944-05-17', 'identity.patientId': 'INV-0042' };
  await planner.ask(`/api/cases/${caseId}/events`, { method: 'POST', body: { expectSeq: 1, events: Object.entries(items).map(([field, value]) => ({ kind: 'referral.entered', data: { field, value, unit: null } })) } });
}, 120_000);
afterAll(() => desk.close());

const readState = async (): Promise<CaseState> => must(await desk.opened.store.readState(caseId));
const hand = (file: RunFile | Uint8Array, because = '', visitor = planner) =>
  visitor.ask(`/api/cases/${caseId}/runs`, { method: 'POST', raw: file instanceof Uint8Array ? file : makeRunFile(file), headers: { 'content-type': 'application/dicom', ...(because && { 'x-trinadir-because': encodeURIComponent(because) }) } });
const listIncoming = (): string[] => readdirSync(join(desk.folder, 'data', 'pixels', 'incoming'));
async function readFrame(runId: string, number: number): Promise<{ readonly status: number; readonly bytes: Uint8Array; readonly headers: Headers }> {
  const answer = await fetch(`${desk.origin}/api/cases/${caseId}/runs/${runId}/frames/${number}`, { headers: { cookie: viewer.cookie } });
  return { status: answer.status, bytes: new Uint8Array(await answer.arrayBuffer()), headers: answer.headers };
}

describe('angiographic runs over HTTP', () => {
  test('a run of the entered patient joins, is described without the patient, and shows its frames', async () => {
    const answer = await hand({});
    expect(answer.status).toBe(200);
    const run = answer.json<RunAnswer>();
    expect(run).toMatchObject({ frames: 3, rows: 32, columns: 48, views: [{ primaryDeg: 10, secondaryDeg: -20 }], sourceToImageMm: 1100, sourceToPatientMm: 750, pixelMm: 0.3, pixelAt: 'detector', findings: [] });
    expect(answer.text).not.toMatch(/Invented|INV-0042|1944/);
    const state = await readState();
    expect(state.runs).toHaveLength(1);
    expect(state.runs[0]).toMatchObject({ runId: run.runId, frames: 3, view: { primaryDeg: 10, secondaryDeg: -20 }, identity: { verdict: 'same', acceptedBecause: null } });
    expect((await viewer.ask(`/api/cases/${caseId}/runs/${run.runId}`)).json()).toEqual(run);
    const frame = await readFrame(run.runId, 2);
    expect([frame.status, frame.bytes.length, frame.headers.get('x-rows'), frame.headers.get('x-columns')]).toEqual([200, 32 * 48, '32', '48']);
    // The stated window 0 to 256 maps a grey to itself within the rounding of 255/256.
    for (const [row, column] of [[0, 0], [31, 47], [7, 5]] as const) expect(Math.abs(frame.bytes[row * 48 + column]! - (40 + row + column))).toBeLessThanOrEqual(1);
    expect((await readFrame(run.runId, 4)).status).toBe(404);
    expect(listIncoming()).toEqual([]);
  });

  test('the same file again is the same run', async () => {
    const before = (await readState()).seq;
    expect((await hand({})).status).toBe(200);
    expect((await readState()).seq).toBe(before);
  });

  test('a run of another patient is refused, named by field only, and nothing of it is kept; a reason joins it', async () => {
    const other = { name: 'Other^Somebody', patientId: 'X-1', birthDate: '19500101' };
    const refused = await hand(other);
    expect([refused.status, codeOf(refused)]).toEqual([422, 'run-identity-differs']);
    expect(refused.text).not.toMatch(/Other|Somebody|X-1|1950/);
    expect(listIncoming()).toEqual([]);
    expect((await readState()).runs).toHaveLength(1);
    const joined = await hand(other, 'Wrong label at the C-arm, seen by two');
    expect(joined.status).toBe(200);
    expect((await readState()).runs[1]!.identity).toMatchObject({ verdict: 'differs', acceptedBecause: 'Wrong label at the C-arm, seen by two' });
  });

  test('a run that names nobody is not taken for this patient', async () => {
    const answer = await hand({ name: null, patientId: null, birthDate: null, grey: () => 7 });
    expect(codeOf(answer)).toBe('run-identity-open');
    const some = await hand({ name: null, birthDate: null, grey: () => 8 });
    expect(codeOf(some)).toBe('run-identity-open'); // one field alone is shared by many
  });

  test('missing angles and scale are said, and the run is there all the same', async () => {
    const run = (await hand({ without: [0x00181510, 0x00181164], grey: () => 9 })).json<RunAnswer>();
    expect(run.views).toEqual([null]);
    expect(run.pixelMm).toBeNull();
    expect(run.findings.map((f) => f.code).sort()).toEqual(['imager-spacing-missing', 'positioner-angles-missing']);
    for (const finding of run.findings) expect(finding.next.length).toBeGreaterThan(10);
  });

  test('a turning run has a view for each frame', async () => {
    const run = (await hand({ change: [[0x00181500, 'CS', 'DYNAMIC'], [0x00181520, 'DS', '0\\5\\10'], [0x00181521, 'DS', '0\\0\\0']] })).json<RunAnswer>();
    expect(run.views.map((v) => v!.primaryDeg)).toEqual([10, 15, 20]);
  });

  test('16 bit frames come as 8 bit grey too', async () => {
    const values = Array.from({ length: 32 * 48 }, (_, i) => (i % 48) * 20);
    const file = makeRunFile({ frames: 1, change: [[0x00280100, 'US', u16(16)], [0x00280101, 'US', u16(12)], [0x00280102, 'US', u16(11)], [0x00281050, 'DS', '470'], [0x00281051, 'DS', '940'], [0x7fe00010, 'OW', u16(...values)]] });
    const { runId } = (await hand(file)).json<RunAnswer>();
    const { bytes } = await readFrame(runId, 1);
    expect([bytes[0], bytes[47]]).toEqual([0, 255]);
    expect(Math.abs(bytes[24]! - (480 / 940) * 255)).toBeLessThanOrEqual(1);
  });

  test('a run stored as baseline JPEG is handed to the page as it is, with its doubt', async () => {
    const jpeg = Uint8Array.of(0xff, 0xd8, 0xff, 0xdb, 0, 4, 1, 1, 0xff, 0xd9);
    const file = makeRunFile({ frames: 1, packed: { syntax: '1.2.840.10008.1.2.4.50', pixels: encapsulate([0], [jpeg]) } });
    const run = (await hand(file)).json<RunAnswer>();
    expect(run.findings.map((f) => f.code)).toEqual(['picture-lossy']);
    const frame = await readFrame(run.runId, 1);
    expect([frame.status, frame.headers.get('content-type'), [...frame.bytes]]).toEqual([200, 'image/jpeg', [...jpeg]]);
  });

  test('the drawn run of the training case joins that case by itself, and its greys come back', async () => {
    const opened = must(await openTrainingCase(desk.opened.store));
    const camera = { primaryDeg: -12.5, secondaryDeg: 8, sourceToImageMm: 1050, sourceToPatientMm: 720, pixelMm: 0.31, columns: 64, rows: 40, isocentreLps: [0, 0, 0] as const };
    const pixels = new Uint16Array(2 * 64 * 40).map((_, i) => i % 4096);
    const file = writeXa(pixels, camera, { seed: 101, runNumber: 1, frameTimeMs: 66.7, description: 'TRAINING' });
    const answer = await planner.ask(`/api/cases/${opened.caseId}/runs`, { method: 'POST', raw: file, headers: { 'content-type': 'application/dicom' } });
    expect(answer.json<RunAnswer>()).toMatchObject({ frames: 2, rows: 40, columns: 64, views: [{ primaryDeg: -12.5, secondaryDeg: 8 }], sourceToImageMm: 1050, sourceToPatientMm: 720, pixelMm: 0.31 });
    const state = must(await desk.opened.store.readState(opened.caseId));
    expect(state.runs[0]!.identity.verdict).toBe('same');
    const frame = await fetch(`${desk.origin}/api/cases/${opened.caseId}/runs/${state.runs[0]!.runId}/frames/1`, { headers: { cookie: viewer.cookie } });
    const bytes = new Uint8Array(await frame.arrayBuffer());
    expect(bytes.length).toBe(64 * 40);
    expect(bytes[2000]!).toBeGreaterThan(bytes[200]!); // a ramp stays one
  });

  test('a file of this machine is handed in as a page does it, and stays where it is', async () => {
    const path = join(desk.folder, 'own-run.dcm');
    writeFileSync(path, makeRunFile({ grey: () => 21 }));
    const joined = await handInRun(desk.server.services, { caseId, by: 'person-ann', file: path, because: null });
    expect(joined.ok && (await readState()).runs.some((r) => r.runId === joined.value.runId)).toBe(true);
    expect(existsSync(path)).toBe(true);
    writeFileSync(path, makeRunFile({ name: 'Other^Somebody', grey: () => 22 }));
    expect(await handInRun(desk.server.services, { caseId, by: 'person-ann', file: path, because: null })).toMatchObject({ ok: false, failure: { code: 'run-identity-differs' } });
    expect(listIncoming()).toEqual([]);
  });

  test('what is no run, or a cut or empty one, is refused by name', async () => {
    expect(codeOf(await hand(new Uint8Array(2000).fill(65)))).toBe('not-dicom');
    expect(codeOf(await hand({ change: [[0x00080016, 'UI', '1.2.840.10008.5.1.4.1.1.2']] }))).toBe('not-xa');
    const whole = makeRunFile({ grey: () => 3 });
    expect(codeOf(await hand(whole.subarray(0, whole.length - 100)))).toBe('file-truncated');
    expect(codeOf(await hand(new Uint8Array(0)))).toBe('run-cut');
    expect(listIncoming()).toEqual([]);
    expect(desk.defects).toEqual([]);
  });

  test('a connection that breaks in the middle leaves nothing', async () => {
    const file = makeRunFile({ rows: 512, columns: 512, frames: 8 });
    await new Promise<void>((done) => {
      const call = request({ host: '127.0.0.1', port: desk.server.port, path: `/api/cases/${caseId}/runs`, method: 'POST', headers: { 'content-type': 'application/dicom', 'content-length': file.length, cookie: planner.cookie, origin: desk.origin, 'x-trinadir-csrf': planner.csrf } });
      call.on('error', () => done());
      call.write(file.subarray(0, 500_000), () => setTimeout(() => call.destroy(), 50));
    });
    for (let tries = 0; tries < 100 && listIncoming().length > 0; tries++) await new Promise((done) => setTimeout(done, 20));
    expect(listIncoming()).toEqual([]);
    expect(desk.defects).toEqual([]);
  });

  test('a viewer hands in nothing; a run of another case or one whose file is gone is not shown', async () => {
    expect((await hand({ grey: () => 11 }, '', viewer)).status).toBe(403);
    const state = await readState();
    const [run] = state.runs;
    const elsewhere = (await planner.ask('/api/cases', { method: 'POST', body: { label: 'B 8', procedureOn: null } })).json<{ caseId: string }>().caseId;
    expect(codeOf(await viewer.ask(`/api/cases/${elsewhere}/runs/${run!.runId}`))).toBe('run-unknown');
    const { runId } = (await hand({ grey: () => 12 })).json<RunAnswer>();
    const { blobSha256 } = (await readState()).runs.find((r) => r.runId === runId)!;
    const path = desk.opened.blobs.pathOf(blobSha256);
    expect(existsSync(path)).toBe(true);
    rmSync(path);
    const gone = await viewer.ask(`/api/cases/${caseId}/runs/${runId}`);
    expect([gone.status, codeOf(gone)]).toEqual([410, 'run-gone']);
  });
});
