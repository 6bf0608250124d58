import type { Rule, RuleSet } from '../device/device-types.ts';
import type { PressureAnswer } from '../haemodynamics/pressure-types.ts';
import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import type { Fact } from '../units/fact.ts';
import { showBeside, showNumber } from './make-reason.ts';
import { findVerdictRule, placeAgainst, unitWord, type VerdictRuleCode } from './read-leak-rules.ts';
import type { LeakVerdict } from './fuse-witnesses.ts';

/** Causes of a low diastolic pressure, in the one order in which they are always shown. */
export const DIASTOLE_CAUSES = ['leak', 'hypovolaemia', 'rate', 'vasoplegia', 'stiff-aorta', 'ventricle', 'line'] as const;
export type DiastoleCause = (typeof DIASTOLE_CAUSES)[number];
export interface DiastoleRow {
  readonly cause: DiastoleCause;
  readonly for: readonly string[];
  readonly against: readonly string[];
  readonly unknown: readonly string[];
  readonly weight: 'for' | 'both ways' | 'against' | 'cannot say';
  /** What would tell, in one line. */
  readonly next: string;
}
export interface LowDiastole {
  /** `low`: aortic diastolic pressure lies wholly below the signed limit; `may be low`: its band holds the limit. */
  readonly state: 'low' | 'may be low' | 'not low' | 'cannot say';
  /** The pressure beside its limit, and whether the limit is unverified; or what is missing. */
  readonly because: string;
  /** All causes, always; empty unless low or may be low. */
  readonly rows: readonly DiastoleRow[];
}
/** What a person in the room knows; null: nobody said. */
export interface DiastoleEntries {
  readonly isBleeding: boolean | null;
  readonly hasEffusion: boolean | null;
  readonly hasVasodilator: boolean | null;
  /** Pulse pressure before the valve went in. */
  readonly pulseBeforeMmHg: number | null;
}

/**
 * Why is the diastolic pressure low? The leak stands beside what looks like it: an empty circulation, the rate, wide vessels, a stiff
 * aorta, a stiff ventricle, the line. Each always, each with what speaks for it, against it, and what nobody knows. No score.
 *
 * Units    mmHg, /min
 * Fails    never; without the signed limits a fact speaks neither for nor against
 * Source   docs/methods/verdict.md
 */
export function explainLowDiastole(answer: PressureAnswer, verdict: LeakVerdict | null, entries: DiastoleEntries, rules: RuleSet | null): LowDiastole {
  const place = placeFact(answer.aortic.diastolic, 'diastolic-low', rules);
  const because = describePlace(answer, rules, 'diastolic', 'diastolic-low');
  if (place === 'unknown') return { state: 'cannot say', because, rows: [] };
  if (place === 'above') return { state: 'not low', because, rows: [] };
  const rows = DIASTOLE_CAUSES.map((cause): DiastoleRow => {
    const list = WEIGH[cause]({ answer, verdict, entries, rules });
    const found = { for: pick(list, 'for'), against: pick(list, 'against'), unknown: pick(list, 'unknown') };
    const weight = found.for.length > 0 ? (found.against.length > 0 ? 'both ways' : 'for') : found.against.length > 0 ? 'against' : 'cannot say';
    return { cause, ...found, weight, next: VERDICT_EN[`diastoleNext-${cause}`] };
  });
  return { state: place === 'below' ? 'low' : 'may be low', because, rows };
}

interface Known {
  readonly answer: PressureAnswer;
  readonly verdict: LeakVerdict | null;
  readonly entries: DiastoleEntries;
  readonly rules: RuleSet | null;
}
type Side = 'for' | 'against' | 'unknown';
type Said = readonly [side: Side, text: string] | null;
const pick = (list: readonly Said[], side: Side): readonly string[] => list.flatMap((s) => (s !== null && s[0] === side ? [s[1]] : []));

type FactKey = 'diastolic' | 'mean' | 'pulse' | 'filling' | 'notch' | 'rate';
const FACTS: Readonly<Record<FactKey, (answer: PressureAnswer) => Fact>> = {
  diastolic: (a) => a.aortic.diastolic, mean: (a) => a.aortic.mean, pulse: (a) => a.aortic.pulse, filling: (a) => a.ventricular.endDiastolic,
  notch: (a) => a.aortic.notchShare, rate: (a) => a.rhythm.ratePerMin,
};

