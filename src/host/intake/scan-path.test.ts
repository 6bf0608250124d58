import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { zipSync } from 'fflate';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeCtFile, type TestSlice } from '../../../test/support/make-ct-file.ts';
import { uniformAt } from '../../core/math/random.ts';
import { loadProposedVolume, loadVolume } from './load-volume.ts';
import { scanPath } from './scan-path.ts';
import type { ScanReport } from './scan-types.ts';

const DATA = fileURLToPath(new URL('../../../../shared/data/', import.meta.url));
const hasMediaTool = spawnSync('dcmmkdir', ['--version']).status === 0;
const withMediaTool = test.skipIf(!hasMediaTool);
const withData = test.skipIf(!existsSync(DATA));
let top = '';
beforeAll(() => { top = mkdtempSync(join(tmpdir(), 'intake-')); });
afterAll(() => rmSync(top, { recursive: true, force: true }));

function makeFolder(name: string, files: Readonly<Record<string, Uint8Array>>): string {
  const folder = join(top, name);
  for (const [file, bytes] of Object.entries(files)) {
    mkdirSync(join(folder, file, '..'), { recursive: true });
    writeFileSync(join(folder, file), bytes);
  }
  return folder;
}
function makeStack(n: number, extra: Partial<TestSlice> = {}, stepMm = 1, prefix = 's'): Record<string, Uint8Array> {
  return Object.fromEntries(Array.from({ length: n }, (_, k) => [`${prefix}${k}`, makeCtFile({ zMm: k * stepMm, ...extra })]));
}
async function scan(path: string): Promise<ScanReport> {
  const report = await scanPath(path);
  if (!report.ok) throw new Error(`${report.failure.code}: ${report.failure.message}`);
  return report.value;
}
async function refusal(path: string): Promise<string> {
  const report = await scanPath(path);
  return report.ok ? 'ok' : report.failure.code;
}
const codes = (report: ScanReport): string[] => report.volumes.flatMap((v) => v.findings.map((f) => `${f.severity} ${f.code}`));

describe('scanPath on folders, archives and single files', () => {
  test('finds a series at any depth and under any names, among other files', async () => {
    const files = makeStack(70, { phasePercent: 35 });
    const nested = Object.fromEntries(Object.entries(files).map(([name, bytes], i) => [`a/${i % 7}/.${name} x.txt`, bytes]));
    const report = await scan(makeFolder('nested', { ...nested, 'readme.txt': Buffer.from('hello'), 'a/thumb.jpg': Buffer.from([0xff, 0xd8, 0xff, 0xe0, 1, 2, 3, 4]) }));
    expect(report.volumes.map((v) => [v.dims, v.coverageMm, v.verdict])).toEqual([[[64, 64, 70], 70, 'fit']]);
    expect(report.input.otherFiles).toBe(2);
    expect(report.unreadable).toEqual([]);
  });
  test('gives the same report for zip and folder, and the same content hash', async () => {
    const files = makeStack(64);
    const zip = join(top, 'one.zip');
    writeFileSync(zip, zipSync({ in: files }));
    const [a, b] = [await scan(makeFolder('same', files)), await scan(zip)];
    expect(b.volumes.map((v) => [v.key, v.dims, v.findings])).toEqual(a.volumes.map((v) => [v.key, v.dims, v.findings]));
    const [x, y] = [await loadVolume(a, a.proposed!), await loadVolume(b, b.proposed!)];
    expect(x.ok && y.ok && y.value.inputs.sha256 === x.value.inputs.sha256).toBe(true);
  });
  test('does not run in circles through linked folders, and reports broken links', async () => {
    const folder = makeFolder('loop', { 'a/s0': makeCtFile({ zMm: 0 }) });
    symlinkSync(folder, join(folder, 'a', 'again'));
    symlinkSync(join(folder, 'gone'), join(folder, 'broken'));
    const report = await scan(folder);
    expect(report.series[0]!.frames).toBe(1);
    expect(report.unreadable).toEqual([{ label: 'broken', code: 'file-not-readable' }]);
  });
  withData('reads an enhanced multi-frame file', async () => {
    const enhanced = await scan(join(DATA, 'dicom-torture/multiframe/enhanced_ct_2frames_explicit_le.dcm'));
    expect(enhanced.volumes[0]!.dims).toEqual([512, 512, 2]);
  });
  withMediaTool('reads what a DICOMDIR names, and nothing else', async () => {
    const folder = makeFolder('media', makeStack(64, {}, 1, 'CT'));
    execFileSync('dcmmkdir', ['-Pgp', '+I', ...Array.from({ length: 64 }, (_, k) => `CT${k}`)], { stdio: 'pipe', cwd: folder });
    writeFileSync(join(folder, 'EXTRA'), makeCtFile({ zMm: 999, patientId: 'OTHER' }));
    const report = await scan(join(folder, 'DICOMDIR'));
    expect([report.input.kind, report.volumes[0]!.dims[2]]).toEqual(['dicomdir', 64]);
    rmSync(join(folder, 'CT5'));
    expect((await scan(join(folder, 'DICOMDIR'))).unreadable).toEqual([{ label: 'CT5', code: 'dicomdir-file-missing' }]);
  });
});

