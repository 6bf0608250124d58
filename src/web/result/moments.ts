import { readToday } from '../parts/days.ts';

/** A moment on this machine as a person types it: "2026-03-02 07:05:30". */
export function writeMoment(at: Date): string {
  const two = (n: number): string => String(n).padStart(2, '0');
  return `${readToday(at)} ${two(at.getHours())}:${two(at.getMinutes())}:${two(at.getSeconds())}`;
}

/**
 * The instant of a typed moment, ISO 8601 UTC; null when it is none. Day first, so that no order of day and month is guessed;
 * a time alone is of the day of `now`. Seconds may be left out.
 */
export function readMoment(text: string, now: Date): string | null {
  const found = /^(?:(\d{4})-(\d{2})-(\d{2})[ T])?(\d{1,2}):(\d{2})(?::(\d{2}))?$/.exec(text.trim());
  if (!found) return null;
  const [year, month, day] = found[1] === undefined ? [now.getFullYear(), now.getMonth() + 1, now.getDate()] : [Number(found[1]), Number(found[2]), Number(found[3])];
  const [hour, minute, second] = [Number(found[4]), Number(found[5]), Number(found[6] ?? 0)];
  const at = new Date(year, month - 1, day, hour, minute, second);
  const isSame = at.getFullYear() === year && at.getMonth() === month - 1 && at.getDate() === day && at.getHours() === hour && at.getMinutes() === minute && at.getSeconds() === second;
  return isSame ? at.toISOString() : null;
}
