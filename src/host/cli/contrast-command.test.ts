import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { drawSmall } from '../../../test/support/contrast-phantoms.ts';
import type { ContrastAnswer } from '../../core/angiogram/contrast-types.ts';
import { computeDensityRatio } from '../../core/angiogram/density-ratio.ts';
import { writeContrastRegions } from '../../formats/contrast/parse-contrast-regions.ts';
import { packContrastRun } from '../contrast/write-contrast-run.ts';
import { readContrastRun } from '../contrast/read-contrast-run.ts';
import { runContrastCommand, type ContrastOptions } from './contrast-command.ts';
import { parseFrameRange, parseSaid } from './contrast-said.ts';
import { EXIT } from './exit-codes.ts';
import { runPhantomCommand } from './phantom-command.ts';

const base = mkdtempSync(join(tmpdir(), 'trinadir-contrast-'));
afterAll(() => {
  rmSync(base, { recursive: true, force: true });
  delete process.env['SOURCE_DATE_EPOCH'];
});
const drawn = drawSmall({ regurgitantFraction: 0.25 });
const runPath = join(base, 'run.dcm');
const regionsPath = join(base, 'regions.json');
beforeAll(() => {
  process.env['SOURCE_DATE_EPOCH'] = '1772438400'; // one stamp for all answers
  writeFileSync(runPath, packContrastRun(drawn, drawn.shape));
  writeFileSync(regionsPath, writeContrastRegions({ ...drawn.truth.regions, background: null }));
});
const SAID = parseSaid('breath-held,table-still,no-overlap,in-view,not-paced')!;

async function run(options: Partial<ContrastOptions>): Promise<{ readonly code: number; readonly out: string; readonly err: string }> {
  let [out, err] = ['', ''];
  const code = await runContrastCommand({ path: runPath, ...options }, { out: (t) => (out += t), err: (t) => (err += t), isTerminal: false });
  return { code, out, err };
}
const codeIn = (err: string): string => (JSON.parse(err.trim().split('\n').at(-1)!) as { error: { code: string } }).error.code;

describe('trinadir contrast', () => {
  test('gives the leak of a drawn run as JSON, and is settled when all is said', async () => {
    const { code, out, err } = await run({ json: true, regions: regionsPath, said: SAID });
    expect([code, err]).toEqual([EXIT.answered, '']);
    const answer = JSON.parse(out) as ContrastAnswer;
    const truth = computeDensityRatio(drawn.frameTimesMs, drawn.truth.outflow, drawn.truth.aorta, answer.window!.fromMs, answer.window!.toMs);
    expect(answer.format).toBe('trinadir.contrast/1');
    expect(answer.ratio.status).toBe('settled');
    expect(answer.ratio.low!).toBeLessThan(truth);
    expect(answer.ratio.high!).toBeGreaterThan(truth);
  });
  test('for a person: answer, why, doubt, next, caution', async () => {
    const { code, out } = await run({});
    expect(code).toBe(EXIT.answered);
    expect(out).toMatch(/^Answer {2}density ratio outflow tract \/ root 0\.\d{3} \(0\.\d{3} to 0\.\d{3}\) \(doubtful\) over 3\.0 cycle/);
    expect(out).toContain('Doubt   The regions are proposed by the program.');
    expect(out).toContain('not a medical device');
  });
  test('a refused ratio ends with 3, still with its curves', async () => {
    const { code, out } = await run({ json: true, regions: regionsPath, said: { ...SAID, breathHeld: false } });
    expect(code).toBe(EXIT.refused);
    const answer = JSON.parse(out) as ContrastAnswer;
    expect(answer.ratio.value).toBeNull();
    expect(answer.ratio.reasons.map((r) => r.code)).toContain('breath-not-held');
    expect(answer.curves.aorta.length).toBe(drawn.pixels.length);
  });
  test('a packed run gives the same numbers', async () => {
    const path = join(base, 'rle.dcm');
    writeFileSync(path, packContrastRun(drawn, drawn.shape, { kind: 'rle' }));
    const [plain, packed] = [await run({ json: true, said: SAID }), await run({ json: true, said: SAID, path })];
    expect(packed.out).toBe(plain.out);
  });
  test('names what is wrong with its inputs', async () => {
    const bad = join(base, 'bad.json');
    writeFileSync(bad, '{"format":"trinadir.contrast-regions/1","aorta":[[1,1]],"outflow":[]}');
    const cut = join(base, 'cut.dcm');
    writeFileSync(cut, readFileSync(runPath).subarray(0, 200_000));
    for (const [options, code] of [
      [{ path: join(base, 'gone.dcm') }, 'run-gone'], [{ path: base }, 'run-gone'], [{ regions: join(base, 'gone.json') }, 'contrast-regions-unreadable'], [{ regions: bad }, 'contrast-region-invalid'],
      [{ path: regionsPath }, 'not-dicom'], [{ frames: [5, 900] as const }, 'contrast-range-invalid'],
    ] as const) {
      const { code: exit, err, out } = await run({ ...options, json: true });
      expect([exit, out]).toEqual([EXIT.refused, '']);
      expect(codeIn(err)).toBe(code);
    }
    expect((await run({ path: cut, json: true })).code).toBe(EXIT.refused);
  });
  test('words and ranges of the command line', () => {
    expect(parseFrameRange('12-58')).toEqual([12, 58]);
    for (const wrong of ['58-12', '0-9', 'a-b', '5', '5-', '1-2-3']) expect(parseFrameRange(wrong)).toBeNull();
    expect(parseSaid('breathing')).toEqual({ breathHeld: false });
    for (const wrong of ['', 'held', 'breath-held,breathing', 'toString']) expect(parseSaid(wrong)).toBeNull();
  });
});

describe('real and drawn files', () => {
  test('trinadir phantom --angiogram writes a run, its regions and its truth', async () => {
    const io = { out: (): void => {}, err: (): void => {} };
    const folder = join(base, 'drawn');
    expect(await runPhantomCommand({ out: folder, angiogram: 0.1, shape: 'plain-root' }, io)).toBe(EXIT.usage);
    expect(existsSync(folder)).toBe(false);
  });
  const folder = new URL('../../../../shared/data/dicom-torture/multiframe/', import.meta.url);
  test.skipIf(!existsSync(folder))('what is no angiographic run is refused by name (dicom-torture)', async () => {
    const { readdirSync } = await import('node:fs');
    for (const name of readdirSync(folder).filter((n) => n.endsWith('.dcm'))) {
      const r = await readContrastRun(new URL(name, folder).pathname);
      if (r.ok) expect(r.value.run.frames.length).toBe(r.value.xa.frameCount);
      else expect(r.failure.code).toMatch(/^[a-z]+(-[a-z0-9]+)+$/);
    }
  });
});
