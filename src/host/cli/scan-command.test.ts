import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeCtFile, type TestSlice } from '../../../test/support/make-ct-file.ts';
import { runScanCommand } from './scan-command.ts';

let top = '';
beforeAll(() => { top = mkdtempSync(join(tmpdir(), 'scan-')); });
afterAll(() => rmSync(top, { recursive: true, force: true }));

function makeFolder(name: string, n: number, extra: Partial<TestSlice> = {}): string {
  const folder = join(top, name);
  mkdirSync(folder);
  for (let k = 0; k < n; k++) writeFileSync(join(folder, `${k}`), makeCtFile({ zMm: k, ...extra }));
  return folder;
}
async function run(path: string, options: { json?: boolean; quiet?: boolean } = {}) {
  let out = '';
  let err = '';
  const code = await runScanCommand({ path, ...options }, { out: (text) => { out += text; }, err: (text) => { err += text; }, isTerminal: false });
  return { code, out, err };
}

describe('trinadir scan', () => {
  test('answers first, then why, doubt and next', async () => {
    const { code, out } = await run(makeFolder('good', 70, { phasePercent: 75, description: 'Heart\u001b[31m 0.6' }));
    expect(code).toBe(0);
    expect(out.split('\n')[0]).toBe('Answer  This scan can be measured, with doubt.');
    expect(out).toMatch(/Why {2}Chosen because: .*phase 75 % \(not systolic\)/);
    expect(out).toMatch(/doubt {2}phase-diastolic: /);
    expect(out.indexOf('Doubt')).toBeLessThan(out.indexOf('Next  trinadir plan'));
    expect(out).not.toContain('\u001b'); // text of a file cannot steer the terminal
  });
  test('writes one JSON document, the same twice with SOURCE_DATE_EPOCH', async () => {
    process.env['SOURCE_DATE_EPOCH'] = '1772438400';
    try {
      const folder = makeFolder('json', 70, { phasePercent: 30 });
      const [a, b] = [await run(folder, { json: true, quiet: true }), await run(folder, { json: true, quiet: true })];
      const document = JSON.parse(a.out);
      expect([a.code, document.format, document.verdict, document.proposed.key]).toEqual([0, 'trinadir.scan/1', 'fit', '1.2.3.4#1']);
      expect(document.examined.scan.contrastHu.unit).toBe("[hnsf'U]");
      expect(a.err).toBe('');
      expect(b.out).toBe(a.out);
    } finally {
      delete process.env['SOURCE_DATE_EPOCH'];
    }
  });
  test('lists an unfit scan, exits 3 and names the first reason last', async () => {
    const { code, out, err } = await run(makeFolder('thick', 70, { thicknessMm: 3, hu: () => 40 }), { json: true });
    expect(code).toBe(3);
    const document = JSON.parse(out);
    expect([document.verdict, document.proposed]).toEqual(['not fit', null]);
    const last = JSON.parse(err.trim().split('\n').at(-1)!);
    expect(last.error.code).toBe('contrast-none');
    expect(last.error.next).not.toBe('');
  });
  test('refuses a folder without CT with exit 3 and writes nothing on standard output', async () => {
    const folder = join(top, 'none');
    mkdirSync(folder);
    writeFileSync(join(folder, 'a.txt'), 'no picture');
    const { code, out, err } = await run(folder, { json: true, quiet: true });
    expect([code, out]).toEqual([3, '']);
    expect(JSON.parse(err).error.code).toBe('no-ct');
    expect(err).not.toContain(top);
  });
  test('shows a single picture as what it is', async () => {
    const { code, out, err } = await run(makeFolder('one', 1));
    expect(code).toBe(3);
    expect(out).toMatch(/stop {3}one-slice/);
    expect(err).toContain('Code: one-slice');
  });
});
