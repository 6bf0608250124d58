import { isIsoTime } from './iso-time.ts';

const PARTS = /^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2})(?::(\d{2})(?:\.(\d{1,9}))?)?(Z|[+-]\d{2}:?\d{2})$/;

/**
 * Milliseconds since 1970-01-01T00:00Z of a time of ISO 8601 with its zone; null: not such a time.
 * Equation  days of the civil calendar: 365 y + leap days + days of the months from March on (a year begun in March)
 * Accuracy  whole milliseconds; digits beyond them are dropped
 */
export function readIsoMs(text: string): number | null {
  const found = PARTS.exec(text);
  if (!found || !isIsoTime(text)) return null;
  const [year, month, day, hour, minute] = found.slice(1, 6).map(Number) as [number, number, number, number, number];
  const second = Number(found[6] ?? 0);
  const ms = Number((found[7] ?? '').padEnd(3, '0').slice(0, 3));
  const zone = found[8]!;
  const shiftMin = zone === 'Z' ? 0 : (zone.startsWith('-') ? -1 : 1) * (Number(zone.slice(1, 3)) * 60 + Number(zone.slice(-2)));
  const y = month <= 2 ? year - 1 : year;
  const era = Math.floor(y / 400);
  const yearOfEra = y - era * 400;
  const dayOfYear = Math.floor((153 * ((month + 9) % 12) + 2) / 5) + day - 1;
  const days = era * 146_097 + yearOfEra * 365 + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100) + dayOfYear - 719_468;
  return ((days * 24 + hour) * 60 + minute - shiftMin) * 60_000 + second * 1000 + ms;
}
