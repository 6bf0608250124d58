import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Plan } from '../../core/case/plan-types.ts';
import type { PhantomTruth } from '../../core/phantom/phantom-types.ts';
import { CUSPS } from '../../core/root/root-types.ts';
import { parseStl } from '../../formats/stl/parse-stl.ts';
import { STL_HEADER, STL_TRAINING } from './answer-plan.ts';
import { EXIT } from './exit-codes.ts';
import { runPhantomCommand } from './phantom-command.ts';
import { runPlanCommand, type PlanOptions } from './plan-command.ts';

const base = mkdtempSync(join(tmpdir(), 'trinadir-plan-'));
const ctFolder = join(base, 'ct');
const outside = (path: string): string => fileURLToPath(new URL(`../../../../shared/data/${path}`, import.meta.url));
const hasOutside = existsSync(outside('ct-thoracic-cta-root'));
const program = fileURLToPath(new URL('../../../bin/trinadir.mjs', import.meta.url));
const hasBuild = existsSync(fileURLToPath(new URL('../../../dist/host/cli/main.js', import.meta.url)));

interface Outcome { readonly code: number; readonly out: string; readonly err: string }
async function plan(options: Partial<PlanOptions> & { path: string; out: string }): Promise<Outcome> {
  let [out, err] = ['', ''];
  const code = await runPlanCommand({ quiet: true, ...options }, { out: (t) => { out += t; }, err: (t) => { err += t; }, isTerminal: false });
  return { code, out, err };
}
const readPlan = (folder: string): Plan => JSON.parse(readFileSync(join(folder, 'plan.json'), 'utf8')) as Plan;
const codeIn = ({ err }: Outcome): string => (JSON.parse(err.trim().split('\n').at(-1)!) as { error: { code: string } }).error.code;
const listFiles = (folder: string): string[] => readdirSync(folder, { recursive: true }).map(String).filter((name) => /\./.test(name)).sort();

/** A training root, coarse enough to be quick and large enough (17 million voxels) that worker threads are used. */
beforeAll(async () => {
  process.env['SOURCE_DATE_EPOCH'] = '1772438400';
  const shape = join(base, 'shape.json');
  const scan = { dims: [256, 256, 260], spacingMm: [0.5, 0.5, 0.45], sliceThicknessMm: 0.5 };
  writeFileSync(shape, JSON.stringify({ format: 'trinadir.phantom/1', from: { scenario: 'plain-root' }, scan }));
  expect(await runPhantomCommand({ out: ctFolder, shape }, { out: () => {}, err: () => {} })).toBe(EXIT.answered);
  process.env['TRINADIR_WORKERS'] = '2';
  expect((await plan({ path: ctFolder, out: join(base, 'two') })).code).toBe(EXIT.answered);
});
afterAll(() => {
  delete process.env['SOURCE_DATE_EPOCH'];
  delete process.env['TRINADIR_WORKERS'];
  rmSync(base, { recursive: true, force: true });
});

