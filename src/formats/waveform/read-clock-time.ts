/** A time of day or a date with one, out of a cell. */
export interface ClockTime {
  /** Seconds since midnight, or since 1970 where there is a date (no time zone is applied). */
  readonly atS: number;
  readonly hasDate: boolean;
}

const FORM = /^"?(?:(\d{4})-(\d{2})-(\d{2})[T ]\s*)?(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,9}))?)?(?:Z|[+-]\d{2}:?\d{2})?"?$/;
const DAY_S = 86_400;

/** hh:mm:ss.fff, or an ISO 8601 date with it; null: another form. */
export function readClockTime(text: string): ClockTime | null {
  const parts = FORM.exec(text.trim());
  if (!parts) return null;
  const [year, month, day, hour, minute, second] = [1, 2, 3, 4, 5, 6].map((i) => Number(parts[i] ?? 0)) as [number, number, number, number, number, number];
  if (hour > 23 || minute > 59 || second > 60) return null;
  const inDay = hour * 3600 + minute * 60 + second + (parts[7] === undefined ? 0 : Number(`0.${parts[7]}`));
  if (parts[1] === undefined) return { atS: inDay, hasDate: false };
  if (month < 1 || month > 12 || day < 1 || day > 31) return null;
  return { atS: countDays(year, month, day) * DAY_S + inDay, hasDate: true };
}

/** Days from 1970-01-01 of the civil calendar. */
export function countDays(year: number, month: number, day: number): number {
  // Years begin in March, so that the leap day is the last one.
  const y = month <= 2 ? year - 1 : year;
  const era = Math.floor(y / 400);
  const ofEra = y - era * 400;
  const ofYear = Math.floor((153 * (month + (month > 2 ? -3 : 9)) + 2) / 5) + day - 1;
  return era * 146_097 + ofEra * 365 + Math.floor(ofEra / 4) - Math.floor(ofEra / 100) + ofYear - 719_468;
}

/** ISO 8601 without a zone, to the millisecond, of seconds since 1970; null outside the years 1900 to 2199. */
export function formatClockTime(atS: number): string | null {
  const ms = Math.round(atS * 1000);
  const days = Math.floor(ms / (DAY_S * 1000));
  if (!(days >= countDays(1900, 1, 1) && days < countDays(2200, 1, 1))) return null;
  const shifted = days + 719_468;
  const era = Math.floor(shifted / 146_097);
  const ofEra = shifted - era * 146_097;
  const yearOfEra = Math.floor((ofEra - Math.floor(ofEra / 1460) + Math.floor(ofEra / 36_524) - Math.floor(ofEra / 146_096)) / 365);
  const ofYear = ofEra - (365 * yearOfEra + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100));
  const marchMonth = Math.floor((5 * ofYear + 2) / 153);
  const day = ofYear - Math.floor((153 * marchMonth + 2) / 5) + 1;
  const month = marchMonth < 10 ? marchMonth + 3 : marchMonth - 9;
  const year = yearOfEra + era * 400 + (month <= 2 ? 1 : 0);
  const rest = ms - days * DAY_S * 1000;
  const two = (value: number): string => String(value).padStart(2, '0');
  const second = rest % 60_000;
  return `${year}-${two(month)}-${two(day)}T${two(Math.floor(rest / 3_600_000))}:${two(Math.floor(rest / 60_000) % 60)}:${two(Math.floor(second / 1000))}${second % 1000 === 0 ? '' : `.${String(second % 1000).padStart(3, '0')}`}`;
}
