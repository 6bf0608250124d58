import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeTestRoot } from '../../../test/support/make-survey.ts';
import { completePlan } from '../../core/case/complete-plan.ts';
import { formatPlan } from '../../core/case/format-plan.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { TRAINING_RULES, TRAINING_TABLE } from '../../core/device/training-table.ts';
import { DEFAULT_RESCUE_CARDS } from '../../core/room/rescue-cards.ts';
import { isChangedAfterSigning } from './signed-hash.ts';
import { runMain } from './main.ts';
import { readTable } from './plan-files.ts';

let folder = '';
const path = (name: string): string => join(folder, name);
const write = (name: string, content: unknown): string => {
  writeFileSync(path(name), typeof content === 'string' ? content : JSON.stringify(content));
  return path(name);
};
async function run(...words: string[]): Promise<{ code: number; out: string; err: string }> {
  const said = { out: '', err: '' };
  const io = { out: (t: string) => void (said.out += t), err: (t: string) => void (said.err += t), isTerminal: false };
  const code = await runMain(words, io);
  return { code, ...said };
}
const errorOf = (err: string): { code: string; next: string } => (JSON.parse(err.trimEnd().split('\n').at(-1)!) as { error: { code: string; next: string } }).error;

function makePlan(change: Partial<Plan> = {}): Plan {
  const root = makeTestRoot({ diameterMm: 23.4 });
  const done = completePlan(root, { devices: null, rules: null, patient: null, patientPosition: 'HFS' });
  return {
    format: 'trinadir.plan/1', madeBy: 'test', madeAt: '2026-01-01T00:00:00Z', training: true, inputs: { files: 1, bytes: 1, sha256: 'a'.repeat(64) },
    scan: { studyUid: null, seriesUid: null, frameOfReferenceUid: null, rows: 1, columns: 1, slices: 1, spacingMm: [0.5, 0.5, 0.6], phasePercent: 30, verdict: 'fit', findings: [] } as unknown as Plan['scan'],
    root, size: done.size, landing: done.landing!, views: done.views, messages: [], ...change,
  };
}

beforeAll(() => {
  process.env['SOURCE_DATE_EPOCH'] = '1772439060';
  folder = mkdtempSync(join(tmpdir(), 'trinadir-questions-'));
  write('plan.json', formatPlan(makePlan()));
});
afterAll(() => {
  delete process.env['SOURCE_DATE_EPOCH'];
  rmSync(folder, { recursive: true, force: true });
});

describe('view', () => {
  it('answers for the folder or the file, with the plane on edge where the curve says so', async () => {
    const a = await run('view', folder, '--primary', '-12', '--secondary', '0', '--json');
    expect(a.code).toBe(0);
    const answer = JSON.parse(a.out) as { tiltToPlaneDeg: { value: number; low: number; high: number }; onEdgeSecondaryDeg: number; nearestTube: string };
    // The test root's normal is the head: every angle without tilt sees it on edge.
    expect(answer).toMatchObject({ onEdgeSecondaryDeg: 0, tiltToPlaneDeg: { value: 0, low: 0, high: 2 }, training: true });
    const b = await run('view', path('plan.json'), '--primary', '-12', '--secondary', '30', '--json');
    expect((JSON.parse(b.out) as typeof answer).tiltToPlaneDeg.value).toBeCloseTo(30, 9);
  });

  it('says it in words, with the training mark and the caution', async () => {
    const { out } = await run('view', folder, '--primary', '10', '--secondary', '5');
    expect(out).toContain('(training, invented sizes)');
    expect(out).toContain('LAO 10 CRA 5 looks 5.0 deg (3.0 to 7.0) off the basal plane.');
    expect(out).toContain('not a medical device');
  });

  it.each([
    ['option-invalid', 2, () => ['view', folder, '--primary', '181', '--secondary', '0']],
    ['option-missing', 2, () => ['view', folder, '--primary', '10']],
    ['plan-unreadable', 3, () => ['view', path('none.json'), '--primary', '0', '--secondary', '0']],
    ['plan-not-json', 3, () => ['view', write('broken.json', '{'), '--primary', '0', '--secondary', '0']],
    ['plan-other-format', 3, () => ['view', write('other.json', { format: 'x' }), '--primary', '0', '--secondary', '0']],
    ['plan-without-root', 3, () => ['view', write('noroot.json', formatPlan({ ...makePlan(), root: undefined } as unknown as Plan)), '--primary', '0', '--secondary', '0']],
    ['posture-not-supine', 3, () => {
      const views = completePlan(makeTestRoot(), { devices: null, rules: null, patient: null, patientPosition: 'HFP' }).views;
      return ['view', write('prone.json', formatPlan(makePlan({ views }))), '--primary', '0', '--secondary', '0'];
    }],
  ] as const)('refuses by code: %s', async (code, exit, words) => {
    const said = await run(...words(), '--json');
    expect(errorOf(said.err).code).toBe(code);
    expect(said.code).toBe(exit);
    expect(said.out).toBe('');
  });

  it('a plan edited by hand into nonsense is refused by its field', async () => {
    const plan = JSON.parse(readFileSync(path('plan.json'), 'utf8')) as { root: { basalPlane: { normalLps: number[] } } };
    plan.root.basalPlane.normalLps = [0, 0, 5];
    const said = await run('view', write('bent.json', plan), '--primary', '0', '--secondary', '0', '--json');
    expect(errorOf(said.err).code).toBe('plan-invalid');
  });
});

