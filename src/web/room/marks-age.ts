import type { RoomLimits } from '../../core/room/frozen-types.ts';
import type { RoomState } from '../../core/room/room-state.ts';

/** What the frame had done when a view was marked, and when that was (server time, ms, which counts a sleep of this machine). */
export interface MarkedWhen {
  readonly frame: string;
  readonly atMs: number;
}

/** Changes with everything the log knows to move the frame, and with nothing else. */
export function stampFrame({ attempts, recaptures, releasedAt, valveOut }: RoomState): string {
  const attempt = attempts.at(-1);
  return JSON.stringify([attempt?.ratio?.at ?? null, attempt?.moved?.at ?? null, recaptures, releasedAt, valveOut?.at ?? null]);
}

/**
 * Whether marks of then show the frame as it is now: views from before and after a movement must not be joined. `old`:
 * older than a depth may be (the hospital's rule; without one only the log tells).
 */
export function judgeMarks(when: MarkedWhen | null, room: RoomState, nowMs: number, limits: Pick<RoomLimits, 'depthGoneS'>): 'same' | 'moved' | 'old' {
  if (!when) return 'same';
  if (when.frame !== stampFrame(room)) return 'moved';
  return limits.depthGoneS !== null && nowMs - when.atMs > 1000 * limits.depthGoneS.value ? 'old' : 'same';
}
