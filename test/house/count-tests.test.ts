import { describe, expect, test } from 'vitest';

const { countTests } = (await import(new URL('../../tools/count-tests.mjs', import.meta.url).href)) as {
  countTests(run: { isGreen: boolean; files: readonly object[] }): { passed: number; failed: number; skipped: string[] };
};
const file = (status: string, ...tests: string[]): object => ({
  status,
  assertionResults: tests.map((each, n) => ({ status: each, fullName: `test ${n}` })),
});

describe('countTests', () => {
  test('counts passed and failed tests and names the skipped', () => {
    const files = [file('passed', 'passed', 'passed', 'skipped'), file('failed', 'passed', 'failed', 'failed')];
    expect(countTests({ isGreen: false, files })).toEqual({ passed: 3, failed: 2, skipped: ['test 2'] });
  });
  test('a file that did not load counts as failed', () => {
    const files = [file('passed', 'passed'), file('failed'), file('failed', 'passed')];
    expect(countTests({ isGreen: false, files })).toEqual({ passed: 2, failed: 2, skipped: [] });
  });
  test('a red run never counts nothing failed', () => {
    expect(countTests({ isGreen: false, files: [] }).failed).toBe(1);
    expect(countTests({ isGreen: false, files: [file('passed', 'passed')] }).failed).toBe(1);
    expect(countTests({ isGreen: true, files: [file('passed', 'passed')] }).failed).toBe(0);
  });
});
