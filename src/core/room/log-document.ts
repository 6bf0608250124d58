import type { CaseEvent } from '../case/case-events.ts';
import type { CaseState } from '../case/fold-case.ts';
import { describeEntry } from './describe-entry.ts';
import { foldRoom } from './fold-room.ts';
import type { FrozenDocument } from './frozen-types.ts';
import type { LoggedRecord, RoomState } from './room-state.ts';
import type { RoomPhase } from './room-types.ts';
import { standRecords } from './stand-records.ts';

/** One record as a line of the log: what it says, when, who, and what became of it. */
export interface LogRow {
  readonly record: LoggedRecord & { readonly by: string; readonly seq: number };
  /** What the line stands for: for a correction the time of the tap that it corrects. */
  readonly at: string;
  /** Of the event in the case's chain, the server's clock. */
  readonly loggedAt: string;
  readonly sha256: string;
  readonly words: string;
  readonly whoLogged: string;
}
/** The whole log of a room, ready to be handed over in any format. */
export interface LogDocument {
  readonly caseId: string;
  readonly label: string;
  readonly training: boolean;
  readonly madeBy: string;
  /** The case's last event: the log as it is now and its end in the chain. */
  readonly asOf: string;
  readonly lastSeq: number;
  readonly lastSha256: string;
  /** The frozen plan that acts, and the document itself when it could be read. */
  readonly frozenSha256: string | null;
  readonly frozen: FrozenDocument | null;
  readonly rows: readonly LogRow[];
  readonly room: RoomState;
}

/** Names of things that a line speaks about. */
interface LogNames {
  readonly nameOf: (personId: string) => string;
  readonly nameCard: (id: string) => string;
}

/** Fails: never; the same events give the same document. */
export function makeLogDocument(state: CaseState, events: readonly CaseEvent<'room.logged'>[], frozen: FrozenDocument | null, names: LogNames, madeBy: string): LogDocument {
  const records = events.map(({ data, by, seq }) => ({ ...data, by, seq }));
  const ofEntry = new Map(events.map((e) => [e.data.entryId, e]));
  const stood = standRecords(records);
  const timeOf = new Map(stood.entries.map(({ record, at }) => [record.entryId, at]));
  const rows = stood.records.map((record): LogRow => {
    const event = ofEntry.get(record.entryId)!;
    return {
      record: { ...record, by: event.by, seq: event.seq }, at: timeOf.get(record.entryId) ?? record.happenedAt, loggedAt: event.at, sha256: event.sha256,
      words: record.entry === null ? '' : describeEntry(record.entry, names.nameCard), whoLogged: names.nameOf(event.by),
    };
  });
  return {
    caseId: state.caseId, label: state.label, training: state.training || (frozen?.training ?? false), madeBy, asOf: state.changedAt, lastSeq: state.seq, lastSha256: state.sha256,
    frozenSha256: state.frozen?.frozenSha256 ?? null, frozen, rows, room: foldRoom(records),
  };
}

/** Steps of the procedure with the time each was first reached, in the order they were reached; taken-back ones do not count. */
export function listSteps(rows: readonly LogRow[]): readonly { readonly phase: RoomPhase; readonly at: string }[] {
  return rows.flatMap(({ record, at }) => (record.standing === 'current' && record.entry?.is === 'phase' ? [{ phase: record.entry.phase, at }] : []));
}
