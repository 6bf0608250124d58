import { updateWorlds, type AchievedMotion, type WorldUpdate } from '../release/update-worlds.ts';
import { findStartForecast } from './cause-evidence.ts';
import type { FrozenDocument } from './frozen-types.ts';
import { isMoved, measureMotion, type Motion } from './measure-motion.ts';
import type { Attempt, RoomState } from './room-state.ts';

export type LeftOutReason = 'left-running' | 'left-no-start' | 'left-no-motion' | 'left-no-forecast' | 'left-pacing' | 'left-tension' | 'left-dilated' | 'left-taken-back';
export interface RoomWorlds extends WorldUpdate {
  readonly used: readonly { readonly attempt: number; readonly startMm: number; readonly motion: Motion }[];
  readonly left: readonly { readonly attempt: number; readonly because: LeftOutReason }[];
}
/** The model knows no pacing at or below this rate. */
const LEAST_PACING_BPM = 80;

/**
 * Which friction world this root looks like after what the room has seen. An attempt counts only where the frozen forecast
 * speaks of it: from a start that was read, released as it was planned; the others are named with why they do not.
 * Fails     never
 * Source    docs/methods/update-worlds.md
 */
export function judgeWorlds(frozen: Pick<FrozenDocument, 'plan' | 'choice'>, room: Pick<RoomState, 'attempts' | 'dilated'>): RoomWorlds {
  const used: { attempt: number; startMm: number; motion: Motion; achieved: AchievedMotion }[] = [];
  const left: { attempt: number; because: LeftOutReason }[] = [];
  for (const attempt of room.attempts) {
    const read = readAchieved(frozen, room, attempt);
    if (typeof read === 'string') left.push({ attempt: attempt.number, because: read });
    else used.push({ attempt: attempt.number, ...read });
  }
  return { ...updateWorlds(used.map((u) => u.achieved)), used: used.map(({ achieved: _achieved, ...u }) => u), left };
}

function readAchieved({ plan, choice }: Pick<FrozenDocument, 'plan' | 'choice'>, room: Pick<RoomState, 'dilated'>, attempt: Attempt): LeftOutReason | { readonly startMm: number; readonly motion: Motion; readonly achieved: AchievedMotion } {
  const hasMoved = isMoved(attempt);
  if (attempt.endedBy === null && !hasMoved) return 'left-running';
  if (attempt.endedBy === 'recaptured' && !hasMoved) return 'left-taken-back';
  if (!attempt.start) return 'left-no-start';
  const motion = measureMotion(attempt);
  if (!motion || motion.direction === 'unknown') return 'left-no-motion';
  // Depths from before full release do not say where it came to stand.
  if (attempt.endedBy === 'released' && motion.from === 'depth' && !hasMoved && attempt.endedAt !== null && motion.at < attempt.endedAt) return 'left-no-motion';
  if (choice.paceBpm > LEAST_PACING_BPM && attempt.wasPaced === false) return 'left-pacing';
  if (choice.tension !== 'unknown' && attempt.tension !== null && attempt.tension !== 'unknown' && attempt.tension !== choice.tension) return 'left-tension';
  if (!choice.isPredilated && room.dilated.some((d) => d.when === 'before' && d.at < attempt.beganAt)) return 'left-dilated';
  const startMm = attempt.start.reading.depthMm;
  const forecast = findStartForecast(plan.release, startMm);
  if (!forecast) return 'left-no-forecast';
  return { startMm, motion, achieved: { worlds: forecast.worlds, movementMm: motion.mm, lowMm: motion.lowMm, highMm: motion.highMm } };
}
