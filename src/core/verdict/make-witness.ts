import type { RuleSet } from '../device/device-types.ts';
import type { PressureAnswer, PressureQualityCode } from '../haemodynamics/pressure-types.ts';
import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import type { Fact, Reason } from '../units/fact.ts';
import { readLeakMeasure, type LeakMeasure } from './leak-measures.ts';
import { makeReason, showBeside, showNumber } from './make-reason.ts';
import { citeRule, findVerdictRule, LEAK_SCALE, placeAgainst, readLeakCuts, unitWord, type LeakCut } from './read-leak-rules.ts';
import { readLeak, type LeakReading, type RatePlace } from './read-leak.ts';
import type { LeakInterval, LeakWitness, WitnessKind } from './verdict-types.ts';

/** What a person says beside the number: who, when, at which rate, in which loading. */
export interface WitnessCircumstance {
  readonly by: string;
  readonly at: string;
  readonly heartRatePerMin: number | null;
  readonly loadingNote: string | null;
  /** What it was read from: hashes or names of answers. */
  readonly from: readonly string[];
}

/** What spoils pressures as a whole: the line's shape or the channels, not the patient (checks HD-18 to HD-21). */
const SPOILED_CODES: readonly PressureQualityCode[] = [
  'line-damped', 'line-rings', 'channels-swapped', 'channels-alike', 'channel-unlike-its-name', 'unit-looks-kpa', 'pressure-not-possible', 'pressure-flat',
];
const SPOILED: ReadonlySet<string> = new Set(SPOILED_CODES);

/**
 * The pressures as a witness. Indices act by the signed rules; at a rate outside the signed ones the unadjusted ones lose the
 * half of their speech that the rate spoils. A damped or ringing line, exchanged channels, pacing fast and a rhythm that cannot
 * be told are no witness at all: the numbers are distorted in ways that no interval holds (HD-21, job.md D45).
 *
 * Units     of LEAK_MEASURES; grade 0 to 4 out
 * Refuses   line-slow (a natural frequency below the signed one, HD-20), line-damped and the like (from the pressure answer), pressures-paced, pressures-rhythm, no-leak-rule,
 *           witness-contradicts-itself; then `interval` is null and `isValid` false
 * Source    docs/methods/verdict.md
 */
export function makePressureWitness(answer: PressureAnswer, who: Omit<WitnessCircumstance, 'heartRatePerMin'>, rules: RuleSet | null): LeakWitness {
  const { leak, rhythm } = answer;
  const measures = [
    readLeakMeasure('ar-index', leak.arIndex), readLeakMeasure('diastolic-delta', leak.diastolicDeltaMmHg),
    readLeakMeasure('rate-adjusted-delta', leak.hrAdjustedMmHg), readLeakMeasure('pressure-time', leak.dptAdjusted),
    // Without a baseline there is no ratio; that is no doubt about the others.
    ...(leak.arIndexRatio.value === null ? [] : [readLeakMeasure('ar-index-ratio', leak.arIndexRatio)]),
  ];
  const spoiled = answer.quality.filter((q) => SPOILED.has(q.code) && q.channel !== 'ecg' && q.weight !== 'tell');
  const bare = ({ code, text, next }: Reason): Reason => ({ code, text, next });
  const doubts = answer.quality.filter((q) => !spoiled.includes(q) && q.weight === 'doubt' && q.channel !== 'ecg').map(bare);
  const voids = spoiled.map(bare);
  if (rhythm.word === 'paced fast') voids.push(makeReason('pressures-paced', VERDICT_EN.paced, VERDICT_EN.pacedNext));
  if (rhythm.word === 'cannot say') voids.push(makeReason('pressures-rhythm', VERDICT_EN.rhythmUnknown, VERDICT_EN.rhythmUnknownNext));
  if (rhythm.word === 'irregular' || rhythm.word === 'premature beats') {
    doubts.push(makeReason('pressures-irregular', VERDICT_EN.irregular, VERDICT_EN.irregularNext));
  }
  const line = judgeLine(answer, rules);
  if (line) (line.place === 'below' ? voids : doubts).push(line.reason);
  const rate = placeRate(rhythm.ratePerMin, rules);
  const rateReason = describeRate(rate, rhythm.ratePerMin, rules);
  const reading = readLeak(measures, readLeakCuts(rules), rate);
  const reasons = [...voids, ...(rateReason ? [rateReason] : []), ...doubts, ...reading.reasons];
  return finish('pressure', reading, measures, { ...who, heartRatePerMin: rhythm.ratePerMin.value }, voids.length > 0, reasons);
}

