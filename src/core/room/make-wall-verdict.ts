import { readInstantMs } from '../units/iso-time.ts';
import { REMEDIES } from '../verdict/verdict-types.ts';
import type { RoomState } from './room-state.ts';
import type { WallRemedyFacts, WallVerdictFacts } from './wall-types.ts';

/**
 * The verdict as it was put on the wall, with its age; a void one is not shown (job.md, "Three-witness verdict").
 * Shape     pure
 */
export function makeWallVerdict({ verdict: newest }: RoomState, sinceReleaseMs: number | null, nowMs: number): WallVerdictFacts {
  const verdict = newest?.voidBy === null ? newest : null;
  const untilMs = verdict === null || verdict.waitUntil === null ? Number.NaN : readInstantMs(verdict.waitUntil);
  return {
    is: 'verdict', verdict, was: verdict === null ? newest : null, sinceReleaseMs,
    ageMs: newest ? Math.max(0, nowMs - readInstantMs(newest.at)) : null, waitLeftMs: Number.isNaN(untilMs) ? null : untilMs - nowMs,
  };
}

/**
 * The remedy board of that verdict: all six, in the one fixed order, whatever the log gives (job.md, D46, E12). Waiting is
 * closed by its timer: what was open when the verdict was given is not open for ever.
 * Shape     pure
 */
export function makeWallRemedies(room: RoomState, sinceReleaseMs: number | null, nowMs: number): WallRemedyFacts {
  const said = makeWallVerdict(room, sinceReleaseMs, nowMs);
  const { verdict, waitLeftMs } = said;
  const rows = REMEDIES.map((code): WallRemedyFacts['rows'][number] => {
    const row = verdict?.remedies.find((r) => r.code === code);
    if (!row) return { code, state: 'cannot say', detail: '', leftMs: null };
    const leftMs = code === 'wait' ? waitLeftMs : null;
    return { code, state: leftMs !== null && leftMs <= 0 ? 'closed' : row.state, detail: row.detail, leftMs };
  });
  return { ...said, is: 'remedies', rows: verdict === null ? [] : rows };
}
