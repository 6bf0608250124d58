import { afterEach, describe, expect, test, vi } from 'vitest';
import { formatFactTime, formatSpan, readClockAhead } from './times.ts';

afterEach(() => vi.unstubAllEnvs());

describe('times of the room', () => {
  test('a span is seconds, then minutes, then hours', () => {
    expect([-5, 0, 59_999, 60_000, 3_599_999, 3_600_000].map(formatSpan)).toEqual(['0 s', '0 s', '59 s', '1:00 min', '59:59 min', '1 h 00 min']);
  });
  test('another clock is ahead or behind by the nearer way round midnight', () => {
    const noon = new Date(2026, 2, 2, 12, 0, 0).getTime();
    expect(readClockAhead('12:00:37', noon)).toBe(37);
    expect(readClockAhead('11:59:30', noon)).toBe(-30);
    expect(readClockAhead('12:05', noon)).toBe(300);
    expect(readClockAhead('23:59:58', new Date(2026, 2, 2, 0, 0, 1).getTime())).toBe(-3);
    expect(readClockAhead('0:00:02', new Date(2026, 2, 2, 23, 59, 59).getTime())).toBe(3);
  });
  test('a fact of this machine’s day has its time, also over midnight of UTC; one of another day has its day', () => {
    vi.stubEnv('TZ', 'Asia/Kolkata'); // 5 h 30 min ahead
    expect(formatFactTime('2026-03-01T23:50:00.000Z', Date.parse('2026-03-02T00:10:00.000Z'))).toBe('05:20:00');
    expect(formatFactTime('2026-03-01T18:20:00.000Z', Date.parse('2026-03-01T18:40:00.000Z'))).toBe('2026-03-01'); // 23:50, and now it is 0:10
    expect(formatFactTime('2026-03-01T18:40:00.000Z', Date.parse('2026-03-03T00:10:00.000Z'))).toBe('2026-03-02');
    expect(formatFactTime('2026-02-10', Date.parse('2026-02-10T08:00:00.000Z'))).toBe('2026-02-10');
  });
  test('what is no time of day is refused', () => {
    for (const text of ['', '25:00:00', '12:60', '12', 'noon']) expect(readClockAhead(text, 0)).toBeNull();
  });
});