describe('scanPath: what it proposes and finds', () => {
  test('prefers the systolic phase and says why', async () => {
    const files = { ...makeStack(66, { phasePercent: 75 }, 1, 'd'), ...makeStack(66, { phasePercent: 35 }, 1, 's'), ...makeStack(66, { phasePercent: 5 }, 1, 'e') };
    const report = await scan(makeFolder('phases', files));
    expect(report.volumes.map((v) => v.header.phasePercent)).toEqual([5, 35, 75]);
    expect(report.volumes.find((v) => v.key === report.proposed)!.header.phasePercent).toBe(35);
    expect(report.ranking[0]!.reasons).toContain('phase 35 % (systolic)');
  });
  test('prefers contrast over thin slices', async () => {
    const native = makeStack(130, { seriesUid: '1.2.3.8', thicknessMm: 0.5, phasePercent: 35, hu: () => 40 }, 0.5, 'n');
    const report = await scan(makeFolder('contrast', { ...native, ...makeStack(66, { phasePercent: 75 }) }));
    expect(report.volumes.find((v) => v.key === report.proposed)!.seriesUid).toBe('1.2.3.4');
  });
  test('names missing, thick, overlapping and doubled slices, and other postures', async () => {
    const missing = makeStack(100);
    delete missing['s20'];
    expect(codes(await scan(makeFolder('missing', missing)))).toContain('doubt slice-missing');
    const early = makeStack(100);
    delete early['s50'];
    expect(codes(await scan(makeFolder('early', early)))).toContain('stop slice-missing'); // 49 and 50 mm are left
    expect(codes(await scan(makeFolder('thick', makeStack(70, { thicknessMm: 1.5 }))))).toEqual(expect.arrayContaining(['doubt slices-thick', 'note slices-overlap']));
    expect(codes(await scan(makeFolder('thicker', makeStack(70, { thicknessMm: 3 }))))).toContain('stop slices-thick');
    expect(codes(await scan(makeFolder('thin', makeStack(70, { thicknessMm: 1 }))))).not.toContain('doubt slices-thick');
    expect(codes(await scan(makeFolder('double', { ...makeStack(70), again: makeCtFile({ zMm: 7 }) })))).toContain('note slice-duplicate');
    expect(codes(await scan(makeFolder('prone', makeStack(70, { position: 'HFP' }))))).toContain('note not-supine');
    expect(codes(await scan(makeFolder('feet', makeStack(70, { position: 'FFS' }))))).not.toContain('note not-supine');
    expect(codes(await scan(makeFolder('late', makeStack(70, { phasePercent: 75 }))))).toContain('doubt phase-diastolic');
    expect(codes(await scan(makeFolder('short', makeStack(50))))).toContain('stop coverage-too-short');
  });
  test('refuses two patients, and a folder without CT, by name', async () => {
    expect(await refusal(makeFolder('two', { ...makeStack(3), other: makeCtFile({ zMm: 9, patientId: 'T2' }) }))).toBe('two-patients');
    expect(await refusal(makeFolder('mr', makeStack(3, { modality: 'MR', sopClassUid: '1.2.840.10008.5.1.4.1.1.4' })))).toBe('no-ct');
    mkdirSync(join(top, 'empty'));
    expect(await refusal(join(top, 'empty'))).toBe('no-files');
    expect(await refusal(join(top, 'not-there'))).toBe('input-missing');
  });
  test('puts no name of a patient or a file into a failure', async () => {
    const report = await scanPath(makeFolder('secret', { ...makeStack(2, { patientName: 'Muster^Anna' }), 'Muster Anna': makeCtFile({ zMm: 3, patientId: 'X', patientName: 'Other^Olga' }) }));
    expect(report.ok).toBe(false);
    expect(JSON.stringify(report)).not.toMatch(/Muster|Anna|Olga|secret/);
  });
});

