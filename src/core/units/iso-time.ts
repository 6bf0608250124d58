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
