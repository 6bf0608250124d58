import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readIsoMs } from './read-iso-ms.ts';

describe('readIsoMs (seed 5)', () => {
  test('gives what the platform gives, over 8,000 years', () => {
    fc.assert(fc.property(fc.date({ min: new Date('0001-01-01T00:00:00Z'), max: new Date('9999-12-31T23:59:59Z'), noInvalidDate: true }), (at) => readIsoMs(at.toISOString()) === at.getTime()), { seed: 5, numRuns: 500 });
  });
  test('reads a zone and fewer digits', () => {
    expect(readIsoMs('2026-03-02T09:00:00+01:00')).toBe(Date.parse('2026-03-02T08:00:00Z'));
    expect(readIsoMs('2024-02-29T23:59:59.9Z')).toBe(Date.parse('2024-02-29T23:59:59.900Z'));
    expect(readIsoMs('1970-01-01T00:00Z')).toBe(0);
  });
  test('refuses a day that does not exist, a time without zone and no time at all', () => {
    for (const text of ['2026-02-30T00:00:00Z', '2026-03-02T09:00:00', '2026-03-02', '', 'now']) expect(readIsoMs(text)).toBeNull();
  });
});
