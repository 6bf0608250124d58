import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeExamplePlan } from '../../../test/support/example-plan.ts';
import { formatPlan } from '../../core/case/format-plan.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { add, along, cross, scale, unit } from '../../core/math/vec3.ts';
import { findFluoroscopyMarks, measureScene, type FluoroscopyCamera, type FluoroscopyScene } from '../../core/phantom/draw-fluoroscopy.ts';
import { findPerpendicularSecondary } from '../../core/projection/perpendicular-curve.ts';
import { EXIT } from './exit-codes.ts';
import { runMain } from './main.ts';

const base = mkdtempSync(join(tmpdir(), 'trinadir-depth-'));
const plan: Plan = makeExamplePlan();
const planFile = join(base, 'plan.json');
const framesFile = join(base, 'frames.json');
const { nadirsLps, normalLps } = plan.root!.basalPlane;
const middle = scale(add(add(nadirsLps.R, nadirsLps.L), nadirsLps.N), 1 / 3);
const axis = unit(along(normalLps, unit(cross(normalLps, [1, 0, 0])), 0.05));
const scene: FluoroscopyScene = { nadirsLps, normalLps, frame: { centreLps: along(middle, normalLps, -4), axisLps: axis, inflowRadiusMm: 11.5, outflowRadiusMm: 16, heightMm: 45, cells: 15 }, ballMm: 1.3, ballsAt: ['N'] };
const camera = (primaryDeg: number, off = 0): FluoroscopyCamera => ({
  primaryDeg, secondaryDeg: findPerpendicularSecondary(normalLps, primaryDeg)! + off, sourceToImageMm: 1100, sourceToPatientMm: 750, pixelMm: 0.308, columns: 512, rows: 512, isocentreLps: [middle[0] + 8, middle[1] - 5, middle[2] + 12],
});
const frameOf = (c: FluoroscopyCamera, clicks = 1) => {
  const m = findFluoroscopyMarks(scene, c);
  const point = (p: readonly [number, number]) => (clicks === 1 ? p : Array.from({ length: clicks }, (_, i) => [p[0] + (i % 2 ? 1 : -1), p[1] + (i > 1 ? 1 : -1)]));
  return {
    primaryDeg: c.primaryDeg, secondaryDeg: c.secondaryDeg, sourceToImageMm: c.sourceToImageMm, sourceToPatientMm: c.sourceToPatientMm, pixelMm: c.pixelMm, columns: c.columns, rows: c.rows,
    marks: { cuspN: point(m.cuspN), frameInflow: m.frameInflow.map(point), frameAxis: m.frameAxis.map(point) }, clickSdPx: 2,
  };
};
async function run(frames: unknown, ...more: string[]) {
  writeFileSync(framesFile, typeof frames === 'string' ? frames : JSON.stringify({ frames }));
  const said = { out: '', err: '' };
  const code = await runMain(['depth', planFile, '--frames', framesFile, ...more], { out: (t) => void (said.out += t), err: (t) => void (said.err += t), isTerminal: false });
  return { code, ...said };
}

beforeAll(() => {
  process.env['SOURCE_DATE_EPOCH'] = '1772438400';
  writeFileSync(planFile, formatPlan(plan));
});
afterAll(() => {
  delete process.env['SOURCE_DATE_EPOCH'];
  rmSync(base, { recursive: true, force: true });
});

