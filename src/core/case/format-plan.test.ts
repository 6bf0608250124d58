import { describe, expect, test } from 'vitest';
import { makeExamplePlan } from '../../../test/support/example-plan.ts';
import type { Plan } from './plan-types.ts';
import { formatPlan, roundTo } from './format-plan.ts';

/** The same value with every number rounded as plan.json has it. */
function roundAll(value: unknown, digits = 4): unknown {
  if (typeof value === 'number') return roundTo(value, digits);
  if (Array.isArray(value)) return value.map((each) => roundAll(each, digits));
  if (value === null || typeof value !== 'object') return value;
  return Object.fromEntries(Object.entries(value).map(([key, each]) => [key, roundAll(each, ['normalLps', 'spacingMm'].includes(key) ? 6 : digits)]));
}

describe('formatPlan', () => {
  test('gives JSON that holds the plan, rounded, with a newline at the end', () => {
    const plan = makeExamplePlan();
    const text = formatPlan(plan);
    expect(JSON.parse(text)).toEqual(JSON.parse(JSON.stringify(roundAll(plan))));
    expect(text.endsWith('}\n')).toBe(true);
  });
  test('writes the fields in the order of the contract, however the plan was put together', () => {
    const plan = makeExamplePlan();
    const turned = Object.fromEntries(Object.entries({ ...plan, root: Object.fromEntries(Object.entries(plan.root!).reverse()) }).reverse()) as unknown as Plan;
    expect(formatPlan(turned)).toBe(formatPlan(plan));
    expect(Object.keys(JSON.parse(formatPlan(turned))).slice(0, 4)).toEqual(['format', 'madeBy', 'madeAt', 'training']);
  });
  test('writes one list of numbers per line, no exponent below a micrometre and no negative zero', () => {
    const plan = makeExamplePlan();
    const text = formatPlan({ ...plan, scan: { ...plan.scan, spacingMm: [0.488281123456, 1e-9, -1e-12] } });
    expect(text).toContain('"spacingMm": [0.488281, 0, 0]');
  });
  test('leaves a section out that was not computed', () => {
    const { root: _root, ...bare } = makeExamplePlan();
    expect(formatPlan(bare)).not.toContain('"root": {');
  });
});
