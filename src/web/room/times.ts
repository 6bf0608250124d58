import { signal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { readToday } from '../parts/days.ts';
import { readServerNow } from '../state/room-log.ts';

/** The server's time, once a second while a page shows it, ms. */
export const nowMs = signal(readServerNow());
let users = 0;
let timer: ReturnType<typeof setInterval> | null = null;
export function useNow(): number {
  useEffect(() => {
    users += 1;
    nowMs.value = readServerNow();
    timer ??= setInterval(() => (nowMs.value = readServerNow()), 1000);
    return () => {
      users -= 1;
      if (users > 0 || timer === null) return;
      clearInterval(timer);
      timer = null;
    };
  }, []);
  return nowMs.value;
}

const two = (n: number): string => String(n).padStart(2, '0');
/** How long something has lasted: "12 s", "3:05 min", "1 h 05 min". */
export function formatSpan(ms: number): string {
  const s = Math.max(0, Math.floor(ms / 1000));
  if (s < 60) return formatText(ROOM_EN, 's', { s });
  if (s < 3600) return formatText(ROOM_EN, 'minS', { m: Math.floor(s / 60), s: two(s % 60) });
  return formatText(ROOM_EN, 'hMin', { h: Math.floor(s / 3600), m: two(Math.floor((s % 3600) / 60)) });
}
/** Time of day on this machine's clock face, from an instant. */
export function formatClock(at: string | null): string {
  if (at === null) return '';
  const day = new Date(at);
  return `${two(day.getHours())}:${two(day.getMinutes())}:${two(day.getSeconds())}`;
}
/** A moment beside a fact: the time when it is of the same day on this machine, else the day. */
export function formatFactTime(at: string, serverMs: number): string {
  const day = at.length === 10 ? at : readToday(new Date(at)); // a day alone has no hour that could move it
  return at.length > 10 && day === readToday(new Date(serverMs)) ? formatClock(at) : day;
}
export const readSpan = (at: string | null): number | null => (at === null ? null : nowMs.value - Date.parse(at));

/**
 * By how many seconds a clock that shows `text` (HH:MM:SS, or HH:MM on the full minute) is ahead of the server's, as this
 * machine's time zone shows it; null: no time of day. The nearer way round midnight.
 */
export function readClockAhead(text: string, serverMs: number): number | null {
  const found = /^([01]?\d|2[0-3])[:.]([0-5]\d)(?:[:.]([0-5]\d))?$/.exec(text.trim());
  if (!found) return null;
  const [h, m, s] = [found[1], found[2], found[3] ?? '0'].map(Number) as [number, number, number];
  const here = new Date(serverMs);
  const aheadS = h * 3600 + m * 60 + s - (here.getHours() * 3600 + here.getMinutes() * 60 + here.getSeconds() + here.getMilliseconds() / 1000);
  return Math.round((((aheadS + 43200) % 86400) + 86400) % 86400) - 43200;
}