describe('trinadir plan on a training root, through DICOM', () => {
  test('measures what was drawn', () => {
    const truth = JSON.parse(readFileSync(join(ctFolder, 'truth.json'), 'utf8')) as PhantomTruth;
    const { root } = readPlan(join(base, 'two'));
    const error = (value: number | null, wanted: number): number => Math.abs(value! / wanted - 1);
    // Twice the median errors promised by docs/methods/root-survey.md: this is one root, on a coarse grid.
    expect(error(root!.basalRing.areaMm2.value, truth.basalRing.areaMm2)).toBeLessThan(0.03);
    expect(error(root!.basalRing.perimeterMm.value, truth.basalRing.perimeterMm)).toBeLessThan(0.02);
  });
  test('says that sizes are invented, wherever a number goes', () => {
    const made = readPlan(join(base, 'two'));
    expect(made.training).toBe(true);
    expect(readFileSync(join(base, 'two', 'plan.html'), 'utf8')).toContain('training, invented sizes');
  });
  test('gives the contrast and noise of the root itself', () => {
    const { contrastHu, noiseHu } = readPlan(join(base, 'two')).scan;
    expect([contrastHu.source.method, noiseHu.source.method]).toEqual(['root.blood/1', 'root.bloodNoise/1']);
  });
  test('writes surfaces that lie where the plan says the root is', () => {
    const { root } = readPlan(join(base, 'two'));
    const mesh = parseStl(readFileSync(join(base, 'two', 'surfaces', 'root-lumen.stl')));
    if (!mesh.ok) throw new Error(mesh.failure.code);
    const { cornersMm, headerText } = mesh.value;
    expect(headerText.trimEnd()).toBe(STL_TRAINING + STL_HEADER);
    const centre = [0, 1, 2].map((axis) => {
      let sum = 0;
      for (let i = axis; i < cornersMm.length; i += 3) sum += cornersMm[i]!;
      return sum / (cornersMm.length / 3);
    });
    // The surface runs from -12 to about 25 mm, so its middle is some 6 mm above the basal plane.
    const { pointLps, normalLps } = root!.basalPlane;
    const up = centre.map((v, axis) => v - pointLps[axis]!).reduce((sum, v, axis) => sum + v * normalLps[axis]!, 0);
    expect(up).toBeGreaterThan(2);
    expect(up).toBeLessThan(12);
  });
  test('gives the same bytes with one worker, and keeps an answer unless told to replace it', async () => {
    process.env['TRINADIR_WORKERS'] = '1';
    const out = join(base, 'one');
    expect((await plan({ path: ctFolder, out })).code).toBe(EXIT.answered);
    expect(listFiles(out)).toEqual(listFiles(join(base, 'two')));
    for (const name of listFiles(out)) expect(readFileSync(join(out, name)).equals(readFileSync(join(base, 'two', name))), name).toBe(true);
    writeFileSync(join(out, 'notes.txt'), 'mine');
    const kept = await plan({ path: ctFolder, out, json: true });
    expect([kept.code, codeIn(kept), kept.out]).toEqual([EXIT.usage, 'out-folder-holds-answer', '']);
    const replaced = await plan({ path: ctFolder, out, replace: true, only: 'scan', json: true });
    expect(replaced.code).toBe(EXIT.answered);
    expect(listFiles(out)).toEqual(['notes.txt', 'plan.html', 'plan.json', 'plan.pdf']); // no surface of the old answer stays
    expect(replaced.out).toBe(readFileSync(join(out, 'plan.json'), 'utf8'));
  });
  test('lets the marks of a person win, and says so', async () => {
    const truth = JSON.parse(readFileSync(join(ctFolder, 'truth.json'), 'utf8')) as PhantomTruth;
    const { scan } = readPlan(join(base, 'two'));
    const { nadirsLps } = truth.basalPlane;
    const landmarks = join(base, 'landmarks.json');
    const write = (frameOfReferenceUid: string): void =>
      writeFileSync(landmarks, JSON.stringify({ format: 'trinadir.landmarks/1', by: 'reader', frameOfReferenceUid, nadirsLps }));
    write(scan.frameOfReferenceUid!);
    const out = join(base, 'marked');
    expect((await plan({ path: ctFolder, out, landmarks })).code).toBe(EXIT.answered);
    const marked = readPlan(out);
    expect(marked.inputs.landmarksSha256).toMatch(/^[0-9a-f]{64}$/);
    expect(marked.root!.basalRing.areaMm2.source.kind).toBe('edited');
    for (const cusp of CUSPS) {
      marked.root!.basalPlane.nadirsLps[cusp].forEach((v, axis) => expect(Math.abs(v - nadirsLps[cusp][axis]!)).toBeLessThan(1e-3));
    }
    write('1.2.3.4');
    const other = await plan({ path: ctFolder, out: join(base, 'other'), landmarks, json: true });
    expect([other.code, codeIn(other), existsSync(join(base, 'other'))]).toEqual([EXIT.refused, 'landmarks-other-frame', false]);
  });
  test.skipIf(!hasBuild)('leaves nothing that looks like an answer when it is killed, and the next run cleans up', async () => {
    const place = join(base, 'killed');
    mkdirSync(place);
    const out = join(place, 'answer');
    const child = spawn(process.execPath, [program, 'plan', ctFolder, '--out', out], { stdio: ['ignore', 'ignore', 'pipe'] });
    const ended = new Promise((resolve) => child.on('exit', resolve));
    await new Promise<void>((resolve) => child.stderr.on('data', (bytes: Buffer) => { if (bytes.includes('Reading')) resolve(); }));
    child.kill('SIGKILL');
    await ended;
    expect(readdirSync(place)).toEqual([expect.stringMatching(/^\.answer\.part-/)]);
    mkdirSync(join(base, 'empty'));
    expect((await plan({ path: join(base, 'empty'), out })).code).toBe(EXIT.refused);
    expect(readdirSync(place)).toEqual([]);
  });
});

