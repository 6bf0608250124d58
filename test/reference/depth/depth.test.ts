import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { sub, type Vec3 } from '../../../src/core/math/vec3.ts';
import { projectToPixel, type FluoroscopyCamera } from '../../../src/core/phantom/draw-fluoroscopy.ts';
import { makeViewAxes } from '../../../src/core/projection/camera-view.ts';
import { projectPoint } from '../../../src/core/projection/depth-camera.ts';
import type { DepthFrame, DepthPlan, PicturePoint } from '../../../src/core/projection/depth-types.ts';
import { measureDepth } from '../../../src/core/projection/measure-depth.ts';
import { parsePart10 } from '../../../src/formats/dicom/parse-part10.ts';
import { decodeXaFrame, readFrameGeometry, readXa } from '../../../src/formats/dicom/read-xa.ts';
import { parseFrames } from '../../../src/formats/frames/parse-frames.ts';
import { loadCodecs } from '../../../src/host/jobs/load-codecs.ts';

const PYTHON = '/usr/bin/python3';
const MAKER = fileURLToPath(new URL('./make_frames.py', import.meta.url));
const SEED = 11;
const COUNT = 24;
const base = mkdtempSync(join(tmpdir(), 'trinadir-frames-'));
const isInstalled = spawnSync(PYTHON, ['-c', 'import numpy, pydicom, vtkmodules.vtkRenderingCore']).status === 0;
const isRequired = (process.env['CI'] ?? '') !== '';

interface Scene {
  readonly plan: { readonly normal: Vec3; readonly nadirs: { readonly R: Vec3; readonly L: Vec3; readonly N: Vec3 }; readonly middle: Vec3 };
  readonly frames: readonly object[];
  readonly depthMm: number;
  readonly middleDepthMm: number;
  readonly exact: boolean;
}
interface Run { readonly file: string; readonly scene: number; readonly primaryDeg: number; readonly secondaryDeg: number; readonly ballsPx: readonly PicturePoint[] }
let scenes: Scene[] = [];
let runs: Run[] = [];

const planOf = (s: Scene): DepthPlan => ({
  basalPlane: { pointLps: s.plan.middle, normalLps: s.plan.normal, nadirsLps: s.plan.nadirs, tiltUncertaintyDeg: 2, nadirUncertaintyMm: { R: 1, L: 1, N: 1 } },
  frameAxisLps: null, ringCentreLps: s.plan.middle, frameInflowMm: null,
});
function framesOf(s: Scene, hasCusps: boolean): readonly DepthFrame[] {
  const read = parseFrames(JSON.stringify({ frames: s.frames }));
  if (!read.ok) throw new Error(read.failure.code);
  return read.value.map((f) => (hasCusps ? f : { ...f, marks: { cuspN: f.marks.cuspN, frameInflow: f.marks.frameInflow, frameAxis: f.marks.frameAxis } }));
}

test('numpy, pydicom and VTK are there when the run must be whole', () => {
  expect(isInstalled || !isRequired).toBe(true);
});

