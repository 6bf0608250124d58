import type { RoomState } from '../room/room-state.ts';
import { readInstantMs } from '../units/iso-time.ts';
import type { VerdictClock } from './judge-witness.ts';

/**
 * Times of the verdict from the room's log. A manoeuvre is whatever may have changed the leak: the release, a balloon after it, a
 * recapture, a valve taken out, a frame that moved, the turn to another valve. What came before release is none, but a recapture and
 * that turn: they take the release back.
 * Fails    never
 */
export function readVerdictClock(room: Pick<RoomState, 'releasedAt' | 'dilated' | 'attempts' | 'valveOut' | 'nextValveAt'>, nowAt: string): VerdictClock {
  const times = [
    room.releasedAt, room.nextValveAt, room.valveOut?.at ?? null, ...room.dilated.filter((d) => d.when === 'after').map((d) => d.at),
    ...room.attempts.flatMap((a) => [a.moved?.at ?? null, a.endedBy === 'recaptured' ? a.endedAt : null]),
  ].filter((t) => t !== null);
  const lastManoeuvreAt = times.sort((a, b) => readInstantMs(a) - readInstantMs(b)).at(-1) ?? null;
  return { releasedAt: room.releasedAt, lastManoeuvreAt, nowAt };
}
