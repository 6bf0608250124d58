import type { RoomRecord } from './room-types.ts';

/** A record from anywhere: from the log (with who and seq) or still on the page that took it. */
export type AnyRecord = RoomRecord & { readonly by?: string | null | undefined; readonly seq?: number | null | undefined };

/**
 * All records of several lists, each once, in time order. What the log holds wins over what a page still keeps; which list
 * comes first does not matter.
 *
 * Order is that of `happenedAt`; records of one page keep the order of their `count`, also when its clock was corrected
 * between two taps. Of one millisecond, what the log took first comes first and what it has not taken yet last; then page,
 * count and id settle it, so that every page sees the same order.
 */
export function mergeRecords<R extends AnyRecord>(...lists: readonly (readonly R[])[]): R[] {
  const byId = new Map<string, R>();
  for (const list of lists) {
    for (const record of list) {
      const other = byId.get(record.entryId);
      if (!other || isBetter(record, other)) byId.set(record.entryId, record);
    }
  }
  const records = [...byId.values()].sort((a, b) => compareText(a.clientId, b.clientId) || a.count - b.count || compareText(a.entryId, b.entryId));
  const keyed: { readonly record: R; readonly orderAt: string; readonly orderSeq: number }[] = [];
  let [clientId, latest, latestSeq] = ['', '', 0];
  for (const record of records) {
    // Instants have one form (UTC, milliseconds), so that their text order is their time order.
    latest = record.clientId === clientId && latest > record.happenedAt ? latest : record.happenedAt;
    latestSeq = record.clientId === clientId ? Math.max(latestSeq, seqOf(record)) : seqOf(record);
    clientId = record.clientId;
    keyed.push({ record, orderAt: latest, orderSeq: latestSeq });
  }
  // The sort is stable: page, count and id stay behind the time.
  return keyed.sort((a, b) => compareText(a.orderAt, b.orderAt) || (a.orderSeq === b.orderSeq ? 0 : a.orderSeq - b.orderSeq)).map((k) => k.record);
}

/** Plain order of code units: `localeCompare` depends on the machine. */
const compareText = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

const seqOf = (r: AnyRecord): number => r.seq ?? Number.POSITIVE_INFINITY;

/** Of two copies: the one in the log, the earlier there; among waiting ones any fixed choice. */
function isBetter(one: AnyRecord, other: AnyRecord): boolean {
  if (seqOf(one) !== seqOf(other)) return seqOf(one) < seqOf(other);
  return JSON.stringify(one) < JSON.stringify(other);
}