/**
 * The measured density ratio of an angiogram as a witness (checks AN-02 to AN-04). A ratio that was refused is no witness, never 0.
 * Refuses   the reasons of the fact, no-leak-rule
 */
export function makeAngiogramWitness(ratio: Fact, who: WitnessCircumstance, rules: RuleSet | null): LeakWitness {
  return makeMeasuredWitness('angiogram', [readLeakMeasure('density-ratio', ratio)], who, rules);
}

/** Numbers of one kind as a witness by the signed rules; echo by circumference, volume, fraction, orifice and the like (EC-12 to EC-17). */
export function makeMeasuredWitness(kind: WitnessKind, measures: readonly LeakMeasure[], who: WitnessCircumstance, rules: RuleSet | null): LeakWitness {
  const reading = readLeak(measures, readLeakCuts(rules));
  return finish(kind, reading, measures, who, false, reading.reasons);
}

/**
 * The visual grade of an aortogram, 0 to 4 (checks AN-01), widened by the signed spread between readers. It stays apart from the
 * density ratio and never becomes a number of it.
 * Refuses   aortography-grade, aortography-spread-missing
 */
export function makeAortographyWitness(grade: number, who: WitnessCircumstance, rules: RuleSet | null): LeakWitness {
  const spread = findVerdictRule(rules, 'leak-aortography-spread');
  const isGrade = Number.isInteger(grade) && grade >= LEAK_SCALE.least && grade <= LEAK_SCALE.most;
  const reasons = [
    ...(isGrade ? [] : [makeReason('aortography-grade', VERDICT_EN.badAortography, VERDICT_EN.badAortographyNext)]),
    ...(spread ? [] : [makeReason('aortography-spread-missing', VERDICT_EN.noSpread, VERDICT_EN.noSpreadNext)]),
  ];
  const interval: LeakInterval | null = isGrade && spread && spread.value >= 0 ? [Math.max(LEAK_SCALE.least, grade - spread.value), Math.min(LEAK_SCALE.most, grade + spread.value)] : null;
  const method = interval === null ? '' : formatText(VERDICT_EN, 'byEye', { grade, spread: showNumber(spread!.value), source: citeRule(spread!) });
  return { kind: 'angiogram', interval, isValid: interval !== null, isByEye: true, isUnverified: spread?.status === 'M', method, ...place(who), reasons };
}

/** Classes of the five-class scale in words, and the two between; a reader who wavers gives two. */
export const GRADE_WORDS = {
  none: 0, mild: 1, 'mild to moderate': 1.5, moderate: 2, 'moderate to severe': 3, severe: 4,
} as const;
export type GradeWord = keyof typeof GRADE_WORDS;

/**
 * A grade that a person, or the grading of the echo part, gives in words: from one class to another.
 * Refuses   grade-order: the second class lies below the first
 */
export function makeGradedWitness(kind: WitnessKind, from: GradeWord, to: GradeWord, method: string, who: WitnessCircumstance): LeakWitness {
  const interval: LeakInterval = [GRADE_WORDS[from], GRADE_WORDS[to]];
  const isOrdered = interval[0] <= interval[1];
  const reasons = isOrdered ? [] : [makeReason('grade-order', VERDICT_EN.gradeOrder, VERDICT_EN.gradeOrderNext)];
  return { kind, interval: isOrdered ? interval : null, isValid: isOrdered, isByEye: true, method, ...place(who), reasons };
}

const place = (who: WitnessCircumstance): Pick<LeakWitness, 'from' | 'by' | 'at' | 'minutesAfterRelease' | 'heartRatePerMin' | 'loadingNote'> => ({
  from: who.from, by: who.by, at: who.at, minutesAfterRelease: null, heartRatePerMin: who.heartRatePerMin, loadingNote: who.loadingNote,
});

function finish(kind: WitnessKind, reading: LeakReading, measures: readonly LeakMeasure[], who: WitnessCircumstance, isVoid: boolean, reasons: readonly Reason[]): LeakWitness {
  const hasNone = reading.interval === null && !reading.reasons.some((r) => r.code === 'witness-contradicts-itself');
  const isMeasured = measures.some((m) => m.value !== null);
  const silent = hasNone && isMeasured && !isVoid ? [makeReason('no-leak-rule', reading.open.length > 0 ? VERDICT_EN.rulesOpen : VERDICT_EN.noRule, VERDICT_EN.noRuleNext)] : [];
  return {
    kind, interval: isVoid ? null : reading.interval, isValid: !isVoid && reading.interval !== null, isUnverified: reading.acted.some((cut) => cut.rule.status === 'M'),
    method: describeMethod(reading, measures), ...place(who), reasons: dropTwice([...reasons, ...silent]),
  };
}

