import type { WallAsk, WallWarning } from './wall-types.ts';

/** Without a word from the server for this long the wall says so: two heartbeats of 5 s may be late, a third is not. */
export const NO_CONTACT_MS = 15_000;

/**
 * What the reader must know before believing the wall, the most urgent first.
 * Shape     pure
 */
export function listWallWarnings({ frozenState, room, nowMs, contactMs, settings }: WallAsk): readonly WallWarning[] {
  const warnings: WallWarning[] = [];
  const forMs = contactMs === null ? null : nowMs - contactMs;
  if (forMs === null ? frozenState !== 'reading' : !(forMs <= NO_CONTACT_MS)) warnings.push({ is: 'no-contact', forMs });
  if (settings.isClockUnsure) warnings.push({ is: 'clock-unsure' });
  const count = room.holes.reduce((sum, hole) => sum + hole.missing.length, 0);
  if (count > 0) warnings.push({ is: 'lost-entries', count });
  if (!settings.isScreenMeasured) warnings.push({ is: 'screen-not-measured', wall: settings.wall });
  if (settings.mayScreenSleep) warnings.push({ is: 'may-sleep' });
  return warnings;
}
