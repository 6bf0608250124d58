import type { RoomRecord } from '../../core/room/room-types.ts';

/** The page's two clocks, read together. The monotonic one never jumps but may stand still while the machine sleeps. */
export interface PageTime {
  readonly monoMs: number;
  readonly wallMs: number;
}
/** One comparison with the server's clock; true within `withinMs` when it was made. */
export interface ClockAnchor extends PageTime {
  readonly serverMs: number;
  readonly withinMs: number;
}
export interface ServerTime {
  readonly atMs: number;
  /** What was added to the page's wall clock; null: never compared. */
  readonly offset: RoomRecord['offset'];
}

/** Quartz clocks go wrong by less than this [M]; the doubt of a comparison grows with it. */
const DRIFT_RATIO = 1e-4;
/** The two clocks of a page part by more than this only when the machine slept or somebody set its clock. */
const JUMP_MS = 500;

/** Answer of the server between two readings of the page's clocks: it was given somewhere between them. */
export function makeAnchor(before: PageTime, after: PageTime, serverMs: number): ClockAnchor {
  const halfMs = (after.monoMs - before.monoMs) / 2;
  return { monoMs: before.monoMs + halfMs, wallMs: after.wallMs - halfMs, serverMs, withinMs: halfMs };
}

/** By how much the wall clock ran ahead of the monotonic one since the comparison; 0 while both agree. */
export function readJump(anchor: ClockAnchor, now: PageTime): number {
  const ms = now.wallMs - anchor.wallMs - (now.monoMs - anchor.monoMs);
  return Math.abs(ms) > JUMP_MS + Math.abs(now.monoMs - anchor.monoMs) * DRIFT_RATIO ? ms : 0;
}
const growDoubt = (anchor: ClockAnchor, now: PageTime): number => anchor.withinMs + Math.abs(now.monoMs - anchor.monoMs) * DRIFT_RATIO;

/** The better of two comparisons now: the narrower one, except that one from before a sleep or a set clock is let go. */
export function chooseAnchor(was: ClockAnchor | null, next: ClockAnchor): ClockAnchor {
  return was !== null && readJump(was, next) === 0 && growDoubt(was, next) < next.withinMs ? was : next;
}

/**
 * The server's time as this page knows it.
 * Units     ms since 1970 (UTC)
 * Accuracy  half the way to the server and back, growing with the age of the comparison; after a jump of the wall clock,
 *           by the whole jump: a machine that slept cannot be told from one whose clock was set. A jump ahead is taken
 *           for sleep, in which time passed; a jump back for a clock that was set.
 */
export function estimateServerTime(anchor: ClockAnchor | null, now: PageTime): ServerTime {
  if (anchor === null) return { atMs: now.wallMs, offset: null };
  const jumpMs = readJump(anchor, now);
  const atMs = Math.round(anchor.serverMs + (now.monoMs - anchor.monoMs) + Math.max(0, jumpMs));
  return { atMs, offset: { addedMs: atMs - Math.round(now.wallMs), withinMs: Math.ceil(growDoubt(anchor, now) + Math.abs(jumpMs)) } };
}

/**
 * A tap of this page that waited for the server, with the time of the newest comparison where that is the better one and
 * no sleep and no set clock lies between. Raw times stay.
 */
export function correctTap(record: RoomRecord, anchor: ClockAnchor | null): RoomRecord {
  const tap = { monoMs: record.monotonicMs, wallMs: Date.parse(record.clientAt) };
  if (anchor === null || readJump(anchor, tap) !== 0) return record;
  const { atMs, offset } = estimateServerTime(anchor, tap);
  if (offset === null || (record.offset !== null && record.offset.withinMs <= offset.withinMs)) return record;
  return { ...record, happenedAt: new Date(atMs).toISOString(), offset };
}