/** The rules that acted, of each number the tightest of each bound, with source; then those that could not. */
function describeMethod(reading: LeakReading, measures: readonly LeakMeasure[]): string {
  const say = (cut: LeakCut, key: 'acted' | 'open' | 'silenced'): string => {
    const measure = measures.find((m) => m.code === cut.measure && m.value !== null)!;
    return formatText(VERDICT_EN, key, {
      measure: VERDICT_EN[`measure-${cut.measure}`], value: showBeside(measure.value!, cut.rule.value), unit: unitWord(cut.rule.unit),
      side: VERDICT_EN[`side-${cut.side}`], limit: String(cut.rule.value), bound: VERDICT_EN[cut.bound === 'at least' ? 'atLeast' : 'atMost'],
      grade: showNumber(cut.grade), source: citeRule(cut.rule),
    });
  };
  return [...keepTightest(reading.acted).map((c) => say(c, 'acted')), ...reading.open.map((c) => say(c, 'open')), ...keepTightest(reading.silenced).map((c) => say(c, 'silenced'))].join(' ');
}

/** "At most 1" holds "at most 3" of the same number. */
function keepTightest(cuts: readonly LeakCut[]): readonly LeakCut[] {
  return cuts.filter((c, i) => !cuts.some((o, k) => o.measure === c.measure && o.bound === c.bound && (o.grade === c.grade ? k < i : (o.grade > c.grade) === (c.bound === 'at least'))));
}

function placeRate(rate: Fact, rules: RuleSet | null): RatePlace {
  const [low, high] = [findVerdictRule(rules, 'leak-rate-low'), findVerdictRule(rules, 'leak-rate-high')];
  if (low === null && high === null) return 'within';
  if (rate.value === null || rate.low === null || rate.high === null) return 'unknown';
  if (high !== null && placeAgainst(rate.low, rate.high, high.value, high.strict ? 'below' : 'above') !== 'below') return 'high';
  return low !== null && placeAgainst(rate.low, rate.high, low.value, low.strict ? 'above' : 'below') !== 'above' ? 'low' : 'within';
}

/** The aortic line's natural frequency against the signed least one; null: fast enough, not seen, or no rule. */
function judgeLine({ line }: PressureAnswer, rules: RuleSet | null): { readonly place: 'below' | 'open'; readonly reason: Reason } | null {
  const rule = findVerdictRule(rules, 'line-natural-least');
  const natural = line.find((l) => l.channel === 'aortic')?.naturalHz;
  if (rule === null || natural?.value == null || natural.low === null || natural.high === null) return null;
  const place = placeAgainst(natural.low, natural.high, rule.value, rule.strict ? 'above' : 'below');
  if (place === 'above') return null;
  return { place, reason: makeReason('line-slow', formatText(VERDICT_EN, 'lineSlow', { hz: showNumber(natural.value), limit: String(rule.value), source: citeRule(rule) }), VERDICT_EN.lineSlowNext) };
}

function describeRate(place: RatePlace, rate: Fact, rules: RuleSet | null): Reason | null {
  if (place === 'within') return null;
  if (place === 'unknown') return makeReason('rate-unknown', VERDICT_EN.rateUnknown, VERDICT_EN.rateUnknownNext);
  const [low, high] = [findVerdictRule(rules, 'leak-rate-low'), findVerdictRule(rules, 'leak-rate-high')];
  const limits = { rate: showNumber(rate.value!), low: low === null ? '-' : String(low.value), high: high === null ? '-' : String(high.value) };
  return place === 'high'
    ? makeReason('rate-high', formatText(VERDICT_EN, 'rateHigh', { ...limits, source: citeRule(high!) }), formatText(VERDICT_EN, 'rateNext', limits))
    : makeReason('rate-low', formatText(VERDICT_EN, 'rateLow', { ...limits, source: citeRule(low!) }), formatText(VERDICT_EN, 'rateNext', limits));
}

function dropTwice(reasons: readonly Reason[]): readonly Reason[] {
  return reasons.filter((r, i) => reasons.findIndex((o) => o.code === r.code && o.text === r.text) === i);
}
