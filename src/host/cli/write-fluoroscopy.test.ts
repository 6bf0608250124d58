import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { measureDepth } from '../../core/projection/measure-depth.ts';
import { parsePart10 } from '../../formats/dicom/parse-part10.ts';
import { readFrameGeometry, readXa } from '../../formats/dicom/read-xa.ts';
import { parseFrames } from '../../formats/frames/parse-frames.ts';
import { writeFluoroscopy } from './write-fluoroscopy.ts';

const base = mkdtempSync(join(tmpdir(), 'trinadir-fluoroscopy-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));
const NORMAL = [-0.4195, -0.2622, 0.8691] as const;
const NADIRS = { R: [-2, -131.5, 55.6], L: [9.4, -114.5, 66.2], N: [-7.4, -114, 58.2] } as const;

test('two runs, their marks and the truth: runs say what the marks say, the marks give the depth, again the same bytes', async () => {
  writeFileSync(join(base, 'truth.json'), JSON.stringify({ basalPlane: { normalLps: NORMAL, nadirsLps: NADIRS }, basalRing: { areaMm2: 450 }, scan: { seed: 9 } }));
  const folder = join(base, 'fluoroscopy');
  await writeFluoroscopy(base, folder);
  expect(readdirSync(folder).sort()).toEqual(['frames.json', 'run-1.dcm', 'run-2.dcm', 'truth.json']);
  const frames = parseFrames(readFileSync(join(folder, 'frames.json'), 'utf8'));
  if (!frames.ok) throw new Error(frames.failure.code);
  for (const [r, frame] of frames.value.entries()) {
    const parsed = parsePart10(readFileSync(join(folder, `run-${r + 1}.dcm`)));
    const run = parsed.ok ? readXa(parsed.value) : parsed;
    const geometry = run.ok ? readFrameGeometry(run.value, 3) : run;
    if (!geometry.ok) throw new Error(geometry.failure.code);
    expect(geometry.value).toEqual({ view: frame.view, calibration: frame.calibration, sizePx: frame.sizePx });
  }
  const found = measureDepth(frames.value, { basalPlane: { pointLps: NADIRS.N, normalLps: NORMAL, nadirsLps: NADIRS, tiltUncertaintyDeg: 2, nadirUncertaintyMm: { R: 1, L: 1, N: 1 } }, frameAxisLps: null, ringCentreLps: null, frameInflowMm: null });
  if (!found.ok) throw new Error(found.failure.code);
  const { depthMm } = JSON.parse(readFileSync(join(folder, 'truth.json'), 'utf8')) as { depthMm: number };
  expect(found.value.reading.lowMm).toBeLessThan(depthMm);
  expect(found.value.reading.highMm).toBeGreaterThan(depthMm);
  const bytes = readFileSync(join(folder, 'run-2.dcm'));
  await writeFluoroscopy(base, folder);
  expect(readFileSync(join(folder, 'run-2.dcm')).equals(bytes)).toBe(true);
});
