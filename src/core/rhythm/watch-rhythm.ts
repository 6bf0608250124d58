import { formatText } from '../text/catalogue.ts';
import { RHYTHM_EN } from '../text/rhythm-en.ts';
import { RHYTHM_WATCH_EN } from '../text/rhythm-watch-en.ts';
import type { Reason } from '../units/fact.ts';
import { formatInstant, readInstantMs } from '../units/iso-time.ts';
import type { RhythmAnswer, RuleOutcome } from './rhythm-types.ts';

const DAY_MS = 86_400_000;
type Entered<T> = { readonly value: T; readonly by: string; readonly at: string } | null;
export interface WatchEntries {
  readonly wire: Entered<'in' | 'out' | 'never placed'>;
  readonly monitor: Entered<'telemetry' | 'ambulatory' | 'none'>;
  readonly recorder: Entered<string>;
  readonly dischargedOn: Entered<string>;
  readonly reviewOn: Entered<string>;
  readonly monitorResult: Entered<'no block' | 'block seen' | 'not readable'>;
}
/**
 * not discharged      nothing is missed yet
 * not watched for     no watch rule holds
 * result wanted       discharged, the day of the list still ahead
 * on the clinic list  discharged, that day is there, and no result that can be read
 * block seen, read    the monitor was read
 * CANNOT SAY          without rules, a clock or the time the days count from; still on the list once discharged
 */
export type LateBlockState = 'not discharged' | 'not watched for' | 'result wanted' | 'on the clinic list' | 'block seen' | 'read' | 'CANNOT SAY';
export interface LateBlock {
  readonly state: LateBlockState;
  /** A person must call or look (job.md, D48): also for a seen block, and where it cannot be said. */
  readonly isOnClinicList: boolean;
  /** First day of the list, YYYY-MM-DD in UTC as all days of a case; null: none, or not to be said. */
  readonly listFrom: string | null;
  readonly because: string;
  /** The watch rule behind it. */
  readonly outcome: RuleOutcome | null;
}
export interface MonitorSpan {
  readonly outcome: RuleOutcome;
  /** Last day; null: the day it counts from is not known. */
  readonly until: string | null;
  readonly isOver: boolean;
}
export interface RhythmWatch extends WatchEntries {
  /** What the rules that hold say of the wire; `both`: they contradict one another, and a physician decides. */
  readonly wireRule: 'out' | 'keep' | 'both' | 'not known' | 'nothing';
  readonly wireOutcomes: readonly RuleOutcome[];
  /** Steps that hold and ask for a monitor for some days. */
  readonly monitoredFor: readonly MonitorSpan[];
  readonly lateBlock: LateBlock;
  readonly reasons: readonly Reason[];
}

/**
 * The watch after the ECGs: what the signed rules say of wire and monitor, and whether a late block might be missed at home
 * (job.md, D48, hazard 22). Days, and who is watched for, are rules; nothing here is a clinical limit.
 * Fails     never; what is missing is said, and a patient about whom it cannot be said is on the list, not off it
 * Source    docs/methods/rhythm.md
 */
