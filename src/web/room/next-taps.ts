import { ROOM_PHASES, type RoomEntry, type RoomPhase } from '../../core/room/room-types.ts';
import { frozen, room } from '../state/room-log.ts';

/** The step after the one that is on; null after the last. */
export function findNextPhase(): RoomPhase | null {
  const now = room.value.phase?.phase ?? null;
  if (now === null) return ROOM_PHASES[0]!;
  return ROOM_PHASES[ROOM_PHASES.indexOf(now) + 1] ?? null;
}
export const readPlannedRate = (): number | null => frozen.value?.choice.paceBpm ?? null;
/** What the one pacing key means now. */
export function makePacingTap(): RoomEntry {
  const isOn = room.value.pacing?.isOn !== true;
  return { is: 'pacing', isOn, ratePerMin: isOn ? readPlannedRate() : null };
}
