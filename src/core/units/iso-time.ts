const ISO = /^(\d{4})-(\d{2})-(\d{2})(?:T([01]\d|2[0-3]):[0-5]\d(?::[0-5]\d(?:\.\d{1,9})?)?(?:Z|[+-](?:0\d|1[0-4]):?[0-5]\d)?)?$/;
const DAYS = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/** Whether a text is a date, or date and time, of ISO 8601 in the proleptic Gregorian calendar. */
export function isIsoTime(text: string): boolean {
  const found = ISO.exec(text);
  if (!found) return false;
  const [year, month, day] = found.slice(1, 4).map(Number) as [number, number, number];
  const isLeap = year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0);
  return month >= 1 && month <= 12 && day >= 1 && day <= DAYS[month - 1]! + (month === 2 && isLeap ? 1 : 0);
}

const INSTANT = /^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2}):(\d{2})(?:\.(\d{1,9}))?Z$/;
/**
 * An instant in UTC as ms since 1970-01-01T00:00:00Z; NaN when the text is none. What follows the millisecond is cut off.
 * Source  days of the proleptic Gregorian calendar counted from the first of March, so that the leap day is the last of its year
 */
export function readInstantMs(text: string): number {
  const found = isIsoTime(text) ? INSTANT.exec(text) : null;
  if (!found) return Number.NaN;
  const [year, month, day, hour, minute, second] = found.slice(1, 7).map(Number) as [number, number, number, number, number, number];
  const y = month <= 2 ? year - 1 : year;
  const dayOfYear = Math.floor((153 * ((month + 9) % 12) + 2) / 5) + day - 1;
  const days = 365 * y + Math.floor(y / 4) - Math.floor(y / 100) + Math.floor(y / 400) + dayOfYear - 719_468;
  return ((days * 24 + hour) * 60 + minute) * 60_000 + second * 1000 + Number((found[7] ?? '0').padEnd(3, '0').slice(0, 3));
}

/**
 * The instant of `readInstantMs` as text, ISO 8601 UTC with milliseconds; null for what is no time between the years 0 and 9999.
 * Source  the same count of days, turned round
 */
export function formatInstant(ms: number): string | null {
  const whole = Math.floor(ms);
  if (!(whole >= -62_135_596_800_000 && whole < 253_402_300_800_000)) return null;
  const days = Math.floor(whole / 86_400_000) + 719_468;
  const era = Math.floor(days / 146_097);
  const ofEra = days - era * 146_097;
  const yearOfEra = Math.floor((ofEra - Math.floor(ofEra / 1460) + Math.floor(ofEra / 36_524) - Math.floor(ofEra / 146_096)) / 365);
  const ofYear = ofEra - (365 * yearOfEra + Math.floor(yearOfEra / 4) - Math.floor(yearOfEra / 100));
  const shifted = Math.floor((5 * ofYear + 2) / 153);
  const day = ofYear - Math.floor((153 * shifted + 2) / 5) + 1;
  const month = shifted < 10 ? shifted + 3 : shifted - 9;
  const year = yearOfEra + era * 400 + (month <= 2 ? 1 : 0);
  const ofDay = whole - Math.floor(whole / 86_400_000) * 86_400_000;
  const pad = (value: number, digits = 2): string => String(value).padStart(digits, '0');
  return `${pad(year, 4)}-${pad(month)}-${pad(day)}T${pad(Math.floor(ofDay / 3_600_000))}:${pad(Math.floor(ofDay / 60_000) % 60)}:${pad(Math.floor(ofDay / 1000) % 60)}.${pad(ofDay % 1000, 3)}Z`;
}
