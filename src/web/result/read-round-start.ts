import type { RoomState } from '../../core/room/room-state.ts';
import { readVerdictClock } from '../../core/verdict/read-verdict-clock.ts';

/** When the round of grading that runs now began: the last manoeuvre, else the release; null: neither is logged. */
export function readRoundStart(room: RoomState): string | null {
  const { releasedAt, lastManoeuvreAt } = readVerdictClock(room, '');
  return lastManoeuvreAt ?? releasedAt;
}
