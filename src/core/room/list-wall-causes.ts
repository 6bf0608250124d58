import { makeCauseBoard } from './cause-board.ts';
import type { EvidenceWeight } from './cause-types.ts';
import type { FrozenDocument } from './frozen-types.ts';
import type { RoomState } from './room-state.ts';
import type { WallCause } from './wall-types.ts';

const WORD: Readonly<Record<EvidenceWeight, WallCause['weight']>> = { clear: 'for', some: 'for', mixed: 'both', against: 'against', open: 'not known' };

/** All seven causes in the order that never changes, each with its weight in one word (job.md, D38). */
export function listWallCauses(frozen: FrozenDocument, room: RoomState): readonly WallCause[] {
  return makeCauseBoard(frozen, room).rows.map(({ code, weight }) => ({ code, weight: WORD[weight] }));
}
