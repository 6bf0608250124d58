import type { FrozenDocument } from './frozen-types.ts';
import type { RoomState } from './room-state.ts';
import { CAUSE_CODES } from './room-types.ts';
import type { WallCause } from './wall-types.ts';

/** All seven causes in the order that never changes, each with its weight in one word (job.md, D38). */
export function listWallCauses(_frozen: FrozenDocument, _room: RoomState): readonly WallCause[] {
  return CAUSE_CODES.map((code) => ({ code, weight: 'not known' }));
}
