import type { Attempt } from './room-state.ts';

/** How far the frame went in one attempt. mm, + = up, toward the aorta; the interval is 95 %, open where nobody read a length. */
export interface Motion {
  readonly direction: 'up' | 'down' | 'none' | 'unknown';
  readonly mm: number | null;
  readonly lowMm: number;
  readonly highMm: number;
  /** `depth`: two depths that were read; `room`: what the room saw, by eye. */
  readonly from: 'depth' | 'room';
  readonly at: string;
}

/** From this much on a movement counts: the published threshold (docs/methods/release.md). */
export const COUNTED_MM = 1.5;
/** What an eye on the screen is off by, 95 %; assumption. */
export const BY_EYE_MM = 2;

/**
 * Movement of an attempt: from the depth at the start and the newest one where both were read, else as the room said it.
 *
 * Units     mm; depth is + toward the ventricle, movement + toward the aorta
 * Equation  movement = start - last; half-widths of the two bands add in quadrature
 * Fails     null: neither was read
 */
export function measureMotion(attempt: Attempt): Motion | null {
  const { start, last, moved } = attempt;
  // A depth from before the room saw it move does not hold the movement.
  if (start && last && last.at > start.at && !(moved && moved.at > last.at)) {
    const [a, b] = [start.reading, last.reading];
    const mm = a.depthMm - b.depthMm;
    const lowMm = mm - Math.hypot(a.depthMm - a.lowMm, b.highMm - b.depthMm);
    const highMm = mm + Math.hypot(a.highMm - a.depthMm, b.depthMm - b.lowMm);
    // What the room saw before the last reading may be all there is of a fast movement; the reading then measures its end.
    if (Number.isFinite(highMm - lowMm)) return { direction: lowMm > 0 ? 'up' : highMm < 0 ? 'down' : (moved?.direction ?? 'none'), mm, lowMm, highMm, from: 'depth', at: last.at };
  }
  if (!moved) return null;
  const { direction, mm, at } = moved;
  if (direction === 'unknown') return { direction, mm: null, lowMm: -Infinity, highMm: Infinity, from: 'room', at };
  const sign = direction === 'up' ? 1 : -1;
  if (mm === null || !Number.isFinite(mm)) return { direction, mm: null, lowMm: sign > 0 ? 0 : -Infinity, highMm: sign > 0 ? Infinity : 0, from: 'room', at };
  return { direction, mm: sign * mm, lowMm: sign * mm - BY_EYE_MM, highMm: sign * mm + BY_EYE_MM, from: 'room', at };
}

/** Whether an attempt shows a movement that the board should explain: the room said so, or the depths differ by more than their band and enough to count. */
export function isMoved(attempt: Attempt): boolean {
  if (attempt.moved) return true;
  const motion = measureMotion(attempt);
  return motion !== null && motion.from === 'depth' && motion.mm !== null && Math.abs(motion.mm) >= COUNTED_MM && (motion.lowMm > 0 || motion.highMm < 0);
}