describe('scanPath on damage', () => {
  test('counts and names unreadable files and measures the rest', async () => {
    const files = makeStack(120);
    const folder = makeFolder('damage', { ...files, 'zero.dcm': new Uint8Array(0), 'garbage.dcm': Buffer.from('not dicom at all, only letters') });
    truncateSync(join(folder, 's10'), 700); // inside the header
    truncateSync(join(folder, 's30'), files['s30']!.length - 100); // inside the pixels
    const report = await scan(folder);
    expect(report.unreadable.map((f) => f.label)).toEqual(['garbage.dcm', 's10', 's30', 'zero.dcm']);
    expect(report.unreadable.map((f) => f.code)).toEqual(['not-dicom', expect.any(String), 'file-truncated', 'file-empty']);
    expect(codes(report)).toContain('doubt slice-missing');
    const loaded = await loadVolume(report, report.proposed!);
    expect(loaded.ok && loaded.value.volume.dims[2]).toBe(89); // 31 .. 119
  });
  test('looks at 10,000 junk files without trouble', async () => {
    const junk = Object.fromEntries(Array.from({ length: 10_000 }, (_, n) => [`${n % 50}/${n}`, Buffer.from(Array.from({ length: 40 }, (_, i) => Math.floor(256 * uniformAt(n, i, 0))))]));
    const folder = makeFolder('junk', junk);
    expect(await refusal(folder)).toBe('no-ct');
  });
  test('refuses a zip bomb, a zip whose entries lead outside, and half a zip', async () => {
    const files = makeStack(3);
    const whole = Buffer.from(zipSync({ in: files }));
    const outside = Buffer.from(zipSync({ 'xx/yy': files['s0']! }));
    for (let at = outside.indexOf('xx/yy'); at >= 0; at = outside.indexOf('xx/yy', at + 1)) outside.write('../yy', at);
    const bomb = Buffer.from(zipSync({ a: new Uint8Array(1000), b: new Uint8Array(1000) }, { level: 9 }));
    for (let at = bomb.indexOf('PK\x01\x02', 0, 'latin1'); at >= 0; at = bomb.indexOf('PK\x01\x02', at + 1, 'latin1')) bomb.writeUInt32LE(2 ** 31, at + 24);
    const write = (name: string, bytes: Buffer): string => { writeFileSync(join(top, name), bytes); return join(top, name); };
    expect(await refusal(write('outside.zip', outside))).toBe('zip-path-outside');
    expect(await refusal(write('bomb.zip', bomb))).toBe('zip-bomb');
    expect(await refusal(write('half.zip', whole.subarray(0, whole.length >> 1)))).toBe('zip-broken');
    const lying = Buffer.from(whole); // one entry's content changed: its check sum no longer holds
    lying[lying.indexOf('in/s1') + 200]! ^= 0x55;
    const report = await scanPath(write('lying.zip', lying));
    expect(report.ok).toBe(true);
  });
  test('refuses a single slice', async () => {
    const report = await scan(makeFolder('single', makeStack(1)));
    expect([report.proposed, report.verdict, codes(report)]).toEqual([null, 'not fit', ['stop one-slice']]);
    const loaded = await loadProposedVolume(report);
    expect(loaded.ok ? 'ok' : loaded.failure.code).toBe('one-slice');
  });
});

