import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import type { Reason } from '../units/fact.ts';
import { readInstantMs } from '../units/iso-time.ts';
import { makeReason, showNumber } from './make-reason.ts';
import { LEAK_SCALE } from './read-leak-rules.ts';
import type { LeakWitness } from './verdict-types.ts';

/** What the room's log says of time; null: not logged. ISO 8601 UTC, the server's clock. */
export interface VerdictClock {
  readonly releasedAt: string | null;
  /** Release, recapture, dilatation, second valve, snare: whatever may have changed the leak. */
  readonly lastManoeuvreAt: string | null;
  readonly nowAt: string;
}

/**
 * The witness with its right to speak judged: void unless its interval is one, method, time after release, rate and loading
 * are known, and it is not older than the last manoeuvre. Each lack is named with what to do.
 * Fails    never
 * Source   job.md, "Three-witness verdict"
 */
export function judgeWitness(witness: LeakWitness, clock: VerdictClock): LeakWitness {
  const atMs = readInstantMs(witness.at);
  const releasedMs = clock.releasedAt === null ? Number.NaN : readInstantMs(clock.releasedAt);
  const lacks = [...findMissing(witness), ...findBadTimes(witness, clock, atMs, releasedMs)];
  const minutes = (atMs - releasedMs) / 60_000;
  return {
    ...witness,
    isValid: witness.isValid && witness.interval !== null && lacks.length === 0,
    minutesAfterRelease: Number.isFinite(minutes) ? minutes : null,
    reasons: [...witness.reasons, ...lacks.filter((l) => !witness.reasons.some((r) => r.code === l.code))],
  };
}

function findMissing({ interval, method, heartRatePerMin: rate, loadingNote, reasons, isValid }: LeakWitness): readonly Reason[] {
  const lacks: Reason[] = [];
  if (interval !== null && !(interval[0] >= LEAK_SCALE.least && interval[0] <= interval[1] && interval[1] <= LEAK_SCALE.most)) {
    lacks.push(makeReason('witness-interval', formatText(VERDICT_EN, 'badInterval', { low: interval[0], high: interval[1] }), VERDICT_EN.badIntervalNext));
  }
  if (interval === null && reasons.length === 0 && isValid) lacks.push(makeReason('witness-silent', VERDICT_EN.silent, VERDICT_EN.silentNext));
  if (method.trim() === '') lacks.push(makeReason('witness-without-method', VERDICT_EN.noMethod, VERDICT_EN.noMethodNext));
  if (!(rate !== null && rate > 0 && rate < 400)) lacks.push(makeReason('witness-without-rate', VERDICT_EN.noRate, VERDICT_EN.noRateNext));
  if (loadingNote === null || loadingNote.trim() === '') lacks.push(makeReason('witness-without-loading', VERDICT_EN.noLoading, VERDICT_EN.noLoadingNext));
  return lacks;
}

function findBadTimes(witness: LeakWitness, clock: VerdictClock, atMs: number, releasedMs: number): readonly Reason[] {
  if (Number.isNaN(atMs)) return [makeReason('witness-without-time', VERDICT_EN.noTime, VERDICT_EN.noTimeNext)];
  if (atMs > readInstantMs(clock.nowAt)) return [makeReason('witness-in-future', VERDICT_EN.inFuture, VERDICT_EN.inFutureNext)];
  if (Number.isNaN(releasedMs)) return [makeReason('witness-without-release', VERDICT_EN.noRelease, VERDICT_EN.noReleaseNext)];
  if (atMs < releasedMs) {
    return [makeReason('witness-before-release', formatText(VERDICT_EN, 'beforeRelease', { minutes: showNumber((releasedMs - atMs) / 60_000) }), VERDICT_EN.beforeReleaseNext)];
  }
  // Of the same instant nobody knows which came first.
  if (clock.lastManoeuvreAt !== null && !(atMs > readInstantMs(clock.lastManoeuvreAt)) && clock.lastManoeuvreAt !== clock.releasedAt) {
    return [makeReason('witness-before-manoeuvre', VERDICT_EN.beforeManoeuvre, VERDICT_EN.beforeManoeuvreNext)];
  }
  return [];
}
