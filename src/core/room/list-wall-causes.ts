import { makeCauseBoard } from './cause-board.ts';
import type { FrozenDocument } from './frozen-types.ts';
import type { RoomState } from './room-state.ts';
import type { WallCause } from './wall-types.ts';

/** All seven causes in the order that never changes, each with the weight of its evidence (job.md, D38). */
export function listWallCauses(frozen: FrozenDocument, room: RoomState): readonly WallCause[] {
  return makeCauseBoard(frozen, room).rows.map(({ code, weight }) => ({ code, weight }));
}
