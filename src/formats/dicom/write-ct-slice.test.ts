import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { drawPhantom } from '../../core/phantom/draw-phantom.ts';
import { makeSeededShape } from '../../core/phantom/draw-seeded-shape.ts';
import { formatDecimal } from './write-elements.ts';
import { makeDerivedUid } from './write-derived-uid.ts';
import { encodeRleFrame } from './write-rle-frame.ts';
import { decodeRle } from './decode-rle.ts';
import { parsePart10 } from './parse-part10.ts';
import { readCtSlices } from './read-ct-slice.ts';
import { describeGrid, writeCtSlice, type CtSeriesLabels } from './write-ct-slice.ts';
import type { PlainSyntax } from './write-part10.ts';

const SEED = 7;
const { shape, scan } = makeSeededShape(SEED);
const tilted = { ...scan, dims: [40, 33, 5] as const, gantryTiltDeg: 12, inPlaneTurnDeg: 20 };
const { volume } = drawPhantom(shape, tilted);
const labels: CtSeriesLabels = {
  seed: SEED, seriesNumber: 2, seriesDescription: 'TRAINING invented sizes 30 %', sliceThicknessMm: 0.6, gantryTiltDeg: 12,
  phasePercent: 30, isContrast: true, kvp: 100, kernel: 'INVENTED', stored: 'unsigned-12',
};
const SYNTAXES: readonly PlainSyntax['kind'][] = ['explicit-little', 'implicit-little', 'explicit-big', 'deflated', 'rle'];
const folder = mkdtempSync(join(tmpdir(), 'ct-slice-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const hasTool = (name: string, args: readonly string[]): boolean => spawnSync(name, args, { stdio: 'ignore' }).error === undefined;
const hasValidator = hasTool('dciodvfy', ['-version']);
const hasReader = hasTool('/usr/bin/python3', ['-c', '']) && spawnSync('/usr/bin/python3', ['-c', 'import pydicom'], { stdio: 'ignore' }).status === 0;

function writeFileOf(name: string, bytes: Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, bytes);
  return path;
}

describe(`writeCtSlice (seed ${SEED})`, () => {
  test('writes the same bytes twice, and other identities for another seed', () => {
    expect(writeCtSlice(volume, 2, labels)).toEqual(writeCtSlice(volume, 2, labels));
    expect(writeCtSlice(volume, 2, { ...labels, seed: 8 })).not.toEqual(writeCtSlice(volume, 2, labels));
  });

  test('states a position that steps along the table and an orientation that leans with the gantry', () => {
    const grid = describeGrid(volume);
    const [a, b] = [0, 1].map((k) => grid.positionOf(k).split('\\').map(Number));
    expect(b![0]).toBeCloseTo(a![0]!, 9);
    expect(b![1]).toBeCloseTo(a![1]!, 9);
    const o = grid.orientation.split('\\').map(Number);
    expect(o[0]! * o[3]! + o[1]! * o[4]! + o[2]! * o[5]!).toBeCloseTo(0, 9);
    expect(Math.hypot(o[2]!, o[5]!)).toBeCloseTo(Math.sin((12 * Math.PI) / 180), 9);
  });

  test.skipIf(!hasValidator)('passes the conformance checker without an error', () => {
    for (const stored of ['unsigned-12', 'signed-16'] as const) {
      for (const kind of SYNTAXES.filter((s) => s !== 'deflated')) { // the checker reads no deflated data sets
        const path = writeFileOf(`${kind}-${stored}.dcm`, writeCtSlice(volume, 1, { ...labels, stored }, { kind }));
        const said = spawnSync('dciodvfy', [path], { encoding: 'utf8' });
        expect(`${said.stdout}${said.stderr}`).toContain('CTImage');
        expect(`${said.stdout}${said.stderr}`).not.toContain('Error');
      }
    }
  });

  test('is read back by the intake with its grid and phase', () => {
    const dataset = parsePart10(writeCtSlice(volume, 3, labels));
    const read = dataset.ok ? readCtSlices(dataset.value) : dataset;
    expect(read.ok && read.value[0]).toMatchObject({
      modality: 'CT', rows: 33, columns: 40, phasePercent: 30, sliceThicknessMm: 0.6, gantryTiltDeg: 12, rescaleIntercept: -1024, rescaleSlope: 1, patientPosition: 'HFS',
    });
  });

  test.skipIf(!hasReader)('gives an independent reader the drawn HU and grid in every syntax', () => {
    const paths = SYNTAXES.map((kind) => writeFileOf(`read-${kind}.dcm`, writeCtSlice(volume, 1, labels, { kind })));
    const script = [
      'import sys, json, pydicom',
      'for p in sys.argv[1:]:',
      '  d = pydicom.dcmread(p); a = d.pixel_array * float(d.RescaleSlope) + float(d.RescaleIntercept)',
      '  print(json.dumps([a.ravel().tolist(), [float(v) for v in d.ImagePositionPatient], str(d.PatientName), d.Rows, d.Columns]))',
    ].join('\n');
    const lines = execFileSync('/usr/bin/python3', ['-c', script, ...paths], { encoding: 'utf8' }).trim().split('\n');
    const [nx, ny] = volume.dims;
    const wanted = Array.from(volume.samplesHu.subarray(nx * ny, 2 * nx * ny), (v) => Math.max(-1024, Math.min(3071, v)));
    expect(lines).toHaveLength(SYNTAXES.length);
    for (const line of lines) {
      const [hu, position, name, rows, columns] = JSON.parse(line) as [number[], number[], string, number, number];
      expect(hu).toEqual(wanted);
      expect([rows, columns]).toEqual([ny, nx]);
      expect(name).toBe('TRAINING^PHANTOM');
      const r = volume.lpsFromVoxel.rows;
      // decimal strings hold 14 digits
      position.forEach((v, i) => expect(v).toBeCloseTo(r[i * 4 + 2]! + r[i * 4 + 3]!, 8));
    }
  });
});

describe('parts of the writer', () => {
  test('keeps decimal strings within 16 characters and close to the number', () => {
    for (const v of [0, -0.1, 1 / 3, -1234567 / 9999, 1e-7 / 3, -1e-12 / 7, 99999.123456789]) {
      const text = formatDecimal(v);
      expect(text.length).toBeLessThanOrEqual(16);
      expect(Math.abs(Number(text) - v)).toBeLessThanOrEqual(Math.abs(v) * 1e-8);
    }
  });

  test('makes UIDs of at most 64 characters that differ by any word', () => {
    const seen = new Set<string>();
    for (let i = 0; i < 5000; i++) seen.add(makeDerivedUid('instance', 7, i));
    expect(seen.size).toBe(5000);
    for (const uid of seen) expect(uid).toMatch(/^2\.25\.[1-9]\d{10,38}$/);
    expect(makeDerivedUid('a', 12)).not.toBe(makeDerivedUid('a1', 2));
  });

  test('packs runs so that the reader unpacks them', () => {
    const samples = Uint8Array.from({ length: 2 * 700 }, (_, i) => (i < 500 ? 0 : i % 251 < 120 ? 7 : (i * 37) & 0xff));
    const decoded = decodeRle(encodeRleFrame(samples), 700);
    const words = Array.from({ length: 700 }, (_, i) => samples[2 * i]! + 256 * samples[2 * i + 1]!);
    expect(decoded.ok && Array.from(decoded.value)).toEqual(words);
  });
});
