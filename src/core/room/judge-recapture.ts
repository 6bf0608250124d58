import type { Rule } from '../device/device-types.ts';
import type { FrozenDocument } from './frozen-types.ts';
import type { RoomState } from './room-state.ts';
import { judgeDepthAge } from './judge-depth-place.ts';
import { makeTimeOf } from './stand-records.ts';

export type RecaptureReason =
  | 'not-recapturable' | 'size-unknown' | 'released' | 'attempts-used' | 'past-fraction' | 'fraction-unread' | 'fraction-old' | 'attempts-rule-missing' | 'within-limits';
export interface RecaptureAnswer {
  readonly state: 'open' | 'closed' | 'cannot say';
  readonly because: RecaptureReason;
  /** Unsheathed share as read in the running attempt and when; null: not read. It may have grown since. */
  readonly ratio: { readonly ratio: number; readonly at: string } | null;
  /** Share up to which the signed table allows it; null: not in the table. */
  readonly mostRatio: number | null;
  /** What is left of it, 0 or more; null: cannot be said. */
  readonly leftRatio: number | null;
  /** Recaptures of the frame that is in; a new valve counts from 0. */
  readonly used: number;
  readonly attempts: Rule | null;
  readonly left: number | null;
  /** What the frame needs before it goes in again. `not known`: the signed rules do not say. */
  readonly before: 'nothing' | 'inspect' | 'replace' | 'not known';
  readonly inspectAfter: Rule | null;
  readonly replaceAfter: Rule | null;
}

/**
 * Whether the frame can still be taken back, from the signed table (share) and the signed rules (attempts): a certain NO
 * wins over what is not known, and what is not known is never a yes (job.md, D28). While the frame opens, a share grows: one
 * read longer ago than a live value holds (`depth-gone`) is no yes any more (E16).
 *
 * Equation  closed: share read > table's share, or recaptures >= attempts; open: share read <= table's and one is left
 * Fails     never
 * Source    docs/methods/room-judgements.md
 */
export function judgeRecapture(frozen: Pick<FrozenDocument, 'device' | 'choice' | 'limits'>, room: RoomState, nowMs: number): RecaptureAnswer {
  const { recaptureAttempts: attempts, inspectAfter, replaceAfter } = frozen.limits;
  const size = frozen.device.sizes.find((s) => s.label === frozen.choice.size);
  const used = countRecaptures(room);
  const ratio = readShareOut(room);
  const mostRatio = size?.recaptureFraction ?? null;
  const left = attempts === null ? null : Math.max(0, Math.floor(attempts.value - (attempts.strict ? 1 : 0)) - used);
  const base = {
    ratio, mostRatio, used, attempts, left, inspectAfter, replaceAfter, before: askBefore(room, used, inspectAfter, replaceAfter),
    leftRatio: ratio === null || mostRatio === null ? null : Math.max(0, mostRatio - ratio.ratio),
  };
  const answer = (state: RecaptureAnswer['state'], because: RecaptureReason): RecaptureAnswer => ({ ...base, state, because });
  if (frozen.device.kind !== 'self-expanding') return answer('closed', 'not-recapturable');
  if (mostRatio === null) return answer('cannot say', 'size-unknown');
  if (room.releasedAt !== null) return answer('closed', 'released');
  if (left !== null && left <= 0) return answer('closed', 'attempts-used');
  if (ratio !== null && ratio.ratio > mostRatio) return answer('closed', 'past-fraction');
  if (ratio === null) return answer('cannot say', 'fraction-unread');
  const isOpening = room.phase?.phase === 'releasing' || room.phase?.phase === 'decision';
  if (isOpening && judgeDepthAge(ratio.at, nowMs, frozen.limits).state === 'gone') return answer('cannot say', 'fraction-old');
  if (attempts === null) return answer('cannot say', 'attempts-rule-missing');
  return answer('open', 'within-limits');
}

/** Newest share of the running attempt: from the log, or from a depth that was read with it; null: not read since the frame was taken back. */
export function readShareOut(room: RoomState): RecaptureAnswer['ratio'] {
  const attempt = room.attempts.at(-1);
  if (!attempt || attempt.endedBy === 'recaptured') return null;
  const fromDepth = attempt.last && attempt.last.reading.unsheathedRatio !== null ? { ratio: attempt.last.reading.unsheathedRatio, at: attempt.last.at } : null;
  const newest = attempt.ratio && fromDepth ? (attempt.ratio.at >= fromDepth.at ? attempt.ratio : fromDepth) : (attempt.ratio ?? fromDepth);
  if (!newest || newest.ratio === null || !Number.isFinite(newest.ratio)) return null;
  return { ratio: newest.ratio, at: newest.at };
}

/** Recaptures since the frame that is in now was taken. */
function countRecaptures(room: RoomState): number {
  const timeOf = makeTimeOf(room.records);
  const renewals = room.records.flatMap((r) => (r.standing === 'current' && r.entry?.is === 'valve-out' && r.entry.replaced ? [timeOf(r)] : []));
  const renewedAt = renewals.reduce<string | null>((last, at) => (last !== null && last > at ? last : at), null);
  if (renewedAt === null) return room.recaptures;
  return room.attempts.filter((a) => a.endedBy === 'recaptured' && a.endedAt !== null && a.endedAt > renewedAt).length;
}

const isReached = (count: number, rule: Rule): boolean => (rule.strict ? count > rule.value : count >= rule.value);

function askBefore(room: RoomState, used: number, inspectAfter: Rule | null, replaceAfter: Rule | null): RecaptureAnswer['before'] {
  if (used === 0) return 'nothing';
  if (replaceAfter && isReached(used, replaceAfter)) return 'replace';
  const lastRecapture = room.attempts.filter((a) => a.endedBy === 'recaptured').at(-1)?.endedAt ?? null;
  const wasLookedAt = room.valveOut !== null && room.valveOut.inspected && lastRecapture !== null && room.valveOut.at >= lastRecapture;
  if (inspectAfter && isReached(used, inspectAfter)) return wasLookedAt ? 'nothing' : 'inspect';
  return inspectAfter && replaceAfter ? 'nothing' : 'not known';
}
