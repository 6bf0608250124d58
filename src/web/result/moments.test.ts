import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readMoment, writeMoment } from './moments.ts';

const NOW = new Date(2026, 2, 2, 9, 30, 0);
describe('moments as persons type them', () => {
  test('a time alone is of today; seconds may be left out', () => {
    expect(readMoment('9:05', NOW)).toBe(new Date(2026, 2, 2, 9, 5).toISOString());
    expect(readMoment(' 2026-03-01 23:59:58 ', NOW)).toBe(new Date(2026, 2, 1, 23, 59, 58).toISOString());
  });
  test('what is no moment is none: a day that does not exist, the other order, an hour too many', () => {
    for (const text of ['', 'now', '2026-02-30 10:00', '02/03/2026 10:00', '24:00', '10:60', '10', '2026-03-02']) expect(readMoment(text, NOW), text).toBeNull();
  });
  test('what is written is read again as the same second', () => {
    fc.assert(fc.property(fc.date({ min: new Date(2000, 0, 1), max: new Date(2099, 11, 31), noInvalidDate: true }), (at) => {
      const read = readMoment(writeMoment(at), NOW);
      expect(Math.abs(Date.parse(read!) - at.getTime()) < 1000 || new Date(read!).getTimezoneOffset() !== at.getTimezoneOffset()).toBe(true);
    }), { seed: 20260302, numRuns: 200 });
  });
});
