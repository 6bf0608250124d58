import { describe, expect, it } from 'vitest';
import { makeTestRoot } from '../../../test/support/make-survey.ts';
import { TRAINING_RULES, TRAINING_TABLE } from '../device/training-table.ts';
import { completePlan, type PlanTables } from './complete-plan.ts';

const NOTHING: PlanTables = { devices: null, rules: null, patient: null, patientPosition: 'HFS' };
const own = { ...TRAINING_TABLE, training: false, hospital: 'Own' };
const codes = (t: PlanTables, diameterMm = 22.9) => completePlan(makeTestRoot({ diameterMm }), t).messages.map((m) => m.code);

describe('what follows from a measured root', () => {
  it('without a table the training table and its rules act, everything is training, and it is said', () => {
    const p = completePlan(makeTestRoot({ diameterMm: 22.9 }), NOTHING);
    expect(p).toMatchObject({ training: true, size: { answer: { size: '27' } }, landing: { size: '27' }, views: { offered: true, reachLimits: { laoDeg: 60 } } });
    expect(p.messages.map((m) => m.code)).toEqual(['devices-training-table']);
  });

  it('training rules never act on a hospital\'s own table: without signed rules the limits are not known', () => {
    const p = completePlan(makeTestRoot({ diameterMm: 22.9 }), { ...NOTHING, devices: own });
    expect(p).toMatchObject({ training: false, rules: null, landing: { state: 'incomplete' }, views: { reachLimits: null } });
    expect(codes({ ...NOTHING, devices: own })).toEqual(['rules-not-given']);
  });

  it('a set of rules signed as training marks the plan as training, whatever the table', () => {
    expect(completePlan(makeTestRoot(), { ...NOTHING, devices: own, rules: TRAINING_RULES }).training).toBe(true);
    expect(completePlan(makeTestRoot(), { ...NOTHING, devices: own, rules: { ...TRAINING_RULES, training: false } }).training).toBe(false);
  });

  it('between two sizes the window is that of the nearer one and says so; without any near size there is none', () => {
    const two = { ...NOTHING, devices: { ...own, devices: [own.devices[0]!] }, rules: { ...TRAINING_RULES, training: false } };
    const p = completePlan(makeTestRoot({ diameterMm: 24.3 }), two);
    expect(p.size.answer).toBeNull();
    expect(p.landing!.size).toBe('30');
    expect(codes(two, 24.3)).toEqual(['landing-size-not-settled']);
    expect(completePlan(makeTestRoot({ diameterMm: 36 }), two).landing).toBeNull();
    expect(codes(two, 36)).toEqual(['landing-without-size']);
  });
});