describe('trinadir plan refuses', () => {
  const refusal = async (options: Partial<PlanOptions> & { path: string }): Promise<readonly [number, string, boolean]> => {
    const out = join(base, 'refused', 'deep');
    const outcome = await plan({ ...options, out, json: true });
    expect(outcome.out).toBe('');
    return [outcome.code, codeIn(outcome), existsSync(join(base, 'refused'))];
  };
  test('what it does not know, before it looks at the CT', async () => {
    expect(await refusal({ path: ctFolder, only: 'root,colour' })).toEqual([EXIT.usage, 'section-unknown', false]);
    expect(await refusal({ path: ctFolder, only: 'root,route' })).toEqual([EXIT.refused, 'section-not-in-version', false]);
    expect(await refusal({ path: ctFolder, landmarks: join(base, 'absent') })).toEqual([EXIT.refused, 'landmarks-unreadable', false]);
    expect(await refusal({ path: ctFolder, devices: join(base, 'absent') })).toEqual([EXIT.refused, 'devices-unreadable', false]);
  });
  test('an input that is not there or a series that it does not hold', async () => {
    expect(await refusal({ path: join(base, 'absent') })).toEqual([EXIT.refused, 'input-missing', false]);
    expect(await refusal({ path: ctFolder, series: '1.2.3' })).toEqual([EXIT.refused, 'series-unknown', false]);
  });
  test.skipIf(!hasOutside)('each real CT without a measurable root, for its own reason (outside data)', async () => {
    const plainCt = join(base, 'plain-ct');
    mkdirSync(plainCt);
    expect(spawnSync('tar', ['xzf', outside('ct-dicom-chest-1mm-noncontrast/series.tar.gz'), '-C', plainCt]).status).toBe(0);
    const wanted: readonly (readonly [string, string])[] = [
      [plainCt, 'contrast-none'],
      [outside('ct-noncontrast-negative/ct.nii.gz'), 'contrast-none'],
      [outside('ct-dicom-jpeg2000-series'), 'coverage-too-short'],
      [outside('dicom-torture/tilt-variable-spacing'), 'spacing-uneven'],
      [outside('dicom-torture'), 'two-patients'],
      [outside('ecg-conduction'), 'no-ct'],
    ];
    for (const [path, code] of wanted) expect(await refusal({ path })).toEqual([EXIT.refused, code, false]);
  });
});

test.skipIf(!hasOutside)('the same real CT as NIfTI and as DICOM gives the same numbers (outside data)', async () => {
  const [nifti, dicom] = [join(base, 'nifti'), join(base, 'dicom')];
  expect((await plan({ path: outside('ct-thoracic-cta-root/ct.nii.gz'), out: nifti })).code).toBe(EXIT.answered);
  expect((await plan({ path: outside('ct-thoracic-cta-root/dicom-derived'), out: dicom })).code).toBe(EXIT.answered);
  const [a, b] = [readPlan(nifti), readPlan(dicom)];
  // Reasons differ: the DICOM header says more than the NIfTI one.
  const bare = (value: unknown): unknown => JSON.parse(JSON.stringify(value, (key, each: unknown) => (key === 'reasons' || key === 'status' ? undefined : each)));
  expect(bare(a.root)).toEqual(bare(b.root));
  // Without a table of the hospital's own the training table acts, and marks the plan.
  expect([a.training, a.scan.verdict, b.scan.verdict]).toEqual([true, 'fit with doubt', 'fit with doubt']);
  expect(a.root!.basalRing.areaMm2.reasons.map(({ code }) => code)).toContain('slices-thick'); // doubts of the scan reach every number
  // Reference of the data: 29.3 to 30.5 mm across the ascending aorta, automatic, good to 2-3 mm.
  const { value } = a.root!.ascendingAorta.diameterMm;
  expect(value).toBeGreaterThan(26.5);
  expect(value).toBeLessThan(33.5);
});
