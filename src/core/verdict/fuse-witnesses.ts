import type { Rule } from '../device/device-types.ts';
import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import type { Reason } from '../units/fact.ts';
import { readInstantMs } from '../units/iso-time.ts';
import { makeReason, showNumber } from './make-reason.ts';
import { citeRule } from './read-leak-rules.ts';
import { WITNESS_KINDS, type LeakInterval, type LeakWitness, type VerdictWord, type WitnessKind } from './verdict-types.ts';

export interface LeakVerdict {
  readonly word: VerdictWord;
  /** Of AGREE: where the common interval lies against the decision line. */
  readonly side: 'below' | 'above' | null;
  /** Common to all that may speak; null when there is none. */
  readonly common: LeakInterval | null;
  readonly decisionLine: Rule | null;
  /** One per kind that may speak, in the fixed order. */
  readonly speaking: readonly LeakWitness[];
  /** Void or silent, with their reasons. */
  readonly silent: readonly LeakWitness[];
  readonly missing: readonly WitnessKind[];
  /** Pairs that exclude one another. */
  readonly disjoint: readonly (readonly [WitnessKind, WitnessKind])[];
  readonly reasons: readonly Reason[];
}

/**
 * The three witnesses as one word, by interval logic alone (job.md, D44). Precedence: none may speak: CANNOT SAY; one: ONE
 * WITNESS ONLY; any two disjoint: DISAGREE; the common interval touches or crosses the decision line: NOT SETTLED; else AGREE.
 * Nothing is averaged and nobody is outvoted. Witnesses come judged (judge-witness.ts).
 *
 * Several of one kind are one witness: the newest of each reader counts, and the readers' hull speaks, so that two
 * echocardiographers are not two witnesses.
 * `apart`: from how many minutes on readings are said to be of different moments.
 * Refuses   decision-line-missing: without a signed line nothing is settled
 * Source    docs/methods/verdict.md
 */
export function fuseWitnesses(witnesses: readonly LeakWitness[], decisionLine: Rule | null, apart: Rule | null = null): LeakVerdict {
  const speaking: LeakWitness[] = [];
  const counted: LeakWitness[] = [];
  const reasons: Reason[] = [];
  for (const kind of WITNESS_KINDS) {
    const newest = listNewest(witnesses.filter((w) => w.kind === kind && w.isValid && w.interval !== null));
    const one = joinReaders(newest, reasons);
    if (one === null) continue;
    speaking.push(one);
    counted.push(...newest);
    reasons.push(...nameUncounted(witnesses.filter((w) => w.kind === kind && !(w.isValid && w.interval !== null))));
  }
  if (apart !== null && counted.length > 1) {
    const minutes = counted.map((w) => readInstantMs(w.at) / 60_000);
    const spread = Math.max(...minutes) - Math.min(...minutes);
    if (apart.strict ? spread > apart.value : spread >= apart.value) {
      reasons.push(makeReason('witnesses-apart', formatText(VERDICT_EN, 'apart', { minutes: showNumber(spread), most: String(apart.value), source: citeRule(apart) }), VERDICT_EN.apartNext));
    }
  }
  const heard = new Set(speaking.map((w) => w.kind));
  const silent = witnesses.filter((w) => !heard.has(w.kind));
  const missing = WITNESS_KINDS.filter((k) => !witnesses.some((w) => w.kind === k));
  const disjoint = speaking.flatMap((a, i) => speaking.slice(i + 1).filter((b) => areDisjoint(a.interval!, b.interval!)).map((b) => [a.kind, b.kind] as const));
  const found = { decisionLine, speaking, silent, missing, disjoint };
  if (speaking.length === 0) return { ...found, word: 'CANNOT SAY', side: null, common: null, reasons };
  const common: LeakInterval = [Math.max(...speaking.map((w) => w.interval![0])), Math.min(...speaking.map((w) => w.interval![1]))];
  if (speaking.length === 1) return { ...found, word: 'ONE WITNESS ONLY', side: null, common, reasons };
  if (disjoint.length > 0) return { ...found, word: 'DISAGREE', side: null, common: null, reasons };
  if (decisionLine === null) {
    const unsigned = makeReason('decision-line-missing', VERDICT_EN.noLine, VERDICT_EN.noLineNext);
    return { ...found, word: 'NOT SETTLED', side: null, common, reasons: [...reasons, unsigned] };
  }
  const line = decisionLine.value;
  if (common[0] <= line && line <= common[1]) return { ...found, word: 'NOT SETTLED', side: null, common, reasons };
  return { ...found, word: 'AGREE', side: common[1] < line ? 'below' : 'above', common, reasons };
}

export const areDisjoint = (a: LeakInterval, b: LeakInterval): boolean => a[1] < b[0] || b[1] < a[0];

const atMs = (w: LeakWitness): number => readInstantMs(w.at);
const compareText = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

/** The newest of each reader, both where two are of one instant; oldest first. */
function listNewest(all: readonly LeakWitness[]): readonly LeakWitness[] {
  return all.filter((w) => !all.some((o) => o.by === w.by && atMs(o) > atMs(w))).sort((a, b) => atMs(a) - atMs(b) || compareText(a.by, b.by) || compareText(a.method, b.method));
}

const TOO_OLD: ReadonlySet<string> = new Set(['witness-before-release', 'witness-before-manoeuvre']);
/** A reading that may not speak while another of its kind does is named, unless it is merely of an earlier moment. */
function nameUncounted(voids: readonly LeakWitness[]): readonly Reason[] {
  return voids.filter((w) => !w.reasons.some((r) => TOO_OLD.has(r.code))).map((w) => makeReason('reading-not-counted', formatText(VERDICT_EN, 'notCounted', {
    witness: VERDICT_EN[`kind-${w.kind}`], by: w.by, text: w.reasons.map((r) => r.text).join(' ') || VERDICT_EN.silent,
  }), w.reasons[0]?.next ?? VERDICT_EN.silentNext));
}

/** Readers of one kind speak as their hull, named when they exclude one another. */
function joinReaders(newest: readonly LeakWitness[], reasons: Reason[]): LeakWitness | null {
  const last = newest.at(-1);
  if (!last) return null;
  if (newest.length === 1) return last;
  const [lows, highs] = [newest.map((w) => w.interval![0]), newest.map((w) => w.interval![1])];
  const hull: LeakInterval = [Math.min(...lows), Math.max(...highs)];
  if (Math.max(...lows) > Math.min(...highs)) {
    const says = { witness: VERDICT_EN[`kind-${last.kind}`], low: showNumber(hull[0]), high: showNumber(hull[1]) };
    reasons.push(makeReason('readers-differ', formatText(VERDICT_EN, 'readersDiffer', says), VERDICT_EN.readersDifferNext));
  }
  return {
    ...last, interval: hull, isUnverified: newest.some((w) => w.isUnverified === true), by: [...new Set(newest.map((w) => w.by))].join(', '), method: [...new Set(newest.map((w) => w.method))].join('; '),
    from: [...new Set(newest.flatMap((w) => w.from))], reasons: newest.flatMap((w) => w.reasons),
  };
}

/** The line in words: its value, its source, and "unverified" where it is. */
export function formatLine(line: Rule | null): string {
  return line === null ? VERDICT_EN.noLine : formatText(VERDICT_EN, 'line', { grade: showNumber(line.value), source: citeRule(line) });
}
