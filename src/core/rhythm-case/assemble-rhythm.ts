import type { CaseState } from '../case/fold-case.ts';
import type { ResultFieldId } from '../verdict/result-fields.ts';
import { formatText } from '../text/catalogue.ts';
import { RHYTHM_EN } from '../text/rhythm-en.ts';
import { RHYTHM_WATCH_EN } from '../text/rhythm-watch-en.ts';
import { makeFact, type Fact, type FactStamp, type Reason } from '../units/fact.ts';
import { readInstantMs } from '../units/iso-time.ts';
import type { RoomState } from '../room/room-state.ts';
import type { EcgReading } from '../rhythm/ecg-types.ts';
import { findNextEcg } from '../rhythm/find-next-ecg.ts';
import { formatPlain } from '../rhythm/format-rhythm-number.ts';
import { joinEcg, type EcgColumn, type JoinedValue } from './join-ecg.ts';
import { subtractBands } from '../rhythm/judge-condition.ts';
import { judgeRhythm } from '../rhythm/judge-rhythm.ts';
import { readRhythmContext, type ContextSources } from './read-rhythm-context.ts';
import { ECG_MOMENTS, type EcgMoment, type EcgRhythm, type NextEcg, type RhythmAnswer, type RhythmContext, type RhythmRules } from '../rhythm/rhythm-types.ts';
import { watchRhythm, type RhythmWatch, type WatchEntries } from '../rhythm/watch-rhythm.ts';

export interface RhythmSources {
  readonly state: Pick<CaseState, 'result' | 'referral' | 'training'>;
  /** Measured reading of each joined record that could be read back. */
  readonly readings: Readonly<Partial<Record<EcgMoment, EcgReading>>>;
  readonly plan: ContextSources['plan'];
  readonly chosen: ContextSources['chosen'];
  readonly room: Pick<RoomState, 'releasedAt' | 'depth' | 'dilated'> | null;
  /** null: none was chosen, and none acts. */
  readonly rules: RhythmRules | null;
  /** ISO 8601 UTC. */
  readonly now: string;
}
/** Against the baseline, with the band of both; null where one of them is not there or does not count. */
export interface EcgRise {
  readonly prMs: Fact | null;
  readonly qrsMs: Fact | null;
  readonly ratePerMin: Fact | null;
}
/** Everything the Rhythm page says. */
export interface RhythmCase {
  readonly answer: RhythmAnswer;
  readonly next: NextEcg;
  /** One for each moment, in their order. */
  readonly ecgs: readonly (EcgColumn & { readonly rise: EcgRise | null })[];
  readonly context: RhythmContext;
  readonly watch: RhythmWatch;
  readonly releasedAt: string | null;
  /** Beyond those of answer and watch. */
  readonly reasons: readonly Reason[];
}

/** An interval of the referral is quoted from another ECG; two readers of one ECG come this close [P]. */
const REFERRAL_MS = 20;

/**
 * Rhythm of a case: entered words and measured records of each moment, facts of plan and room, and the signed rules.
 * Fails     never; what is missing or contradicts itself is named
 * Source    docs/methods/rhythm.md
 */
export function assembleRhythm({ state, readings, plan, chosen, room, rules, now }: RhythmSources): RhythmCase {
  const { ecgs, entries } = state.result;
  const releasedAt = room?.releasedAt ?? null;
  const shared = listShared(state, readings);
  const columns = ECG_MOMENTS.map((moment) => joinEcg(moment, ecgs[moment] ?? null, readings[moment] ?? null, shared.some((s) => s.includes(moment))));
  const stamp: FactStamp = { by: 'trinadir', at: now };
  const context = readRhythmContext({ plan, chosen, room, entries }, stamp);
  const acting = rules?.training && !state.training ? null : rules;
  const known = columns.flatMap((c) => (c.entry ? [c.entry] : []));
  const answer = judgeRhythm(known, acting, context, releasedAt === null ? {} : { releasedAt });
  const reasons: Reason[] = [
    ...(rules && !acting ? [{ code: 'rhythm-rules-training', text: RHYTHM_WATCH_EN.rulesTraining, next: RHYTHM_WATCH_EN.rulesTrainingNext }] : []),
    ...shared.map((moments) => ({ code: 'ecg-same-record', text: formatText(RHYTHM_WATCH_EN, 'sameRecord', { moments: moments.map((m) => RHYTHM_EN[`moment-${m}`]).join(', ') }), next: RHYTHM_WATCH_EN.sameRecordNext })),
    ...columns.flatMap((c) => c.reasons),
    ...compareReferral(state, columns[0]!),
    ...checkTimes(columns, acting, releasedAt, now),
  ];
  return {
    answer, next: findNextEcg(known, acting, releasedAt, now, answer), context, releasedAt, reasons,
    ecgs: columns.map((c) => ({ ...c, rise: c.moment === 'baseline' ? null : measureRise(columns[0]!, c, stamp) })),
    watch: watchRhythm(readWatch(entries), answer, releasedAt, now),
  };
}

