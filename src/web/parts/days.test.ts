import { describe, expect, test } from 'vitest';
import { countDays, isDate, readToday, sayDistance, sayMoment } from './days.ts';
import { saySize, sayTimeLeft } from './sizes.ts';

describe('days on the pages', () => {
  test('a distance counts days, not hours: also over a change of the clocks and a leap day', () => {
    expect(countDays('2026-03-28', '2026-03-30')).toBe(2);
    expect(countDays('2028-02-28', '2028-03-01')).toBe(2);
    expect([sayDistance('2026-03-02', '2026-03-02'), sayDistance('2026-03-03', '2026-03-02'), sayDistance('2026-03-12', '2026-03-02'), sayDistance('2026-02-27', '2026-03-02')])
      .toEqual(['today', 'tomorrow', 'in 10 days', '3 days ago']);
  });
  test('today is the day on this machine, late in the evening too', () => {
    expect(readToday(new Date(2026, 2, 2, 23, 59))).toBe('2026-03-02');
    expect(sayMoment(new Date(2026, 2, 2, 7, 5).toISOString())).toBe('2026-03-02 07:05');
    expect(sayMoment('odd')).toBe('odd');
  });
  test('only a day that exists is a date', () => {
    expect(['2026-02-28', '2028-02-29', '2026-02-29', '2026-13-01', '03/02/1944', '', '2026-2-1'].map(isDate)).toEqual([true, true, false, false, false, false, false]);
  });
});

describe('sizes and times of an import', () => {
  test('bytes in decimal units, time rounded up, never a false promise', () => {
    expect([saySize(999), saySize(4_200_000), saySize(163_000_000), saySize(4_294_967_296)]).toEqual(['1 kB', '4.2 MB', '163 MB', '4.29 GB']);
    expect([sayTimeLeft(3), sayTimeLeft(61), sayTimeLeft(3600), sayTimeLeft(5400), sayTimeLeft(Infinity)]).toEqual(['less than a minute', '2 min', '1 h 0 min', '1 h 30 min', 'time left not known yet']);
  });
});
