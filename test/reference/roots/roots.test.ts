import { spawn, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Plan } from '../../../src/core/case/plan-types.ts';
import { distance, dot, type Vec3 } from '../../../src/core/math/vec3.ts';
import { CUSPS, type ByCusp, type RootSurvey } from '../../../src/core/root/root-types.ts';
import type { Fact } from '../../../src/core/units/fact.ts';
import { runPlanCommand } from '../../../src/host/cli/plan-command.ts';

const PYTHON = '/usr/bin/python3';
const MAKER = fileURLToPath(new URL('./make.py', import.meta.url));
/** Shapes of each kind on coarse voxels, cut to a cube, so that they are quick; the whole table is made by compare.py. */
const SEEDS = [2, 3, 8, 22] as const;
const CUBE_MM = 90;
/** One root each: the 95th percentiles promised in docs/methods/root-survey.md, twice the goals for the median. */
const AREA_PERCENT = 3;
const PERIMETER_PERCENT = 2;
const DIAMETER_MM = 0.8;
const TILT_DEG = 2;
const NADIR_MM = 1.6;
const OSTIUM_MM = 1;
const JUNCTION_MM = 1;

interface IndependentTruth {
  readonly nadirsLps: ByCusp<Vec3>;
  readonly normalLps: Vec3;
  readonly basalRing: { readonly areaMm2: number; readonly perimeterMm: number; readonly minDiameterMm: number; readonly maxDiameterMm: number };
  readonly junction: { readonly heightMm: number; readonly diameterMm: number };
  readonly coronaries: Readonly<Record<'left' | 'right', { readonly heightMm: number }>>;
}

const isInstalled = spawnSync(PYTHON, ['-c', 'import numpy, scipy, pydicom']).status === 0;
const isRequired = (process.env['CI'] ?? '') !== '';
const base = mkdtempSync(join(tmpdir(), 'trinadir-roots-'));
const folderOf = (seed: number): string => join(base, `root-${String(seed).padStart(2, '0')}`);

test('numpy, scipy and pydicom are there when the run must be whole', () => {
  if (isRequired) expect(isInstalled).toBe(true);
});

function makeRoots(seeds: readonly number[]): Promise<void> {
  return new Promise((done, failed) => {
    const child = spawn(PYTHON, ['-B', MAKER, base, ...seeds.map(String), '--cube', String(CUBE_MM)], { stdio: ['ignore', 'ignore', 'pipe'] });
    let errors = '';
    child.stderr.on('data', (bytes: Buffer) => { errors += bytes.toString(); });
    child.on('error', failed);
    child.on('close', (code) => (code === 0 ? done() : failed(new Error(errors.slice(-2000)))));
  });
}

const percentOff = (fact: Fact, true_: number): number => 100 * Math.abs(fact.value! / true_ - 1);
const mmOff = (fact: Fact, true_: number): number => Math.abs(fact.value! - true_);

describe.skipIf(!isInstalled)('roots of an independent generator, through DICOM (skipped without numpy, scipy, pydicom)', () => {
  beforeAll(async () => {
    const half = SEEDS.length / 2;
    await Promise.all([makeRoots(SEEDS.slice(0, half)), makeRoots(SEEDS.slice(half))]);
  }, 600_000);
  afterAll(() => rmSync(base, { recursive: true, force: true }));

  describe.each(SEEDS)('root %i', (seed) => {
    let truth: IndependentTruth;
    let root: RootSurvey;
    beforeAll(async () => {
      truth = JSON.parse(readFileSync(join(folderOf(seed), 'truth.json'), 'utf8')) as IndependentTruth;
      const out = join(folderOf(seed), 'plan');
      let errors = '';
      const code = await runPlanCommand({ path: join(folderOf(seed), 'dicom'), out, quiet: true, json: true }, { out: () => {}, err: (text) => { errors += text; }, isTerminal: false });
      expect({ code, errors }).toEqual({ code: 0, errors: '' });
      root = (JSON.parse(readFileSync(join(out, 'plan.json'), 'utf8')) as Plan).root!;
    }, 300_000);

    test('the ring has its area, perimeter and diameters', () => {
      expect(percentOff(root.basalRing.areaMm2, truth.basalRing.areaMm2)).toBeLessThan(AREA_PERCENT);
      expect(percentOff(root.basalRing.perimeterMm, truth.basalRing.perimeterMm)).toBeLessThan(PERIMETER_PERCENT);
      expect(mmOff(root.basalRing.minDiameterMm, truth.basalRing.minDiameterMm)).toBeLessThan(DIAMETER_MM);
      expect(mmOff(root.basalRing.maxDiameterMm, truth.basalRing.maxDiameterMm)).toBeLessThan(DIAMETER_MM);
    });
    test('the plane stands on its nadirs, and each has its name', () => {
      const tiltDeg = (180 / Math.PI) * Math.acos(Math.min(1, dot(root.basalPlane.normalLps, truth.normalLps)));
      expect(tiltDeg).toBeLessThan(TILT_DEG);
      for (const cusp of CUSPS) expect(distance(root.basalPlane.nadirsLps[cusp], truth.nadirsLps[cusp])).toBeLessThan(NADIR_MM);
    });
    test('the junction has its height and diameter', () => {
      expect(mmOff(root.sinotubularJunction.heightMm, truth.junction.heightMm)).toBeLessThan(JUNCTION_MM);
      expect(mmOff(root.sinotubularJunction.diameterMm, truth.junction.diameterMm)).toBeLessThan(JUNCTION_MM);
    });
    test('an ostium that is answered has its height', () => {
      for (const side of ['left', 'right'] as const) {
        const found = root.coronaries[side];
        if (found) expect(mmOff(found.heightMm, truth.coronaries[side].heightMm)).toBeLessThan(OSTIUM_MM);
      }
    });
  });
});
