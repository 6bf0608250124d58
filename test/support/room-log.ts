import type { DepthReading } from '../../src/core/projection/depth-types.ts';
import { foldRoom } from '../../src/core/room/fold-room.ts';
import type { RoomState } from '../../src/core/room/room-state.ts';
import type { RoomEntry, RoomRecord } from '../../src/core/room/room-types.ts';

/** Second of a log that began at 10:00 on the training day. */
export const logTime = (second: number): string => new Date(Date.UTC(2026, 2, 2, 10, 0, 0) + second * 1000).toISOString();

/** Entries as one page logs them: a second apart, or at the second given. */
export function makeLog(entries: readonly (RoomEntry | readonly [second: number, entry: RoomEntry])[]): readonly RoomRecord[] {
  return entries.map((given, i): RoomRecord => {
    const [second, entry] = 'is' in given ? [i, given] : given;
    const at = logTime(second);
    return { entryId: `entry-${i + 1}`, clientId: 'page-a', place: 'desk', count: i + 1, monotonicMs: second * 1000, clientAt: at, happenedAt: at, offset: { addedMs: 0, withinMs: 5 }, corrects: null, entry };
  });
}
export const makeRoom = (...entries: readonly (RoomEntry | readonly [second: number, entry: RoomEntry])[]): RoomState => foldRoom(makeLog(entries));

/** A depth by two frames with its 95 % half-width. */
export const makeDepth = (depthMm: number, halfMm = 0.4, change: Partial<DepthReading> = {}): DepthReading => ({
  depthMm, lowMm: depthMm - halfMm, highMm: depthMm + halfMm, state: 'corrected', by: 'marks', views: [{ primaryDeg: 10, secondaryDeg: -20 }, { primaryDeg: -20, secondaryDeg: 0 }],
  cusp: 'N', edge: 'inflow', clicks: 3, unsheathedRatio: null, ...change,
});
export const depthEntry = (depthMm: number, halfMm?: number, change?: Partial<DepthReading>): RoomEntry => ({ is: 'depth', reading: makeDepth(depthMm, halfMm, change) });