describe('trinadir depth', () => {
  test('two frames 60 deg apart: corrected, the truth in the interval, the window and the forecast beside it', async () => {
    const frames = [frameOf(camera(-25), 4), frameOf(camera(40, 8), 4)];
    const { code, out } = await run(frames, '--json');
    expect(code).toBe(EXIT.answered);
    const answer = JSON.parse(out) as { state: string; depthMm: { value: number; low: number; high: number; status: string }; correctedDepthMm: { value: number | null }; place: string; training: boolean; separationDeg: number; clicks: number };
    const truth = measureScene(scene);
    expect(answer.state).toBe('corrected');
    expect(answer.depthMm.low).toBeLessThanOrEqual(truth.depthMm);
    expect(answer.depthMm.high).toBeGreaterThanOrEqual(truth.depthMm);
    expect(Math.abs(answer.depthMm.value - truth.depthMm)).toBeLessThan(0.3); // exact marks, one plan tilt prior
    expect(answer.correctedDepthMm.value).toBe(answer.depthMm.value);
    expect(answer.separationDeg).toBeGreaterThan(30);
    expect(answer.clicks).toBe(4);
    expect(answer.training).toBe(true);
    const human = (await run(frames)).out;
    expect(human).toMatch(/^Answer {2}The inflow edge stands /m);
    expect(human).toContain('Corrected: 2 frames');
    expect(human).toContain('training, invented sizes');
    expect(human).toMatch(/^Window {2}/m);
    expect(human).toMatch(/^Doubt {3}Of the band: clicks/m);
    expect(human).toMatch(/^Next {4}/m);
  });
  test('one frame: answered, not corrected, the corrected depth refused with its reason', async () => {
    const { code, out } = await run([frameOf(camera(-25))], '--json');
    expect(code).toBe(EXIT.answered);
    const answer = JSON.parse(out) as { state: string; depthMm: { status: string; low: number; high: number; reasons: { code: string }[] }; correctedDepthMm: { value: null; status: string; reasons: { code: string; next: string }[] } };
    expect(answer.state).toBe('uncorrected');
    expect(answer.depthMm.status).toBe('doubtful');
    expect(answer.depthMm.low).toBeLessThanOrEqual(measureScene(scene).depthMm);
    expect(answer.depthMm.high).toBeGreaterThanOrEqual(measureScene(scene).depthMm);
    expect(answer.correctedDepthMm).toMatchObject({ value: null, status: 'refused' });
    expect(answer.correctedDepthMm.reasons[0]!.code).toBe('one-frame-only');
    expect((await run([frameOf(camera(-25))])).out).toContain('NOT CORRECTED');
  });
  test('one click is never INSIDE', async () => {
    const { out } = await run([frameOf(camera(-25)), frameOf(camera(40))], '--json');
    expect((JSON.parse(out) as { place: string }).place).not.toBe('inside');
  });
  test.each<[string, unknown]>([
    ['frames-too-close', [frameOf(camera(0)), frameOf(camera(10))]],
    ['frame-angles-missing', [{ ...frameOf(camera(0)), primaryDeg: undefined }]],
    ['frame-uncalibrated', [{ ...frameOf(camera(0)), pixelMm: undefined }]],
    ['mark-outside-picture', [{ ...frameOf(camera(0)), marks: { ...frameOf(camera(0)).marks, cuspN: [900, 3] } }]],
    ['inflow-ends-coincide', [{ ...frameOf(camera(0)), marks: { ...frameOf(camera(0)).marks, frameInflow: [[9, 9], [9, 9]] } }]],
    ['frames-not-json', '{'],
    ['frames-missing', []],
  ])('refuses with %s: exit 3 and one JSON line with the next step', async (wanted, frames) => {
    const { code, out, err } = await run(frames, '--json');
    expect(code).toBe(EXIT.refused);
    expect(out).toBe('');
    const { error } = JSON.parse(err.trimEnd().split('\n').at(-1)!) as { error: { code: string; next: string; where: string } };
    expect(error.code).toBe(wanted);
    expect(error.next.length).toBeGreaterThan(10);
    expect(error.where).toBe('depth');
  });
  test('a plan without root, a scan not supine, a file that is not there', async () => {
    const code = async (file: string, frames = framesFile): Promise<string> => {
      let err = '';
      await runMain(['depth', file, '--frames', frames, '--json'], { out: () => {}, err: (t) => void (err += t), isTerminal: false });
      return (JSON.parse(err.trimEnd().split('\n').at(-1)!) as { error: { code: string } }).error.code;
    };
    await run([frameOf(camera(0))]);
    const other = join(base, 'other.json');
    const { root: _, ...rest } = plan;
    writeFileSync(other, JSON.stringify(rest));
    expect(await code(other)).toBe('plan-without-root');
    writeFileSync(other, JSON.stringify({ ...plan, views: { ...plan.views!, offered: false, reasons: [{ code: 'posture-not-supine', text: 'a', next: 'b' }] } }));
    expect(await code(other)).toBe('posture-not-supine');
    expect(await code(planFile, join(base, 'none.json'))).toBe('frames-unreadable');
    expect(await code(join(base, 'none'))).toBe('plan-unreadable');
  });
  test('the help has one worked line', async () => {
    let out = '';
    await runMain(['depth', '--help'], { out: (t) => void (out += t), err: () => {}, isTerminal: false });
    expect(out).toContain('trinadir depth answer --frames frames.json');
  });
  test('the same frames give the same bytes', async () => {
    const frames = [frameOf(camera(-25)), frameOf(camera(40))];
    expect((await run(frames, '--json')).out).toBe((await run(frames, '--json')).out);
  });
});
