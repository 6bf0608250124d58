import type { WallAsk, WallWarning } from './wall-types.ts';

/** The page asks every 15 s although the feed is open; when two of these stay without an answer the wall says so. */
export const NO_CONTACT_MS = 35_000;

/**
 * What the reader must know before believing the wall, the most urgent first.
 * Shape     pure
 */
export function listWallWarnings({ frozenState, room, isBehind, nowMs, isOnline, newsMs, settings }: WallAsk): readonly WallWarning[] {
  const warnings: WallWarning[] = [];
  if (isBehind && frozenState === 'ready') warnings.push({ is: 'plan-behind' });
  const forMs = newsMs === null ? null : Math.max(0, nowMs - newsMs);
  const isCut = !isOnline || (forMs === null ? frozenState !== 'reading' : !(forMs <= NO_CONTACT_MS));
  if (isCut) warnings.push({ is: 'no-contact', forMs });
  if (settings.isRefused) warnings.push({ is: 'refused' });
  if (settings.isClockUnsure) warnings.push({ is: 'clock-unsure' });
  const count = room.holes.reduce((sum, hole) => sum + hole.missing.length, 0);
  if (count > 0) warnings.push({ is: 'lost-entries', count });
  if (!settings.isScreenMeasured) warnings.push({ is: 'screen-not-measured', wall: settings.wall });
  if (settings.mayScreenSleep) warnings.push({ is: 'may-sleep' });
  return warnings;
}
