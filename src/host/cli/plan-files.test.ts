import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import type { Landmarks } from '../../core/root/root-types.ts';
import type { CtVolume } from '../../core/volume/volume-types.ts';
import { checkLandmarks } from './check-landmarks.ts';
import { TRAINING_RULES, TRAINING_TABLE } from '../../core/device/training-table.ts';
import { readLandmarks, readTable } from './plan-files.ts';

const folder = mkdtempSync(join(tmpdir(), 'plan-files-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const put = (text: string | Uint8Array): string => {
  const path = join(folder, 'file.json');
  writeFileSync(path, text);
  return path;
};
const NADIRS = { R: [0, -12, 5], L: [10, 8, 5], N: [-10, 7, 6] };
const MARKS = { format: 'trinadir.landmarks/1', by: 'reader', frameOfReferenceUid: '1.2.3', nadirsLps: NADIRS };
const codeOf = async (text: string | Uint8Array): Promise<string> => {
  const read = await readLandmarks(put(text));
  return read.ok ? 'ok' : read.failure.code;
};
const codeFor = (marks: object): Promise<string> => codeOf(JSON.stringify({ ...MARKS, ...marks }));

describe('readLandmarks', () => {
  test('takes the marks of the contract, with the hash of the file', async () => {
    const read = await readLandmarks(put(JSON.stringify({ ...MARKS, ostiaLps: { left: [12, 9, 17] } })));
    expect(read).toMatchObject({ ok: true, value: { content: { nadirsLps: NADIRS, ostiaLps: { left: [12, 9, 17] } } } });
    expect(read.ok && read.value.sha256).toMatch(/^[0-9a-f]{64}$/);
  });
  test('refuses each kind of broken file with its code', async () => {
    expect((await readLandmarks(join(folder, 'absent.json'))).ok).toBe(false);
    expect((await readLandmarks(folder)).ok).toBe(false); // a folder is no file
    expect(await codeOf('{"format":')).toBe('landmarks-not-json');
    expect(await codeOf(Uint8Array.of(0xff, 0xfe, 0x7b))).toBe('landmarks-not-json');
    expect(await codeOf('[]')).toBe('landmarks-invalid');
    expect(await codeFor({ format: 'trinadir.landmarks/2' })).toBe('landmarks-invalid');
    expect(await codeFor({ nadirLps: NADIRS })).toBe('landmarks-invalid'); // a misspelled mark is not passed over
    expect(await codeFor({ nadirsLps: { R: [0, 0, 0], L: [1, 1, 1] } })).toBe('landmarks-invalid');
    expect(await codeFor({ nadirsLps: { ...NADIRS, N: [1, 2] } })).toBe('landmarks-invalid');
    expect(await codeFor({ nadirsLps: undefined })).toBe('landmarks-empty');
    expect(await codeOf(JSON.stringify(MARKS).replace('-12', '1e999'))).toBe('landmarks-invalid'); // not finite
  });
  test('does not repeat what the file holds', async () => {
    const read = await readLandmarks(put(JSON.stringify({ ...MARKS, 'Anna Example': 1 })));
    expect(JSON.stringify(read)).not.toContain('Anna');
  });
  test('refuses nadirs on one line, also nearly, also when two are the same', async () => {
    expect(await codeFor({ nadirsLps: { R: [0, 0, 0], L: [10, 0, 0], N: [20, 1.9, 0] } })).toBe('nadirs-collinear');
    expect(await codeFor({ nadirsLps: { R: [0, 0, 0], L: [0, 0, 0], N: [20, 5, 0] } })).toBe('nadirs-collinear');
    expect(await codeFor({ nadirsLps: { R: [0, 0, 0], L: [10, 0, 0], N: [20, 4.5, 0] } })).toBe('ok'); // 2.2 mm off the longest side
  });
});

const VOLUME: CtVolume = {
  samplesHu: new Int16Array(0), dims: [40, 40, 40], spacingMm: [1, 1, 1], paddingHu: null,
  lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [1, 0, 0, -20, 0, 1, 0, -20, 0, 0, 1, -20] },
};
describe('checkLandmarks', () => {
  const marks = MARKS as unknown as Landmarks;
  test('asks for the same frame of reference only where both sides name one', () => {
    expect(checkLandmarks(marks, VOLUME, '1.2.3')).toBeNull();
    expect(checkLandmarks(marks, VOLUME, '1.2.4')?.code).toBe('landmarks-other-frame');
    expect(checkLandmarks(marks, VOLUME, null)).toBeNull();
    expect(checkLandmarks({ ...marks, frameOfReferenceUid: undefined }, VOLUME, '1.2.4')).toBeNull();
  });
  test('refuses marks outside the scan: RAS numbers, another patient', () => {
    expect(checkLandmarks({ ...marks, ostiaLps: { left: [0, 0, 21] } }, VOLUME, null)?.code).toBe('landmarks-outside-scan');
    expect(checkLandmarks({ ...marks, ostiaLps: { left: [0, 0, 19.4] } }, VOLUME, null)).toBeNull();
  });
});

describe('readTable', () => {
  test('takes a table of the right format and says whether it is training', async () => {
    const path = put(JSON.stringify(TRAINING_TABLE));
    expect(await readTable(path, 'devices')).toMatchObject({ ok: true, value: { content: { training: true } } });
    expect(await readTable(put(JSON.stringify(TRAINING_RULES)), 'rules')).toMatchObject({ ok: true, value: { content: { training: true } } });
  });
  test('refuses what is not one', async () => {
    const code = async (text: string, kind: 'devices' | 'patient'): Promise<string> => {
      const read = await readTable(put(text), kind);
      return read.ok ? 'ok' : read.failure.code;
    };
    expect(await code('nothing', 'devices')).toBe('devices-not-json');
    expect(await code('{"format":"trinadir.devices/1","training":true,"devices":[]}', 'devices')).toBe('devices-unsigned');
    expect(await code('{"format":"trinadir.rules/1","training":true,"devices":[]}', 'devices')).toBe('devices-invalid');
    expect(await code('{"format":"trinadir.devices/1","training":true,"devices":[]}', 'patient')).toBe('patient-invalid');
    expect((await readTable(join(folder, 'absent'), 'patient')).ok).toBe(false);
  });
});
