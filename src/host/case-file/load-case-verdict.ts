import type { Result } from '../../core/result.ts';
import { foldRoom } from '../../core/room/fold-room.ts';
import type { RoomRecord } from '../../core/room/room-types.ts';
import { placeReader } from '../../core/verdict/show-result.ts';
import type { VerdictCase } from '../../core/verdict/verdict-case.ts';
import { loadVerdictCase } from '../server/load-verdict-case.ts';
import type { OpenedCase } from './case-file-types.ts';

/**
 * An opened case with everything that its verdict reads. Sealed grades stay sealed until every reader who was present has stored
 * one: here is nobody whose own grade could be asked for.
 * Fails     as its documents
 */
export async function loadCaseVerdict(opened: Pick<OpenedCase, 'state' | 'events' | 'readDocument'>, nowAt: string): Promise<Result<VerdictCase, string>> {
  const records = opened.events.flatMap((e) => (e.kind === 'room.logged' ? [{ ...(e.data as RoomRecord), by: e.by, seq: e.seq }] : []));
  const { gate } = placeReader({ state: opened.state, room: foldRoom(records), nowAt }, '');
  return loadVerdictCase({ state: opened.state, records, readDocument: opened.readDocument }, nowAt, () => gate.isOpen);
}