describe.skipIf(!isInstalled)('frames made by an independent program', () => {
  beforeAll(() => {
    const made = spawnSync(PYTHON, [MAKER, base, String(SEED), String(COUNT)], { encoding: 'utf8' });
    if (made.status !== 0) throw new Error(made.stderr);
    scenes = JSON.parse(readFileSync(join(base, 'scenes.json'), 'utf8')) as Scene[];
    runs = JSON.parse(readFileSync(join(base, 'runs.json'), 'utf8')) as Run[];
  }, 120_000);
  afterAll(() => rmSync(base, { recursive: true, force: true }));

  test('exact marks of an unturned patient give the depth to 0.2 mm, at N and in the middle', () => {
    let count = 0;
    for (const s of scenes.filter((x) => x.exact)) {
      const found = measureDepth(framesOf(s, false), planOf(s));
      if (!found.ok) throw new Error(found.failure.code);
      expect(Math.abs(found.value.reading.depthMm - s.depthMm)).toBeLessThan(0.2); // pull of the priors, as in measure-depth.test.ts
      expect(Math.abs(found.value.centre!.depthMm - s.middleDepthMm)).toBeLessThan(0.25);
      count++;
    }
    expect(count).toBe(COUNT / 3);
  });
  test('with click noise and a turned patient the interval holds the truth, in two frames and in each alone', () => {
    let [held, heldAlone, answered, alone] = [0, 0, 0, 0];
    for (const s of scenes.filter((x) => !x.exact)) {
      for (const hasCusps of [false, true]) {
        const frames = framesOf(s, hasCusps);
        const both = measureDepth(frames, planOf(s));
        if (!both.ok) throw new Error(both.failure.code);
        expect(both.value.reading.state).toBe('corrected');
        answered++;
        if (both.value.reading.lowMm <= s.depthMm && s.depthMm <= both.value.reading.highMm) held++;
        for (const frame of frames) {
          const one = measureDepth([frame], planOf(s));
          if (!one.ok) throw new Error(one.failure.code);
          expect(one.value.reading.state).toBe('uncorrected');
          alone++;
          if (one.value.reading.lowMm <= s.depthMm && s.depthMm <= one.value.reading.highMm) heldAlone++;
        }
      }
    }
    // 32 and 64 readings: at a true share of 95 % fewer than 27 of 32 happen once in 50.
    expect(held / answered).toBeGreaterThanOrEqual(0.84);
    expect(heldAlone / alone).toBeGreaterThanOrEqual(0.9);
  });
  test('phantom and model put a point where the VTK camera does', () => {
    const cameras = JSON.parse(readFileSync(join(base, 'cameras.json'), 'utf8')) as { primaryDeg: number; secondaryDeg: number; isocentreLps: Vec3; points: { lps: Vec3; px: PicturePoint }[] }[];
    for (const { primaryDeg, secondaryDeg, isocentreLps, points } of cameras) {
      const camera: FluoroscopyCamera = { primaryDeg, secondaryDeg, isocentreLps, sourceToImageMm: 1060, sourceToPatientMm: 780, pixelMm: 0.37, columns: 512, rows: 512 };
      const axes = makeViewAxes({ primaryDeg, secondaryDeg });
      for (const { lps, px } of points) {
        const drawn = projectToPixel(lps, camera);
        const [rightMm, upMm] = projectPoint(sub(lps, isocentreLps), axes, 780);
        const mmPerPx = (0.37 * 780) / 1060;
        for (const [column, row] of [drawn, [255.5 + rightMm / mmPerPx, 255.5 - upMm / mmPerPx]] as const) {
          expect(Math.abs(column - px[0])).toBeLessThan(1e-6); // rounding of two 4 x 4 products
          expect(Math.abs(row - px[1])).toBeLessThan(1e-6);
        }
      }
    }
    expect(cameras).toHaveLength(20);
  });
  test('pictures cast by it are read, the balls found in them, and the depth comes out', async () => {
    const codecs = await loadCodecs();
    for (const scene of [0, 1]) {
      const frames = runs.filter((r) => r.scene === scene).map((run): DepthFrame => {
        const bytes = new Uint8Array(readFileSync(join(base, run.file)));
        const parsed = parsePart10(bytes);
        if (!parsed.ok) throw new Error(parsed.failure.code);
        const xa = readXa(parsed.value);
        if (!xa.ok) throw new Error(xa.failure.code);
        const geometry = readFrameGeometry(xa.value, 1);
        const stored = decodeXaFrame(bytes, xa.value, 1, codecs);
        if (!geometry.ok || !stored.ok) throw new Error('not read');
        expect(geometry.value.view.primaryDeg).toBeCloseTo(run.primaryDeg, 6);
        const balls = findBalls(stored.value, xa.value.columns);
        expect(balls).toHaveLength(5);
        const [n, a, b, c, d] = balls as [PicturePoint, PicturePoint, PicturePoint, PicturePoint, PicturePoint];
        expect(Math.hypot(n[0] - run.ballsPx[0]![0], n[1] - run.ballsPx[0]![1])).toBeLessThan(0.5); // half a pixel
        return { ...geometry.value, clickSdPx: 0.5, marks: { cuspN: [n], frameInflow: [[a], [b]], frameAxis: [[c], [d]] } };
      });
      const s = scenes[scene]!;
      const found = measureDepth(frames, planOf(s));
      if (!found.ok) throw new Error(found.failure.code);
      const { reading } = found.value;
      expect(reading.lowMm).toBeLessThanOrEqual(s.depthMm);
      expect(reading.highMm).toBeGreaterThanOrEqual(s.depthMm);
      expect(Math.abs(reading.depthMm - s.depthMm)).toBeLessThan(0.7); // the second patient is turned by a few degrees
    }
  }, 60_000);
});

/** Centres of dark balls, the one that absorbs most first. Background: the median round about. */
function findBalls(stored: Uint16Array | Int16Array, columns: number): PicturePoint[] {
  const rows = stored.length / columns;
  const absorb = Float64Array.from(stored, (v) => -Math.log(Math.max(1, v) / 4095));
  const extra = new Float64Array(stored.length);
  const REACH = 11;
  for (let r = REACH; r < rows - REACH; r++) {
    for (let c = REACH; c < columns - REACH; c++) {
      const round = [];
      for (let k = 0; k < 16; k++) round.push(absorb[(r + Math.round(REACH * Math.sin((k * Math.PI) / 8))) * columns + c + Math.round(REACH * Math.cos((k * Math.PI) / 8))]!);
      round.sort((x, y) => x - y);
      extra[r * columns + c] = absorb[r * columns + c]! - round[8]!;
    }
  }
  const seen = new Uint8Array(stored.length);
  const found: { mass: number; at: PicturePoint }[] = [];
  for (let i = 0; i < extra.length; i++) {
    if (seen[i] || !(extra[i]! > 0.25)) continue;
    const stack = [i];
    seen[i] = 1;
    let [mass, x, y, size] = [0, 0, 0, 0];
    while (stack.length > 0) {
      const k = stack.pop()!;
      mass += extra[k]!;
      x += extra[k]! * (k % columns);
      y += extra[k]! * Math.floor(k / columns);
      size++;
      for (const d of [-1, 1, -columns, columns]) if (!seen[k + d] && extra[k + d]! > 0.25) {
        seen[k + d] = 1;
        stack.push(k + d);
      }
    }
    if (size >= 12) found.push({ mass, at: [x / mass, y / mass] });
  }
  return found.sort((a, b) => b.mass - a.mass).slice(0, 5).map((f) => f.at);
}
