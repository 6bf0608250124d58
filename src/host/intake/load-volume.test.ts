import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { zipSync } from 'fflate';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { drawTube, makeCtFile, type TestSlice } from '../../../test/support/make-ct-file.ts';
import { applyToPoint } from '../../core/units/affine.ts';
import { makePoint } from '../../core/units/frames.ts';
import { WorkerPool } from '../jobs/worker-pool.ts';
import { loadProposedVolume, loadVolume } from './load-volume.ts';
import { makeScanFacts } from './make-scan-facts.ts';
import { scanPath } from './scan-path.ts';
import type { LoadedVolume, ScanReport } from './scan-types.ts';

const isBuilt = existsSync(fileURLToPath(new URL('../../../dist/host/jobs/worker-entry.js', import.meta.url)));
const canCompress = spawnSync('dcmcrle', ['--version']).status === 0;
let top = '';
beforeAll(() => { top = mkdtempSync(join(tmpdir(), 'load-')); });
afterAll(() => rmSync(top, { recursive: true, force: true }));

function makeFolder(name: string, slices: readonly TestSlice[]): string {
  const folder = join(top, name);
  mkdirSync(folder);
  for (const [n, slice] of slices.entries()) writeFileSync(join(folder, `f${(n * 7919) % slices.length}`), makeCtFile(slice));
  return folder;
}
const stack = (n: number, extra: Partial<TestSlice> = {}): TestSlice[] => Array.from({ length: n }, (_, k) => ({ zMm: k, ...extra }));
async function scan(path: string): Promise<ScanReport> {
  const report = await scanPath(path);
  if (!report.ok) throw new Error(report.failure.code);
  return report.value;
}
async function load(path: string, workers = 0): Promise<LoadedVolume> {
  const pool = new WorkerPool(workers);
  const loaded = await loadProposedVolume(await scan(path), { pool });
  await pool.close();
  if (!loaded.ok) throw new Error(loaded.failure.code);
  return loaded.value;
}

