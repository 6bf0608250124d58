import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { makeCompanionScan, scoreDeposits, writeSeries } from '../../../test/support/calcium-series.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { drawPhantom } from '../../core/phantom/draw-phantom.ts';
import type { PhantomScan, PhantomTruth } from '../../core/phantom/phantom-types.ts';
import { makeTrainingShape } from '../../core/phantom/training-shapes.ts';
import { EXIT } from './exit-codes.ts';
import { runPlanCommand, type PlanOptions } from './plan-command.ts';

/** A training root in a field wide enough for the spine, with a calcium-scoring series beside it. */
const base = mkdtempSync(join(tmpdir(), 'trinadir-beside-'));
const study = join(base, 'study');
const marks = join(base, 'marks.json');
const patient = join(base, 'patient.json');
let truth: PhantomTruth;
let wantedScore = 0;
interface Outcome { readonly code: number; readonly out: string; readonly err: string }
async function plan(path: string, out: string, more: Partial<PlanOptions> = {}): Promise<Outcome> {
  let [text, err] = ['', ''];
  const code = await runPlanCommand({ quiet: true, path, out: join(base, out), landmarks: marks, ...more }, { out: (t) => { text += t; }, err: (t) => { err += t; }, isTerminal: false });
  return { code, out: text, err };
}
const readPlan = (out: string): Plan => JSON.parse(readFileSync(join(base, out, 'plan.json'), 'utf8')) as Plan;
const putMarks = (more: object): void => writeFileSync(marks, JSON.stringify({ format: 'trinadir.landmarks/1', by: 'reader', nadirsLps: truth.basalPlane.nadirsLps, ...more }));
let first: Outcome;
/** Noise of this SD, the same each time: the sum of two even draws is near enough to normal here. */
function addGrain(samplesHu: Int16Array, sdHu: number): Int16Array {
  let state = 12345;
  const next = (): number => (state = (Math.imul(state, 1664525) + 1013904223) >>> 0) / 2 ** 32;
  return samplesHu.map((hu) => Math.round(hu + sdHu * Math.sqrt(6) * (next() + next() - 1)));
}

beforeAll(async () => {
  process.env['SOURCE_DATE_EPOCH'] = '1772438400';
  const { shape, scan: own } = makeTrainingShape('calcified-left-cusp')!;
  const [x, y, z] = shape.pose.positionLps;
  const scan: PhantomScan = { ...own, dims: [250, 250, 115], spacingMm: [0.9, 0.9, 0.95], sliceThicknessMm: 0.95, centreLps: [x, y + 10, z + 10] };
  const beside = makeCompanionScan(scan);
  const drawn = drawPhantom(shape, scan);
  truth = drawn.truth;
  writeSeries(join(study, 'a'), drawn.volume, scan, {});
  const clean = drawPhantom(shape, { ...beside, noise: { ...beside.noise, sdHu: 0 } }).volume;
  const series = { ...clean, samplesHu: addGrain(clean.samplesHu, 20) };
  writeSeries(join(study, 'b'), series, beside, { seriesNumber: 3 });
  wantedScore = scoreDeposits(clean, truth.calcium.deposits);
  putMarks({});
  writeFileSync(patient, JSON.stringify({ format: 'trinadir.patient/1', by: 'reader', sex: 'F' }));
  // The same series as another study of the patient would hold it: its own frame of reference.
  cpSync(join(study, 'a'), join(base, 'apart', 'a'), { recursive: true });
  writeSeries(join(base, 'apart', 'b'), series, beside, { seriesNumber: 3, frameNumber: 2 });
  first = await plan(study, 'scored', { patient });
}, 600_000);
afterAll(() => {
  delete process.env['SOURCE_DATE_EPOCH'];
  rmSync(base, { recursive: true, force: true });
});

describe('trinadir plan with a calcium-scoring series beside the contrast series', () => {
  test('scores the valve within the noise of what was drawn, in a field of its own', () => {
    expect([first.code, first.err]).toEqual([EXIT.answered, '']);
    const { calcium, calciumScore } = readPlan('scored').root!;
    const score = calciumScore!.score;
    expectWithin(score.value!, wantedScore, { relative: 0.06, absolute: 0, from: 'noise of 20 HU at the edges of the deposits; 2.2 % seen with drawn noise' });
    expect(score.low! <= wantedScore && wantedScore <= score.high!).toBe(true);
    expect([score.unit, calciumScore!.scoreUnit, calcium!.scoreUnit]).toEqual(["{Agatston'U}", 'Agatston units, non-contrast', 'mm3 above a contrast-relative threshold']);
    expect([calciumScore!.series.sliceThicknessMm, calciumScore!.series.kvp, calciumScore!.series.phasePercent]).toEqual([3, 120, 75]);
    expect(calciumScore!.series.seriesUid).not.toBe(readPlan('scored').scan.seriesUid);
  });
  test('checked the bones of the two series against each other', () => {
    const { boneShiftMm, score } = readPlan('scored').root!.calciumScore!;
    for (const mm of boneShiftMm) if (mm !== null) expect(Math.abs(mm)).toBeLessThan(0.6); // half a slice over five
    expect(boneShiftMm.filter((v) => v !== null).length).toBeGreaterThanOrEqual(2);
    expect(score.reasons.map((r) => r.code)).not.toContain('calcium-series-moved');
  });
  test('takes the sex of the patient file for the severity, and says so on page and terminal', () => {
    const { severity } = readPlan('scored').root!.calciumScore!;
    expect([severity.sex, severity.likelihood]).toEqual(['F', wantedScore < 800 ? 'unlikely' : 'grey']);
    const page = readFileSync(join(base, 'scored', 'plan.html'), 'utf8');
    expect(page).toContain('Calcium score, another series without contrast');
    expect(page).toContain('data-path="root.calciumScore.score"');
    expect(page).toContain('calcium-score-by-frame');
    expect(first.out).toMatch(/Calcium score \d+ Agatston units \(\d+ to \d+, 95 %\)/);
    expect(first.out).toContain('for women');
  });
  test('is not scored in another frame of reference; a ring drawn by hand shows as such', async () => {
    const contourLps = truth.basalRing.contourLps.filter((_, i) => i % 10 === 0);
    putMarks({ contourLps });
    expect((await plan(join(base, 'apart'), 'apart-plan')).code).toBe(EXIT.answered);
    const { root, messages } = readPlan('apart-plan');
    expect(root!.calciumScore).toBeUndefined();
    const codes = messages.map((m) => m.code);
    expect(codes).toContain('calcium-series-other-frame');
    expect(codes).toContain('contour-by-hand');
    expect(codes).not.toContain('contour-not-in-version');
    expectWithin(root!.basalRing.areaMm2.value!, truth.basalRing.areaMm2, { relative: 0.003, absolute: 0, from: 'spline through 12 points of the ring' });
    const page = readFileSync(join(base, 'apart-plan', 'plan.html'), 'utf8');
    expect(page).toContain('ring by hand');
    expect(page).toContain('The basal ring is the contour that a person drew, not the one found in the picture');
  });
  test('refuses a contour that cannot be this ring, and writes nothing', async () => {
    putMarks({ contourLps: truth.basalRing.contourLps.filter((_, i) => i % 20 === 0) });
    const few = await plan(study, 'few', { json: true });
    expect([few.code, few.err]).toEqual([EXIT.refused, expect.stringContaining('"contour-too-few-points"')]);
    expect(() => readPlan('few')).toThrow();
  });
});
