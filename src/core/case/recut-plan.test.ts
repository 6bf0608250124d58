import { describe, expect, it } from 'vitest';
import { makeTestRoot } from '../../../test/support/make-survey.ts';
import { makeSurveyFixture } from '../../../test/support/survey-document-fixtures.ts';
import { SURVEY_STAMP } from '../../../test/support/survey-fixtures.ts';
import { TRAINING_TABLE } from '../device/training-table.ts';
import type { ReleaseForecast } from '../release/release-types.ts';
import type { Landmarks, Xyz } from '../root/root-types.ts';
import { completePlan } from './complete-plan.ts';
import type { Plan } from './plan-types.ts';
import { readTables, recutPlan } from './recut-plan.ts';

const document = makeSurveyFixture(() => 11.5);
const root = makeTestRoot({ diameterMm: 23, junctionMm: 21 });
const done = completePlan(root, { devices: null, rules: null, patient: null, patientPosition: 'HFS' });
const plan: Plan = {
  format: 'trinadir.plan/1', madeBy: 'test', madeAt: '2026-01-01T00:00:00Z', training: true, inputs: { files: 1, bytes: 1, sha256: 'a'.repeat(64) }, scan: {} as Plan['scan'],
  root, size: done.size, landing: done.landing!, views: done.views, release: { answer: 'stays' } as ReleaseForecast,
  messages: [
    { code: 'crown-uneven', section: 'root', text: '', next: '' }, { code: 'noise-high', section: 'scan', text: '', next: '' },
    ...done.messages, { code: 'release-slow', section: 'release', text: '', next: '' },
  ],
};
const at = (deg: number, heightMm: number): Xyz => [11.5 * Math.cos((deg * Math.PI) / 180), 11.5 * Math.sin((deg * Math.PI) / 180), heightMm];
const marks = (R: number, L: number, N: number): Landmarks => ({ format: 'trinadir.landmarks/1', by: 'anna', nadirsLps: { R: at(0, R), L: at(120, L), N: at(240, N) } });
const recut = (m: Landmarks | null) => {
  const answer = recutPlan(plan, document, m, SURVEY_STAMP);
  if (!answer.ok) throw new Error(answer.failure.code);
  return answer.value;
};

describe('a plan about moved marks', () => {
  it('a nadir moved up by 4 mm turns the plane, and ring, size, landing and views follow from it', () => {
    const { plan: now, pending } = recut(marks(4, 0, 0));
    expect(now.root!.basalRing.areaMm2.value).toBeGreaterThan(root.basalRing.areaMm2.value!);
    const same = completePlan(now.root!, { devices: null, rules: null, patient: null, patientPosition: 'HFS' });
    expect({ size: now.size, landing: now.landing, views: now.views }).toEqual({ size: same.size, landing: same.landing, views: same.views });
    expect(now.views).not.toEqual(plan.views);
    expect(pending).toEqual(['calcium', 'leaflets', 'ascendingAorta', 'release']);
    expect('release' in now).toBe(false);
  });
  it('messages that the marks settle go, those of the scan stay, those of the forecast wait for it', () => {
    const codes = recut(marks(4, 0, 0)).plan.messages.map((m) => m.code);
    expect(codes).toContain('noise-high');
    expect(codes).not.toContain('crown-uneven');
    expect(codes).not.toContain('release-slow');
    expect(codes.filter((c) => c === 'devices-training-table')).toHaveLength(1);
  });
  it('without any mark it is the plan again', () => {
    const { plan: now, pending } = recut(null);
    expect(pending).toEqual([]);
    expect(now).toEqual(plan);
  });
  it('the hospital\'s own table acts on, and a plan of the root alone gets no other section', () => {
    const own = { ...TRAINING_TABLE, training: false, hospital: 'Own' };
    const mine = completePlan(root, { devices: own, rules: null, patient: null, patientPosition: 'HFS' });
    expect(readTables({ ...plan, inputs: { ...plan.inputs, devicesSha256: 'b'.repeat(64) }, size: mine.size }, document).devices).toBe(mine.size.table);
    const { size: _s, landing: _l, views: _v, release: _r, ...bare } = plan;
    const answer = recutPlan(bare, document, marks(1, 0, 0), SURVEY_STAMP);
    expect(answer.ok && Object.keys(answer.value.plan).filter((k) => ['size', 'landing', 'views', 'release'].includes(k))).toEqual([]);
  });
  it('refuses without a root, and passes on why marks cannot be used', () => {
    const { root: _root, ...none } = plan;
    expect(recutPlan(none, document, null, SURVEY_STAMP)).toMatchObject({ ok: false, failure: { code: 'plan-without-root' } });
    expect(recutPlan(plan, document, marks(12, 0, 0), SURVEY_STAMP)).toMatchObject({ ok: false, failure: { code: 'recut-too-far' } });
  });
});