/** Moments at which one record stands: the same file, or the same beats in another one. */
function listShared({ result }: RhythmSources['state'], readings: RhythmSources['readings']): readonly (readonly EcgMoment[])[] {
  const groups = new Map<string, EcgMoment[]>();
  const there = ECG_MOMENTS.filter((m) => result.ecgs[m]?.joined);
  const keyOf = (moment: EcgMoment): string => {
    const beats = readings[moment]?.beatsS ?? [];
    // A few beats may lie alike by chance; eight to the sample do not.
    return beats.length >= 8 ? beats.map((b) => b.toFixed(4)).join(' ') : result.ecgs[moment]!.joined!.blobSha256;
  };
  for (const moment of there) groups.set(keyOf(moment), [...(groups.get(keyOf(moment)) ?? []), moment]);
  return [...groups.values()].filter((moments) => moments.length > 1);
}

/** A baseline that stands in the referral is shown, never taken: it has no time. */
function compareReferral({ referral }: RhythmSources['state'], baseline: EcgColumn): readonly Reason[] {
  const found: Reason[] = [];
  const held: string[] = [];
  for (const [field, value, name] of [['heart.prMs', baseline.pr.used, RHYTHM_EN['name-pr']], ['heart.qrsMs', baseline.qrs.used, RHYTHM_EN['name-qrs']]] as const) {
    const quoted = referral[field]?.value;
    if (typeof quoted !== 'number') continue;
    if (baseline.entry === null) held.push(`${name} ${formatPlain(quoted)} ms`);
    else if (value?.value != null && Math.abs(value.value - quoted) > REFERRAL_MS) {
      found.push({ code: 'ecg-referral-differs', text: formatText(RHYTHM_WATCH_EN, 'referralDiffers', { name, referral: formatPlain(quoted), entered: formatPlain(Math.round(value.value)) }), next: RHYTHM_WATCH_EN.referralDiffersNext });
    }
  }
  if (held.length > 0) found.push({ code: 'ecg-referral-holds', text: formatText(RHYTHM_WATCH_EN, 'referralHolds', { what: held.join(', ') }), next: RHYTHM_WATCH_EN.referralHoldsNext });
  if (referral['heart.hasPacemaker']?.value === true) found.push({ code: 'pacemaker-there', text: RHYTHM_WATCH_EN.pacemakerThere, next: RHYTHM_WATCH_EN.pacemakerThereNext });
  return found;
}

/** An ECG that lies ahead of now, or outside the hours that the signed schedule has for its moment. It counts all the same. */
function checkTimes(columns: readonly EcgColumn[], rules: RhythmRules | null, releasedAt: string | null, now: string): readonly Reason[] {
  const [released, nowMs] = [releasedAt === null ? Number.NaN : readInstantMs(releasedAt), readInstantMs(now)];
  return columns.flatMap(({ moment, at }): Reason[] => {
    const name = RHYTHM_EN[`moment-${moment}`];
    const atMs = at === null ? Number.NaN : readInstantMs(at);
    if (atMs > nowMs) return [{ code: 'ecg-ahead', text: formatText(RHYTHM_WATCH_EN, 'ecgAhead', { moment: name }), next: RHYTHM_WATCH_EN.ecgAheadNext }];
    const due = rules?.schedule.find((d) => d.moment === moment);
    const hours = (atMs - released) / 3_600_000;
    if (!due || !(hours >= 0) || (hours >= due.earliestH && hours <= due.latestH)) return [];
    return [{ code: 'ecg-off-schedule', text: formatText(RHYTHM_WATCH_EN, 'offSchedule', { moment: name, hours: formatPlain(Math.round(10 * hours) / 10), earliest: due.earliestH, latest: due.latestH }), next: RHYTHM_WATCH_EN.offScheduleNext }];
  });
}

const hasOwnQrs = (rhythm: EcgRhythm | null | undefined): boolean => rhythm !== 'paced-ventricle';
const hasOwnPr = (rhythm: EcgRhythm | null | undefined): boolean => hasOwnQrs(rhythm) && rhythm !== 'paced-atrium' && rhythm !== 'atrial-fibrillation';

function measureRise(was: EcgColumn, is: EcgColumn, stamp: FactStamp): EcgRise {
  const rhythms = [was.entry?.rhythm, is.entry?.rhythm];
  return {
    prMs: rhythms.every(hasOwnPr) ? subtract(was.pr, is.pr, stamp) : null,
    qrsMs: rhythms.every(hasOwnQrs) ? subtract(was.qrs, is.qrs, stamp) : null,
    ratePerMin: subtract(was.rate, is.rate, stamp),
  };
}
function subtract({ used: was }: JoinedValue, { used: is }: JoinedValue, stamp: FactStamp): Fact | null {
  if (was?.value == null || is?.value == null) return null;
  const { value, low, high } = subtractBands({ value: is.value, low: is.low!, high: is.high! }, { value: was.value, low: was.low!, high: was.high! });
  return makeFact(value, low, high, is.unit, 'rhythm.rise/1', [], stamp);
}

function readWatch(entries: RhythmSources['state']['result']['entries']): WatchEntries {
  const read = <T extends string>(field: ResultFieldId & `watch.${string}`): { readonly value: T; readonly by: string; readonly at: string } | null => {
    const entry = entries[field];
    return entry === undefined ? null : { value: String(entry.value) as T, by: entry.by, at: entry.at };
  };
  return {
    wire: read('watch.wire'), monitor: read('watch.monitor'), recorder: read('watch.recorder'), dischargedOn: read('watch.dischargedOn'),
    reviewOn: read('watch.reviewOn'), monitorResult: read('watch.monitorResult'),
  };
}
