import type { Rule, RuleSet } from '../device/device-types.ts';
import { formatText } from '../text/catalogue.ts';
import { ECHO_EN } from '../text/echo-en.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import { makeReason, showNumber } from '../verdict/make-reason.ts';
import { GRADE_WORDS, makeMeasuredWitness, type WitnessCircumstance } from '../verdict/make-witness.ts';
import { citeRule, LEAK_SCALE } from '../verdict/read-leak-rules.ts';
import type { LeakInterval, LeakWitness } from '../verdict/verdict-types.ts';
import { ECHO_FIELDS, type EchoGroup } from './echo-fields.ts';
import { findEchoRule } from './echo-rules.ts';
import type { EchoAnswer, EchoCheck, EchoLeakCode } from './echo-types.ts';

/** A bound of severity that comes from a word, not from a number. */
interface WordBound {
  readonly name: string;
  readonly interval: LeakInterval;
  readonly method: string;
}

/**
 * The echo as a witness: its numbers by the signed leak rules, then the reversal in the descending aorta by its own rules (EC-14), then
 * the reader's own words. Each narrows the interval; where one excludes another the witness contradicts itself and says nothing.
 *
 * Units     grade 0 to 4
 * Refuses   as makeMeasuredWitness; witness-contradicts-itself; grade-order
 * Source    docs/methods/echo.md, docs/methods/verdict.md
 */
export function makeEchoWitness(answer: EchoAnswer, who: WitnessCircumstance, rules: RuleSet | null): LeakWitness {
  const base = makeMeasuredWitness('echo', answer.measures, { ...who, heartRatePerMin: who.heartRatePerMin ?? answer.flow.heartRate.value }, rules);
  const isContradicted = base.reasons.some((r) => r.code === 'witness-contradicts-itself');
  const words = [readReversal(answer, rules), readWords(answer)].flatMap((w) => (w === null ? [] : [w]));
  const told = listTold(answer).map(({ code, text, next }) => makeReason(code, text, next));
  const reasons = [...base.reasons.filter((r) => !told.some((t) => t.code === r.code && t.text === r.text)), ...told];
  if (isContradicted || words.length === 0) return { ...base, reasons };
  const numbers: readonly WordBound[] = base.interval === null ? [] : [{ name: ECHO_EN.numbers, interval: base.interval, method: base.method }];
  const all = [...numbers, ...words];
  const highest = all.reduce((a, b) => (b.interval[0] > a.interval[0] ? b : a));
  const lowest = all.reduce((a, b) => (b.interval[1] < a.interval[1] ? b : a));
  // The methods of the words follow what the numbers said, spoken or silent.
  const method = [base.method, ...words.map((w) => w.method)].filter((t) => t !== '').join(' ');
  if (highest.interval[0] > lowest.interval[1]) {
    const contradiction = makeReason('witness-contradicts-itself', formatText(ECHO_EN, 'contradicts', { first: highest.name, low: showNumber(highest.interval[0]), second: lowest.name, high: showNumber(lowest.interval[1]) }), ECHO_EN.contradictsNext);
    return { ...base, interval: null, isValid: false, method, reasons: [...reasons, contradiction] };
  }
  return { ...base, interval: [highest.interval[0], lowest.interval[1]], isValid: true, method, reasons: reasons.filter((r) => r.code !== 'no-leak-rule') };
}

const LEAK_GROUPS: ReadonlySet<EchoGroup> = new Set(['about', 'leak', 'isovelocity', 'jets', 'clock']);
/** Checks that concern the leak: of its own fields, or of fields that a leak number rests on. A wrong gradient is no doubt about it. */
function listTold({ checks, leak, measures }: EchoAnswer): readonly EchoCheck[] {
  const used = new Set(measures.flatMap((m) => leak[m.code as EchoLeakCode].source.from));
  return checks.filter((c) => c.weight !== 'tell' && (c.fields.length === 0 || c.fields.some((f) => LEAK_GROUPS.has(ECHO_FIELDS[f].group) || used.has(f))));
}

/** EC-14. Without its signed rule a reversal says nothing. */
function readReversal({ leak: { reversal } }: EchoAnswer, rules: RuleSet | null): WordBound | null {
  if (reversal === null) return null;
  const [least, most] = reversal === 'intermediate'
    ? [findEchoRule(rules, 'echo-reversal-intermediate-at-least'), findEchoRule(rules, 'echo-reversal-intermediate-at-most')]
    : reversal === 'holodiastolic' ? [findEchoRule(rules, 'echo-reversal-holodiastolic-at-least'), null] : [null, findEchoRule(rules, 'echo-reversal-brief-at-most')];
  if (!least && !most) return null;
  const isGrade = (rule: Rule | null): rule is Rule => rule !== null && rule.value >= LEAK_SCALE.least && rule.value <= LEAK_SCALE.most;
  const say = (rule: Rule, bound: string): string => formatText(ECHO_EN, 'reversal', { word: reversal, bound, grade: showNumber(rule.value), source: citeRule(rule) });
  const interval: LeakInterval = [isGrade(least) ? least.value : LEAK_SCALE.least, isGrade(most) ? most.value : LEAK_SCALE.most];
  const method = [...(isGrade(least) ? [say(least, VERDICT_EN.atLeast)] : []), ...(isGrade(most) ? [say(most, VERDICT_EN.atMost)] : [])].join('; ');
  return method === '' || interval[0] > interval[1] ? null : { name: ECHO_EN['reversal-name'], interval, method: `${method[0]!.toUpperCase()}${method.slice(1)}.` };
}

/** The reader's own classes; out of order, or denied by a number, they are a check already and say nothing. */
function readWords({ leak: { grade }, checks }: EchoAnswer): WordBound | null {
  const isRefused = checks.some((c) => c.weight === 'refuse' && c.fields.some((f) => f === 'leak-from' || f === 'leak-to'));
  if (grade === null || isRefused || GRADE_WORDS[grade.from] > GRADE_WORDS[grade.to]) return null;
  // "moderate-to-severe to severe": a class of two words must not read as a span.
  const words = { from: grade.from.replaceAll(' ', '-'), to: grade.to.replaceAll(' ', '-') };
  const method = formatText(ECHO_EN, grade.from === grade.to ? 'ownWordsOne' : 'ownWords', words);
  return { name: ECHO_EN.words, interval: [GRADE_WORDS[grade.from], GRADE_WORDS[grade.to]], method };
}