describe('scanPath on real data', () => {
  const stopsOf = async (path: string): Promise<[string, string[]]> => {
    const report = await scan(path);
    const loaded = await loadProposedVolume(report);
    if (!loaded.ok) return ['not loaded', [loaded.failure.code]];
    return [loaded.value.verdict, loaded.value.findings.filter((f) => f.severity === 'stop').map((f) => f.code)];
  };
  withData('measures the chest CTA with the doubts that follow from it', async () => {
    const report = await scan(join(DATA, 'ct-thoracic-cta-root/dicom-derived'));
    const loaded = await loadVolume(report, report.proposed!);
    if (!loaded.ok) throw new Error(loaded.failure.code);
    const { volume, statistics, verdict, findings } = loaded.value;
    expect(verdict).toBe('fit with doubt');
    expect(findings.filter((f) => f.severity === 'doubt').map((f) => f.code)).toEqual(expect.arrayContaining(['slices-thick', 'not-gated']));
    expect(volume.dims).toEqual([120, 126, 164]);
    // facts.json: sample voxels by two independent readers
    expect(volume.samplesHu[(80 * 126 + 47) * 120 + 57]).toBe(447);
    expect(volume.samplesHu[(60 * 126 + 60) * 120 + 70]).toBe(487);
    let sum = 0;
    for (const hu of volume.samplesHu) sum += hu;
    expect(sum).toBe(-497705824);
    // core of the ascending aorta 475 +- 35 HU (README of the data)
    expect(Math.abs(statistics.contrastHu!.valueHu - 475)).toBeLessThan(35);
  });
  withData('gives the same samples from NIfTI, with what the format does not say', async () => {
    const report = await scan(join(DATA, 'ct-thoracic-cta-root/ct.nii.gz'));
    const loaded = await loadProposedVolume(report);
    if (!loaded.ok) throw new Error(loaded.failure.code);
    expect(loaded.value.volume.samplesHu[(80 * 126 + 47) * 120 + 57]).toBe(447);
    expect(loaded.value.verdict).toBe('fit with doubt');
    expect(loaded.value.findings.map((f) => f.code)).toEqual(expect.arrayContaining(['phase-unknown', 'posture-unknown', 'header-bare']));
  });
  withData('refuses what cannot hold or show a root, each for its reason', async () => {
    expect(await stopsOf(join(DATA, 'dicom-torture/tilt-variable-spacing'))).toEqual(['not fit', expect.arrayContaining(['spacing-uneven'])]);
    const abdomen = await stopsOf(join(DATA, 'ct-dicom-jpeg2000-series'));
    expect(abdomen[1]).toEqual(['coverage-too-short', 'contrast-none', 'slices-thick']);
    const native = await stopsOf(join(DATA, 'ct-noncontrast-negative/ct.nii.gz'));
    expect(native[1]).toEqual(['contrast-none', 'slices-thick']);
    expect(await refusal(join(DATA, 'dicom-torture/us-regions'))).toBe('no-ct');
    expect(await refusal(join(DATA, 'ecg-conduction'))).toBe('no-ct');
  });
  withData('refuses the chest without contrast for want of contrast alone', async () => {
    const folder = join(top, 'chest');
    mkdirSync(folder);
    execFileSync('tar', ['xzf', join(DATA, 'ct-dicom-chest-1mm-noncontrast/series.tar.gz'), '-C', folder]);
    expect(await stopsOf(folder)).toEqual(['not fit', ['contrast-none']]);
  });
});