export function watchRhythm(entries: WatchEntries, answer: RhythmAnswer, releasedAt: string | null, now: string): RhythmWatch {
  const today = Number.isNaN(readInstantMs(now)) ? null : now.slice(0, 10);
  const releasedOn = releasedAt === null || Number.isNaN(readInstantMs(releasedAt)) ? null : releasedAt.slice(0, 10);
  const { dischargedOn, wire } = entries;
  const isHome = dischargedOn !== null && (today === null || dischargedOn.value <= today);
  const countFrom = (from: 'release' | 'discharge'): string | null => (from === 'release' ? releasedOn : (dischargedOn?.value ?? null));

  const ofWire = answer.steps.filter((s) => s.rule.wire !== undefined);
  const says = (word: 'out' | 'keep'): boolean => ofWire.some((s) => s.truth === 'yes' && s.rule.wire === word);
  const wireRule = says('out') && says('keep') ? 'both' : says('keep') ? 'keep' : ofWire.some((s) => s.truth === 'unknown') ? 'not known' : says('out') ? 'out' : 'nothing';
  const monitoredFor = answer.steps.filter((s) => s.truth === 'yes' && s.rule.days !== undefined).map((outcome): MonitorSpan => {
    const from = countFrom(outcome.rule.days!.from);
    const until = from === null ? null : addDays(from, outcome.rule.days!.count);
    return { outcome, until, isOver: until !== null && today !== null && until < today };
  });
  const late = answer.watches.map((outcome) => judgeLate(outcome, entries, isHome, countFrom(outcome.rule.days?.from ?? 'discharge'), today));
  const lateBlock = late.sort((a, b) => URGENCY.indexOf(a.state) - URGENCY.indexOf(b.state))[0] ?? {
    state: 'CANNOT SAY', isOnClinicList: isHome, listFrom: null, because: answer.ruleSet && !answer.reasons.some((r) => r.code === 'rhythm-rules-unsigned') ? RHYTHM_WATCH_EN.lateNoRule : RHYTHM_EN.rulesMissing, outcome: null,
  };

  const reasons: Reason[] = [];
  const tell = (isSo: boolean, code: string, text: string, next: string): void => {
    if (isSo) reasons.push({ code, text, next });
  };
  const day = dischargedOn?.value ?? '';
  tell(dischargedOn !== null && releasedOn !== null && day < releasedOn, 'watch-discharge-early', formatText(RHYTHM_WATCH_EN, 'dischargeEarly', { day }), RHYTHM_WATCH_EN.dischargeEarlyNext);
  tell(dischargedOn !== null && !isHome, 'watch-discharge-ahead', formatText(RHYTHM_WATCH_EN, 'dischargeAhead', { day }), RHYTHM_WATCH_EN.dischargeAheadNext);
  const review = entries.reviewOn?.value ?? null;
  tell(review !== null && dischargedOn !== null && review < day, 'watch-review-early', formatText(RHYTHM_WATCH_EN, 'reviewEarly', { day: review ?? '' }), RHYTHM_WATCH_EN.reviewEarlyNext);
  tell(review === null && isHome, 'watch-review-missing', RHYTHM_WATCH_EN.reviewMissing, RHYTHM_WATCH_EN.reviewMissingNext);
  tell(isHome && wire?.value === 'in', 'watch-wire-home', RHYTHM_WATCH_EN.wireHome, RHYTHM_WATCH_EN.wireHomeNext);
  const kept = ofWire.find((s) => s.truth === 'yes' && s.rule.wire === 'keep');
  tell(wire?.value === 'out' && kept !== undefined, 'watch-wire-kept', formatText(RHYTHM_WATCH_EN, 'wireKept', { code: kept?.rule.code ?? '' }), RHYTHM_WATCH_EN.wireNext);
  tell(wire?.value === 'out' && kept === undefined && answer.word === 'CANNOT SAY', 'watch-wire-unanswered', RHYTHM_WATCH_EN.wireUnanswered, RHYTHM_WATCH_EN.wireNext);
  const running = monitoredFor.find((m) => !m.isOver);
  tell(entries.monitor?.value === 'none' && running !== undefined, 'watch-monitor-none', formatText(RHYTHM_WATCH_EN, 'monitorNone', { code: running?.outcome.rule.code ?? '' }), RHYTHM_WATCH_EN.monitorNoneNext);
  tell(entries.monitor === null && isHome, 'watch-monitor-open', RHYTHM_WATCH_EN.monitorOpen, RHYTHM_WATCH_EN.monitorOpenNext);
  tell(entries.monitor?.value === 'ambulatory' && entries.recorder === null, 'watch-recorder-missing', RHYTHM_WATCH_EN.recorderMissing, RHYTHM_WATCH_EN.recorderMissingNext);
  tell(entries.monitorResult !== null && (entries.monitor === null || entries.monitor.value === 'none'), 'watch-result-without-monitor', RHYTHM_WATCH_EN.resultWithoutMonitor, RHYTHM_WATCH_EN.resultWithoutMonitorNext);
  return { ...entries, wireRule, wireOutcomes: ofWire.filter((s) => s.truth === 'yes' || s.truth === 'unknown'), monitoredFor, lateBlock, reasons };
}

/** Most urgent first, where more than one rule watches. */
const URGENCY: readonly LateBlockState[] = ['block seen', 'on the clinic list', 'CANNOT SAY', 'result wanted', 'not discharged', 'read', 'not watched for'];

function judgeLate(outcome: RuleOutcome, { monitorResult }: WatchEntries, isHome: boolean, from: string | null, today: string | null): LateBlock {
  const say = (state: LateBlockState, because: string, listFrom: string | null = null): LateBlock => (
    { state, because, listFrom, outcome, isOnClinicList: isHome && (state === 'on the clinic list' || state === 'block seen' || state === 'CANNOT SAY') });
  if (monitorResult?.value === 'block seen') return { ...say('block seen', RHYTHM_WATCH_EN.lateSeen), isOnClinicList: true };
  if (outcome.truth === 'no' || outcome.truth === 'void') return say('not watched for', RHYTHM_WATCH_EN.lateNone);
  const doubt = outcome.truth === 'unknown' ? `${formatText(RHYTHM_WATCH_EN, 'lateUnknown', { text: outcome.legs[0]?.text ?? '' })} ` : '';
  if (!isHome) return say('not discharged', `${doubt}${RHYTHM_WATCH_EN.lateNotHome}`);
  if (monitorResult?.value === 'no block') return say('read', RHYTHM_WATCH_EN.lateRead);
  const listFrom = from === null || outcome.rule.days === undefined ? null : addDays(from, outcome.rule.days.count);
  if (listFrom === null || today === null) return say('CANNOT SAY', `${doubt}${today === null ? RHYTHM_EN.clockBroken : RHYTHM_WATCH_EN.lateNoDay}`);
  if (today < listFrom) return say('result wanted', `${doubt}${formatText(RHYTHM_WATCH_EN, 'lateDue', { day: listFrom })}`, listFrom);
  return say('on the clinic list', `${doubt}${formatText(RHYTHM_WATCH_EN, monitorResult ? 'lateListUnread' : 'lateList', { day: listFrom })}`, listFrom);
}

/** `day` YYYY-MM-DD; null for no day of the calendar. */
function addDays(day: string, count: number): string | null {
  return formatInstant(readInstantMs(`${day}T00:00:00Z`) + count * DAY_MS)?.slice(0, 10) ?? null;
}
