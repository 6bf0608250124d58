import { formatText } from '../../core/text/catalogue.ts';
import { WALL_ROOM_EN as T } from '../../core/text/wall-room-en.ts';
import { formatInstant } from '../../core/units/iso-time.ts';
import { formatNumber } from './format-number.ts';

const two = (v: number): string => String(v).padStart(2, '0');

/** An age in whole seconds, minutes and hours; never younger than it is. */
export function formatAge(ms: number): string {
  const s = Math.max(0, Math.floor(ms / 1000 + 1e-6));
  if (s < 60) return formatText(T, 'seconds', { s });
  if (s < 3600) return formatText(T, 'minutes', { m: Math.floor(s / 60), s: two(s % 60) });
  return formatText(T, 'hours', { h: Math.floor(s / 3600), m: two(Math.floor(s / 60) % 60) });
}

/** A timer of at most four signs with its unit: "2:35" min:s, from ten minutes on "12" min, from 1000 min on hours. */
export function formatTimer(ms: number): { readonly glyphs: string; readonly unit: string } {
  const s = Math.max(0, Math.floor(ms / 1000 + 1e-6));
  if (s < 600) return { glyphs: `${Math.floor(s / 60)}:${two(s % 60)}`, unit: T.minutesSeconds };
  if (s < 60_000) return { glyphs: String(Math.floor(s / 60)), unit: T.minutesUnit };
  return { glyphs: String(Math.min(9999, Math.floor(s / 3600))), unit: T.hoursUnit };
}

/** Time of day on the wall: "10:12:07", or "10:12" without seconds. */
export function formatClock(ms: number, utcOffsetMin: number, shows: 'seconds' | 'minutes' = 'seconds'): string {
  const text = formatInstant(ms + utcOffsetMin * 60_000)?.slice(11, 19);
  if (text === undefined) return T.unknown;
  return shows === 'seconds' ? text : text.slice(0, 5);
}

/**
 * One decimal; a value that lies beyond a limit is never rounded onto it or over it (job.md, E22).
 * Units     mm
 */
export function roundBeside(mm: number, limits: readonly (number | null)[]): number {
  const near = Math.round(mm * 10) / 10;
  for (const limit of limits) {
    if (limit === null) continue;
    const shown = Math.round(limit * 10) / 10;
    if (mm > limit && near <= shown) return Math.round((Math.floor(mm * 10) + 1)) / 10;
    if (mm < limit && near >= shown) return Math.round((Math.ceil(mm * 10) - 1)) / 10;
  }
  return near;
}

/** "3.4" below the plane, "0.4 above" over it. */
export const formatDepthMm = (mm: number): string => (mm < 0 ? formatText(T, 'above', { mm: formatNumber(-mm, 1) }) : formatNumber(mm, 1));
/** Ends of a window, rounded inward: what is shown never lies outside it. */
export function roundWindow(lowMm: number, highMm: number): { readonly low: string; readonly high: string } {
  const slack = 1e-9;
  return { low: formatDepthMm(Math.ceil(lowMm * 10 - slack) / 10), high: formatDepthMm(Math.floor(highMm * 10 + slack) / 10) };
}
/** A band, rounded outward: "2.3 to 4.1", "0.6 to 1.8 above", "0.4 above to 1.2". */
export function formatBand(lowMm: number, highMm: number): string {
  const slack = 1e-9;
  const [low, high] = [Math.floor(lowMm * 10 + slack) / 10, Math.ceil(highMm * 10 - slack) / 10];
  if (high < 0) return formatText(T, 'bandAbove', { near: formatNumber(-high, 1), far: formatNumber(-low, 1) });
  return formatText(T, 'bandOf', { low: formatDepthMm(low), high: formatDepthMm(high) });
}
