import { fail, succeed, type Result } from '../../core/result.ts';
import { RECORDINGS_EN } from '../../core/text/recordings-en.ts';
import { readInstantMs } from '../../core/units/iso-time.ts';

/** A watch that is a minute ahead is a watch; a day ahead is another day. */
const MOST_AHEAD_MS = 5 * 60_000;

/**
 * Whether something can have been taken then. A witness of a later day would stand as the newest over all that come after it.
 * Fails     taken-in-future
 */
export function checkTakenAt(takenAt: string, nowMs: number): Result<null, 'taken-in-future'> {
  return readInstantMs(takenAt) > nowMs + MOST_AHEAD_MS ? fail('taken-in-future', RECORDINGS_EN.takenInFuture, RECORDINGS_EN.takenInFutureNext) : succeed(null);
}
