import { mergeRecords, type AnyRecord } from './merge-records.ts';
import type { LoggedRecord } from './room-state.ts';
import type { RoomEntry } from './room-types.ts';

/** What counts: an entry with the time it stands for. A correction stands at the time of what it corrects. */
interface StandingEntry<E extends RoomEntry = RoomEntry> {
  readonly entry: E;
  readonly at: string;
  /** The record whose words count. */
  readonly record: LoggedRecord;
}

/**
 * Which records count. A record and everything that corrects it, directly or over others, are one family; the newest
 * direct correction decides for its record, and so on along the chain. A correction decides even when its page's clock
 * lies behind that of the page that it corrects. Records that correct each other in a ring (no page makes one) begin at
 * their earliest.
 */
export function standRecords(given: readonly AnyRecord[]): { readonly records: readonly LoggedRecord[]; readonly entries: readonly StandingEntry[] } {
  const merged = mergeRecords(given);
  const indexOf = new Map(merged.map((r, i) => [r.entryId, i]));
  const correctors = new Map<number, number[]>();
  const isRoot = merged.map((record, i) => {
    const target = record.corrects === null ? undefined : indexOf.get(record.corrects);
    if (target === undefined || target === i) return true; // what it corrects has not arrived: it counts by itself until then
    const list = correctors.get(target);
    if (list) list.push(i); else correctors.set(target, [i]);
    return false;
  });

  const standing: LoggedRecord['standing'][] = merged.map(() => 'current');
  const seen = merged.map(() => false);
  const rootOf = new Map<number, number>();
  const settle = (root: number): void => {
    seen[root] = true;
    if (!correctors.has(root)) {
      rootOf.set(root, root);
      return;
    }
    const family = [root];
    for (let k = 0; k < family.length; k += 1) {
      for (const i of correctors.get(family[k]!) ?? []) {
        if (seen[i]) continue;
        seen[i] = true;
        family.push(i);
      }
    }
    for (const i of family) standing[i] = 'superseded';
    const walked = new Set([root]);
    let [winner, before] = [root, -1];
    for (;;) {
      const next = (correctors.get(winner) ?? []).filter((i) => !walked.has(i)).at(-1);
      if (next === undefined) break;
      walked.add(next);
      [winner, before] = [next, winner];
    }
    standing[winner] = 'current';
    if (merged[winner]!.entry === null && before >= 0) standing[before] = 'taken back';
    rootOf.set(root, winner);
  };
  merged.forEach((_record, i) => { if (isRoot[i]) settle(i); });
  merged.forEach((_record, i) => { if (!seen[i]) settle(i); });

  // Field by field: a spread of so many records costs more than the rest of the fold.
  const records = merged.map(({ entryId, clientId, place, count, monotonicMs, clientAt, happenedAt, offset, corrects, entry, by = null, seq = null }, i): LoggedRecord =>
    ({ entryId, clientId, place, count, monotonicMs, clientAt, happenedAt, offset, corrects, entry, by, seq, standing: standing[i]! }));
  const entries: StandingEntry[] = [];
  merged.forEach((root, i) => {
    const winner = rootOf.get(i);
    const record = winner === undefined ? undefined : records[winner];
    if (record?.entry) entries.push({ entry: record.entry, at: root.happenedAt, record });
  });
  return { records, entries };
}

/**
 * When that happened which a record says: of a correction, the time of the tap that it corrects, as far as that has
 * arrived. As `standRecords` has it, for those who look at few records of many.
 */
export function makeTimeOf(records: readonly LoggedRecord[]): (record: LoggedRecord) => string {
  let byId: Map<string, LoggedRecord> | null = null;
  return (record) => {
    const walked = new Set<string>();
    let root = record;
    while (root.corrects !== null) {
      byId ??= new Map(records.map((r) => [r.entryId, r]));
      walked.add(root.entryId);
      const target = byId.get(root.corrects);
      if (!target || walked.has(target.entryId)) break;
      root = target;
    }
    return root.happenedAt;
  };
}
