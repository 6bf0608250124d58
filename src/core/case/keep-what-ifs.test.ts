import { describe, expect, test } from 'vitest';
import { makeTestRoot } from '../../../test/support/make-survey.ts';
import type { PlannedChoice } from './case-events.ts';
import { completePlan } from './complete-plan.ts';
import type { Plan } from './plan-types.ts';
import { forecastRelease } from '../release/forecast-release.ts';
import { askFrame, putChoice, readPlannedChoice } from './ask-choice.ts';
import { QUICK_RELEASES, WhatIfKeeper, type PlannedForecast } from './keep-what-ifs.ts';
import { WORLDS } from '../release/release-types.ts';
import { WHAT_IF_RELEASES } from '../release/what-if.ts';

const STAMP = { by: 'test', at: '2026-01-01T00:00:00Z' };
const root = makeTestRoot({ diameterMm: 22.6 });
const done = completePlan(root, { devices: null, rules: null, patient: null, patientPosition: 'HFS' });
const device = done.landing!.device;
const bare = {
  format: 'trinadir.plan/1', madeBy: 'test', madeAt: STAMP.at, training: true, inputs: { files: 1, bytes: 1, sha256: 'a'.repeat(64) },
  scan: { spacingMm: [0.5, 0.5, 0.6], findings: [] } as unknown as Plan['scan'], root, size: done.size, landing: done.landing!, views: done.views, messages: [],
} as const satisfies Plan;
const base: PlannedChoice = { device, size: done.landing!.size, startMm: 3, paceBpm: 120, isPredilated: false, tension: 'neutral', wireBiasMm: 1.5 };
const asked = askFrame(bare, device, base.size, STAMP);
if (!asked.ok) throw new Error(asked.failure.code);
const plan: Plan = { ...bare, release: forecastRelease({ ...putChoice(asked.value, base, 20), sweepMm: [] }) };
const ask = (keeper: WhatIfKeeper, change: Partial<PlannedChoice> = {}): PlannedForecast => {
  const answer = keeper.answer('p', () => plan, { ...base, ...change }, STAMP);
  if (!answer.ok) throw new Error(answer.failure.code);
  return answer.value;
};
const fill = (keeper: WhatIfKeeper): number => {
  let steps = 0;
  while (keeper.refine(20)) steps++;
  return steps;
};

describe('what-ifs of a plan', () => {
  test('the plan\'s own choice changes nothing', () => {
    const answer = ask(new WhatIfKeeper());
    expect(answer.planned).toEqual(base);
    for (const w of WORLDS) expect(answer.change![w]).toMatchObject({ changeMm: { low: 0, mid: 0, high: 0 }, marginChangeN: 0, isVisible: false });
  });
  test('answers with the first draws, then with all, and all of them give what a fresh forecast of as many gives', () => {
    const keeper = new WhatIfKeeper();
    expect(ask(keeper, { startMm: 5 })).toMatchObject({ releases: QUICK_RELEASES, isFull: false });
    expect(fill(keeper)).toBe((WHAT_IF_RELEASES - QUICK_RELEASES) / 20);
    const full = ask(keeper, { startMm: 5 });
    expect(full).toMatchObject({ releases: WHAT_IF_RELEASES, isFull: true });
    const fresh = forecastRelease(putChoice(asked.value, { ...base, startMm: 5 }, WHAT_IF_RELEASES));
    expect(full.forecast).toEqual(fresh);
  });
  test('kept tables do not change an answer: in whatever order choices are asked', () => {
    const [one, two] = [new WhatIfKeeper(), new WhatIfKeeper()];
    ask(one, { isPredilated: true });
    ask(one, { size: done.size.table.devices.find((d) => d.id === device)!.sizes.at(-1)!.label });
    expect(ask(one, { paceBpm: 180 })).toEqual(ask(two, { paceBpm: 180 }));
    expect(ask(one, { isPredilated: true, wireBiasMm: 0 })).toEqual(ask(two, { isPredilated: true, wireBiasMm: 0 }));
  });
  test('pulling goes up and pushing goes down, against the same draws', () => {
    const keeper = new WhatIfKeeper();
    const [pulled, pushed] = [ask(keeper, { tension: 'pulling' }), ask(keeper, { tension: 'pushing' })].map((a) => a.change!.slippery.changeMm.mid);
    expect(pulled!).toBeGreaterThanOrEqual(0);
    expect(pushed!).toBeLessThanOrEqual(0);
    expect(pulled! - pushed!).toBeGreaterThan(0);
  });
  test('what cannot be forecast is refused in words and without a change', () => {
    const keeper = new WhatIfKeeper();
    expect(keeper.answer('p', () => plan, { ...base, size: 'no such size' }, STAMP)).toMatchObject({ ok: false, failure: { code: 'device-unknown' } });
    const { size: _size, ...without } = plan;
    expect(keeper.answer('q', () => without, base, STAMP)).toMatchObject({ ok: false, failure: { code: 'plan-without-table' } });
    const deep = ask(keeper, { startMm: 24 });
    expect(deep).toMatchObject({ forecast: { answer: 'cannot say', releases: 0 }, change: null, isFull: true });
    expect(deep.forecast.refusals.length).toBeGreaterThan(0);
  });
  test('a plan without a forecast of its own has nothing to compare with', () => {
    const answer = new WhatIfKeeper().answer('r', () => bare, base, STAMP);
    expect(answer.ok && answer.value).toMatchObject({ planned: null, change: null, releases: QUICK_RELEASES });
    expect(readPlannedChoice(bare)).toBeNull();
  });
});