/** One fact against one signed limit; `null` for a side says nothing there. A limit within the band, a refused fact or no rule: not known. */
function weigh({ answer, rules }: Known, key: FactKey, code: VerdictRuleCode, below: Side | null, above: Side | null): Said {
  const place = placeFact(FACTS[key](answer), code, rules);
  const side = place === 'unknown' || place === 'open' ? 'unknown' : place === 'below' ? below : above;
  return side === null ? null : [side, describePlace(answer, rules, key, code)];
}

/** The fact beside its limit, both with their unit; a limit of memory or common practice is said to be unverified. */
function describePlace(answer: PressureAnswer, rules: RuleSet | null, key: FactKey, code: VerdictRuleCode): string {
  const fact = FACTS[key](answer);
  const name = VERDICT_EN[`fact-${key}`];
  const rule = findVerdictRule(rules, code);
  const place = placeFact(fact, code, rules);
  if (rule === null || place === 'unknown') return formatText(VERDICT_EN, fact.value === null ? 'factMissing' : 'factNoRule', { name });
  const words = { name, value: `${showBeside(fact.value!, rule.value)}${unitWord(rule.unit)}`, limit: showLimit(rule) };
  if (place === 'open') return formatText(VERDICT_EN, 'factOpen', words);
  // The limit itself lies on one side: "not above" holds it, "below" does not.
  const side = isLimitBelow(code, rule) ? (place === 'below' ? 'not-above' : 'above') : place === 'below' ? 'below' : 'not-below';
  return formatText(VERDICT_EN, 'factPlaced', { ...words, side: VERDICT_EN[`side-${side}`] });
}

function showLimit(rule: Rule): string {
  const text = `${rule.value}${unitWord(rule.unit)}`;
  return rule.status === 'M' ? formatText(VERDICT_EN, 'unverified', { text }) : text;
}

function answerEntry(value: boolean | null, yes: string, no: string, unknown: string): Said {
  return value === null ? ['unknown', unknown] : value ? ['for', yes] : ['against', no];
}

/** What the other witnesses say of the leak, by their side of the decision line. */
function hearOthers({ verdict }: Known): readonly Said[] {
  const others = (verdict?.speaking ?? []).filter((w) => w.kind !== 'pressure');
  if (others.length === 0) return [['unknown', VERDICT_EN.othersSilent]];
  const line = verdict!.decisionLine?.value ?? null;
  return others.map((w): Said => {
    const [low, high] = w.interval!;
    const grades = low === high ? showNumber(low) : formatText(VERDICT_EN, 'fromTo', { low: showNumber(low), high: showNumber(high) });
    const text = formatText(VERDICT_EN, 'otherSays', { witness: VERDICT_EN[`kind-${w.kind}`], grades });
    return line === null ? ['unknown', text] : [w.interval![1] < line ? 'against' : w.interval![0] > line ? 'for' : 'unknown', text];
  });
}

