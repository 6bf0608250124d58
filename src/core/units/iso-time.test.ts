import fc from 'fast-check';
import { expect, it } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { formatInstant, isIsoTime, readInstantMs } from './iso-time.ts';

it('takes dates and times as a signature writes them', () => {
  for (const text of ['2026-03-02', '2026-03-02T08:11:00Z', '2026-03-02T08:11', '2026-03-02T08:11:00.123+01:00', '2024-02-29', '2000-02-29']) expect(isIsoTime(text), text).toBe(true);
});
it('refuses what is no date', () => {
  for (const text of ['', 'yesterday', '2026-13-01', '2026-02-29', '1900-02-29', '2026-04-31', '2026-03-02T24:00', '02.03.2026', '2026-3-2', '2026-03-02 08:11']) expect(isIsoTime(text), text).toBe(false);
});
it(`an instant is the same number that the platform's own clock gives (seed ${seed})`, () => {
  fc.assert(fc.property(fc.date({ min: new Date('0001-01-01T00:00:00Z'), max: new Date('9999-12-31T23:59:59.999Z'), noInvalidDate: true }), (date) => {
    expect(readInstantMs(date.toISOString())).toBe(date.getTime());
  }), replay);
  for (const text of ['1970-01-01T00:00:00Z', '2000-02-29T23:59:59.999Z', '1900-03-01T00:00:00.5Z', '2026-12-31T12:00:00.1239Z']) expect(readInstantMs(text), text).toBe(Date.parse(text));
});
it('a time without zone, of another zone, or that is none, is no instant', () => {
  for (const text of ['', '2026-03-02', '2026-03-02T08:11:00', '2026-03-02T08:11:00+01:00', '2026-02-30T08:11:00Z', '2026-03-02T25:11:00Z']) expect(readInstantMs(text), text).toBeNaN();
});
it(`an instant as text is what the platform writes, and is read back as the same number (seed ${seed})`, () => {
  fc.assert(fc.property(fc.date({ min: new Date('0001-01-01T00:00:00Z'), max: new Date('9999-12-31T23:59:59.999Z'), noInvalidDate: true }), (date) => {
    expect(formatInstant(date.getTime())).toBe(date.toISOString());
    expect(readInstantMs(formatInstant(date.getTime())!)).toBe(date.getTime());
  }), replay);
  for (const ms of [Number.NaN, Infinity, -1e15, 1e15]) expect(formatInstant(ms)).toBeNull();
});