describe('loadVolume', () => {
  test.skipIf(!isBuilt)('gives the same bytes, hash and findings in this thread, in one worker and in two', async () => {
    const folder = makeFolder('workers', stack(70, { phasePercent: 30 }));
    const answers = [];
    for (const workers of [0, 1, 2]) {
      const { volume, inputs, findings, statistics } = await load(folder, workers);
      answers.push({ samples: Buffer.from(volume.samplesHu).toString('base64'), inputs, findings, statistics });
    }
    expect(answers[1]).toEqual(answers[0]);
    expect(answers[2]).toEqual(answers[0]);
  });
  test('keeps one content hash for another order of files, and changes it with one voxel', async () => {
    const slices = stack(64);
    const a = await load(makeFolder('order-a', slices));
    const b = await load(makeFolder('order-b', [...slices].reverse()));
    const c = await load(makeFolder('order-c', slices.map((s, k) => (k === 9 ? { ...s, hu: (i: number, j: number) => drawTube(i, j, 64, 64) + (i === 3 && j === 4 ? 1 : 0) } : s))));
    const d = await load(makeFolder('order-d', slices.map((s) => ({ ...s, xMm: -79 }))));
    expect(b.inputs.sha256).toBe(a.inputs.sha256);
    expect(c.inputs.sha256).not.toBe(a.inputs.sha256);
    expect(d.inputs.sha256).not.toBe(a.inputs.sha256); // same pixels elsewhere in the patient
    expect(a.inputs.files).toBe(64);
  });
  test('puts a mark of a tilted, non-square stack where the headers say', async () => {
    // Rows lean by 20 degrees; the table moves along z, so slices slide in their own plane.
    const lean = (20 * Math.PI) / 180;
    const orientation = [1, 0, 0, 0, Math.cos(lean), -Math.sin(lean)];
    const slices = stack(80, { orientation, pixelMm: [2, 3], rows: 60, columns: 50 }).map((s, k): TestSlice => ({
      ...s, hu: (i, j) => (k === 33 && i === 12 && j === 41 ? 900 : drawTube(i, j, 50, 60)),
    }));
    const { volume, findings } = await load(makeFolder('tilted', slices));
    const at = volume.samplesHu.findIndex((hu) => hu === 900);
    const [i, j, k] = [at % 50, Math.floor(at / 50) % 60, Math.floor(at / 3000)];
    const lps = applyToPoint(volume.lpsFromVoxel, makePoint<'voxel'>(i, j, k));
    const wanted = [-80 + 12 * 3, -80 + 41 * 2 * Math.cos(lean), 33 - 41 * 2 * Math.sin(lean)];
    for (const axis of [0, 1, 2]) expect(Math.abs(lps[axis]! - wanted[axis]!)).toBeLessThan(1e-6); // decimal strings of 1e-16
    expect(findings.map((f) => f.code)).toContain('gantry-tilted');
  });
  test('leaves out a slice that cannot be decoded and says so', async () => {
    const entries = Object.fromEntries(stack(100).map((slice) => [`s${slice.zMm}`, [makeCtFile(slice), { level: 0 }] as [Buffer, { level: 0 }]]));
    const zip = Buffer.from(zipSync(entries, { level: 0 }));
    const local = zip.indexOf('s20'); // the first one stands in the entry's own header
    zip[local + 3 + 4000]! ^= 0xff; // inside its pixels: the check sum no longer holds
    const path = join(top, 'damaged.zip');
    writeFileSync(path, zip);
    const { volume, findings } = await load(path);
    expect(volume.dims[2]).toBe(79); // 21 .. 99
    expect(findings.map((f) => `${f.severity} ${f.code}`)).toEqual(expect.arrayContaining(['doubt slice-undecodable', 'doubt slice-missing']));
  });
  test.skipIf(!canCompress)('has one content hash whether slices are compressed or not, also mixed', async () => {
    const plain = makeFolder('plain', stack(64));
    const packed = makeFolder('packed', stack(64));
    for (const n of [0, 1, 31, 63]) execFileSync('dcmcrle', [join(plain, `f${n}`), join(packed, `f${n}`)], { stdio: 'pipe' });
    const [a, b] = [await load(plain), await load(packed)];
    expect(readFileSync(join(packed, 'f0')).length).toBeLessThan(readFileSync(join(plain, 'f0')).length);
    expect(b.inputs.sha256).toBe(a.inputs.sha256);
  });
  test('tries the next volume when the pixels of the first are unfit', async () => {
    // The first promises contrast and a systolic phase in five sampled slices, and has none elsewhere.
    const sampled = new Set([0.2, 0.35, 0.5, 0.65, 0.8].map((place) => Math.floor(place * 100)));
    const trap = stack(100, { seriesUid: '1.2.3.1', phasePercent: 35 }).map((s, k) => (sampled.has(k) ? s : { ...s, hu: () => 40 }));
    const folder = makeFolder('trap', [...trap, ...stack(70, { seriesUid: '1.2.3.2', phasePercent: 75 })]);
    const report = await scan(folder);
    expect(report.proposed).toBe('1.2.3.1#1');
    const loaded = await loadProposedVolume(report);
    expect(loaded.ok && [loaded.value.key, loaded.value.verdict]).toEqual(['1.2.3.2#1', 'fit with doubt']);
    const asked = await loadProposedVolume(report, { seriesUid: '1.2.3.1' });
    expect(asked.ok && asked.value.verdict).toBe('not fit');
  });
  test('refuses a key or series that the scan does not list', async () => {
    const report = await scan(makeFolder('keys', stack(64)));
    const codes = [await loadVolume(report, 'nothing#1'), await loadProposedVolume(report, { seriesUid: '9.9' })].map((r) => (r.ok ? 'ok' : r.failure.code));
    expect(codes).toEqual(['volume-unknown', 'series-unknown']);
  });
  test('makes facts for the plan: values inside their intervals, refused where nothing was found', async () => {
    const stamp = { by: 'test', at: '2026-01-01T00:00:00Z' };
    const facts = makeScanFacts(await load(makeFolder('facts', stack(64, { phasePercent: 30 }))), stamp);
    expect(facts.contrastHu.value).toBeCloseTo(380, 0);
    expect(facts.contrastHu.low! <= facts.contrastHu.value! && facts.contrastHu.value! <= facts.contrastHu.high!).toBe(true);
    expect([facts.rows, facts.columns, facts.slices, facts.phasePercent, facts.verdict]).toEqual([64, 64, 64, 30, 'fit']);
    const none = makeScanFacts(await load(makeFolder('none', stack(64, { hu: () => 40 }))), stamp);
    expect([none.contrastHu.status, none.contrastHu.reasons[0]!.code]).toEqual(['refused', 'contrast-none']);
  });
});