const WEIGH: Readonly<Record<DiastoleCause, (known: Known) => readonly Said[]>> = {
  leak: (k) => [
    ...hearOthers(k), weigh(k, 'filling', 'filling-high', null, 'for'), weigh(k, 'filling', 'filling-low', 'against', null),
    weigh(k, 'pulse', 'pulse-wide', null, 'for'), weigh(k, 'pulse', 'pulse-narrow', 'against', null),
    weighNotch(k), weigh(k, 'notch', 'notch-kept', null, 'against'),
  ],
  hypovolaemia: (k) => [
    weigh(k, 'filling', 'filling-low', 'for', null), weigh(k, 'filling', 'filling-high', null, 'against'),
    weigh(k, 'pulse', 'pulse-narrow', 'for', null), weigh(k, 'pulse', 'pulse-wide', null, 'against'), weigh(k, 'rate', 'leak-rate-high', null, 'for'),
    answerEntry(k.entries.isBleeding, VERDICT_EN.bleeds, VERDICT_EN.bleedsNot, VERDICT_EN.bleedsUnknown),
    answerEntry(k.entries.hasEffusion, VERDICT_EN.effusion, VERDICT_EN.effusionNot, VERDICT_EN.effusionUnknown),
  ],
  rate: (k) => {
    const [fast, slow] = [weigh(k, 'rate', 'leak-rate-high', 'against', 'for'), weigh(k, 'rate', 'leak-rate-low', 'for', 'against')];
    // Within the signed rates both say no; outside them the one that is left speaks alone.
    return fast?.[0] === 'for' ? [fast] : slow?.[0] === 'for' ? [slow] : [fast, slow];
  },
  vasoplegia: (k) => [
    weigh(k, 'mean', 'mean-low', 'for', 'against'), weigh(k, 'filling', 'filling-high', null, 'against'),
    answerEntry(k.entries.hasVasodilator, VERDICT_EN.dilated, VERDICT_EN.dilatedNot, VERDICT_EN.dilatedUnknown),
  ],
  'stiff-aorta': (k) => [
    weigh(k, 'pulse', 'pulse-wide', 'against', 'for'), weigh(k, 'mean', 'mean-low', 'against', 'for'), weighBefore(k),
  ],
  ventricle: (k) => [weigh(k, 'filling', 'filling-high', 'against', 'for')],
  line: ({ answer }) => {
    const found = answer.quality.filter((q) => LINE_CODES.has(q.code));
    if (found.length > 0) return found.map((q): Said => ['for', q.text]);
    // Nobody knows how the line answers: then it is not clean, and not at fault either.
    const untested = answer.quality.find((q) => q.code === 'line-unknown' && q.channel !== 'ventricular');
    return [untested ? ['unknown', untested.text] : ['against', VERDICT_EN.lineClean]];
  },
};
const LINE_CODES: ReadonlySet<string> = new Set(['zero-doubtful', 'line-damped', 'line-rings', 'pressure-drifts', 'catheter-whips', 'pressure-clipped-low', 'unit-looks-kpa', 'channels-swapped']);

function weighBefore({ entries, rules }: Known): Said {
  const rule = findVerdictRule(rules, 'pulse-wide');
  const before = entries.pulseBeforeMmHg;
  if (rule === null || before === null || !Number.isFinite(before)) return ['unknown', VERDICT_EN.pulseBeforeUnknown];
  const isWide = rule.strict ? before > rule.value : before >= rule.value;
  return [isWide ? 'for' : 'against', formatText(VERDICT_EN, isWide ? 'pulseBeforeWide' : 'pulseBeforeNot', { value: `${showBeside(before, rule.value)}${unitWord(rule.unit)}`, limit: showLimit(rule) })];
}

/** A notch that the line cannot show is not lost (HD-20). */
function weighNotch(k: Known): Said {
  const rule = findVerdictRule(k.rules, 'line-natural-notch');
  const natural = k.answer.line.find((l) => l.channel === 'aortic')?.naturalHz;
  const isSlow = rule !== null && natural?.high != null && (rule.strict ? natural.high < rule.value : natural.high <= rule.value);
  return isSlow ? ['unknown', formatText(VERDICT_EN, 'notchNotShown', { limit: String(rule.value) })] : weigh(k, 'notch', 'notch-lost', 'for', null);
}

/** Rules that speak of what lies above them; the others of what lies below. A strict one does not hold at its limit. */
const ABOVE: ReadonlySet<string> = new Set(['pulse-wide', 'filling-high', 'leak-rate-high', 'notch-kept']);
function placeFact(fact: Fact, code: VerdictRuleCode, rules: RuleSet | null): 'below' | 'above' | 'open' | 'unknown' {
  const rule = findVerdictRule(rules, code);
  if (rule === null || fact.value === null || fact.low === null || fact.high === null) return 'unknown';
  return placeAgainst(fact.low, fact.high, rule.value, isLimitBelow(code, rule) ? 'below' : 'above');
}
const isLimitBelow = (code: VerdictRuleCode, rule: Rule): boolean => ABOVE.has(code) === rule.strict;