describe('forecast', () => {
  it('of one start is the same twice, carries its seed and says no percentage', async () => {
    const words = ['forecast', folder, '--start', '4', '--tension', 'neutral', '--releases', '40', '--seed', '7'];
    const [a, b] = [await run(...words, '--json'), await run(...words, '--json')];
    expect(a.out).toBe(b.out);
    expect(JSON.parse(a.out)).toMatchObject({ format: 'trinadir.forecast/1', seed: 7, releases: 40, startMm: 4, device: 'training-self-expanding', size: '27' });
    expect((await run(...words)).out).not.toContain('%');
    expect((await run(...words.slice(0, -1), '8', '--json')).out).not.toBe(a.out);
  });

  it('of a sweep has its starts', async () => {
    const { out } = await run('forecast', folder, '--sweep', '0:8:4', '--releases', '20', '--json');
    expect((JSON.parse(out) as { sweep: { startMm: number }[] }).sweep.map((s) => s.startMm)).toEqual([0, 4, 8]);
  });

  it.each([
    ['option-invalid', 2, ['--sweep', '8:0:1']],
    ['option-invalid', 2, ['--sweep', '0:90:0.1']],
    ['option-invalid', 2, ['--tension', 'strong']],
    ['device-unknown', 2, ['--start', '4', '--size', '99']],
    ['device-unknown', 2, ['--start', '4', '--device', 'other']],
    ['release-frame-not-self-expanding', 3, ['--start', '4', '--device', 'training-balloon-expandable']],
  ] as const)('refuses by code: %s', async (code, exit, words) => {
    const said = await run('forecast', folder, ...words, '--json');
    expect(errorOf(said.err).code).toBe(code);
    expect(said.code).toBe(exit);
  });

  it('outside the range of the model it answers with refusals only and exit 3', async () => {
    const said = await run('forecast', folder, '--start', '20', '--releases', '20', '--json');
    expect(said.code).toBe(3);
    expect((JSON.parse(said.out) as { refusals: { code: string }[] }).refusals.map((r) => r.code)).toContain('release-outside-model-range');
  });
});

describe('sign', () => {
  it('puts name, time and hash into a table, which then reads; one changed number afterwards is noticed', async () => {
    const { signedBy: _by, signedAt: _at, ...plain } = JSON.parse(JSON.stringify(TRAINING_TABLE)) as typeof TRAINING_TABLE;
    const file = write('devices.json', plain);
    expect(await readTable(file, 'devices')).toMatchObject({ ok: false, failure: { code: 'devices-unsigned' } });
    expect((await run('sign', file, '--by', 'A. Person')).code).toBe(0);
    expect(await readTable(file, 'devices')).toMatchObject({ ok: true, value: { content: { signedBy: 'A. Person' } } });
    const signed = readFileSync(file, 'utf8');
    write('devices.json', signed.replace('"ascendingMaxMm": 38', '"ascendingMaxMm": 39'));
    expect(readFileSync(file, 'utf8')).not.toBe(signed);
    expect(await readTable(file, 'devices')).toMatchObject({ ok: false, failure: { code: 'devices-changed' } });
  });

  it('signs rules and rescue cards too, and leaves a refused table as it was', async () => {
    expect((await run('sign', write('rules.json', TRAINING_RULES), '--by', 'A. Person')).code).toBe(0);
    const cards = write('rescue.json', DEFAULT_RESCUE_CARDS);
    expect((await run('sign', cards, '--by', 'A. Person')).code).toBe(0);
    const signedCards = JSON.parse(readFileSync(cards, 'utf8')) as Record<string, unknown>;
    expect([signedCards['signedBy'], signedCards['isDefault'], isChangedAfterSigning(signedCards)]).toEqual(['A. Person', undefined, false]);
    const bad = write('bad.json', { ...TRAINING_TABLE, devices: [] });
    const before = readFileSync(bad, 'utf8');
    const said = await run('sign', bad, '--by', 'A. Person', '--json');
    expect([said.code, errorOf(said.err).code]).toEqual([3, 'devices-empty']);
    expect(readFileSync(bad, 'utf8')).toBe(before);
    expect((await run('sign', bad, '--by', ' ', '--json')).code).toBe(2);
    expect(errorOf((await run('sign', path('none.json'), '--by', 'x', '--json')).err).code).toBe('table-unreadable');
  });
});
