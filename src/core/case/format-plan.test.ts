import { describe, expect, test } from 'vitest';
import { makeCompletedPlan, makeExamplePlan } from '../../../test/support/example-plan.ts';
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
  test('keeps the sections of the answers and the hashes of their tables in the order of the contract', () => {
    const plan = makeCompletedPlan();
    const inputs = { landmarksSha256: 'd', patientSha256: 'c', rulesSha256: 'b', devicesSha256: 'a', ...plan.inputs };
    const turned = Object.fromEntries(Object.entries({ ...plan, inputs }).reverse()) as unknown as Plan;
    const written = JSON.parse(formatPlan(turned)) as Record<string, object>;
    expect(Object.keys(written)).toEqual(['format', 'madeBy', 'madeAt', 'training', 'inputs', 'scan', 'root', 'size', 'landing', 'views', 'release', 'rules', 'messages']);
    expect(Object.keys(written['inputs']!)).toEqual(['files', 'bytes', 'sha256', 'devicesSha256', 'rulesSha256', 'patientSha256', 'landmarksSha256']);
    expect(JSON.parse(formatPlan(turned))).toEqual(JSON.parse(JSON.stringify(roundAll({ ...plan, inputs }))));
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
