import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';

/** A day that exists, written YYYY-MM-DD. */
export function isDate(text: string): boolean {
  const at = /^\d{4}-\d{2}-\d{2}$/.test(text) ? new Date(`${text}T00:00:00Z`) : null;
  return at !== null && !Number.isNaN(at.getTime()) && at.toISOString().startsWith(text);
}

const DAY_MS = 86_400_000;
/** Today's date on this machine, as YYYY-MM-DD. */
export function readToday(now: Date = new Date()): string {
  return `${now.getFullYear()}-${String(now.getMonth() + 1).padStart(2, '0')}-${String(now.getDate()).padStart(2, '0')}`;
}
/** Whole days from one date to another; both YYYY-MM-DD, so no hour and no summer time enters. */
export function countDays(from: string, to: string): number {
  return Math.round((Date.parse(`${to}T00:00:00Z`) - Date.parse(`${from}T00:00:00Z`)) / DAY_MS);
}
/** "in 3 days". */
export function sayDistance(day: string, today: string): string {
  const days = countDays(today, day);
  if (days === 0) return DESK_EN.today;
  if (days === 1) return DESK_EN.tomorrow;
  return days > 0 ? formatText(DESK_EN, 'inDays', { count: days }) : formatText(DESK_EN, 'daysAgo', { count: -days });
}
/** A moment as date and minute on this machine. */
export function sayMoment(iso: string): string {
  const at = new Date(iso);
  if (Number.isNaN(at.getTime())) return iso;
  return `${readToday(at)} ${String(at.getHours()).padStart(2, '0')}:${String(at.getMinutes()).padStart(2, '0')}`;
}
