import type { RuleSet } from '../device/device-types.ts';
import { makeFact, refuseFact, type Fact, type FactStamp, type Reason, type Ucum } from '../units/fact.ts';
import { readFact } from './check-echo.ts';
import { findEchoRule, type EchoRuleCode } from './echo-rules.ts';
import { noRuleReason, openReason, placeFact, sayRule } from './judge-words.ts';
import { propagate } from './propagate-error.ts';

/**
 * Stages and endpoints of the literature over facts (checks EC-18, EC-21 to EC-32). Every limit is a rule; a number whose band
 * lies across one, a missing number and a missing rule give `cannot say`, which is neither yes nor no.
 */
export type Judged = 'yes' | 'no' | 'cannot say';
export interface Judgement {
  readonly is: Judged;
  /** Rules read, with source. */
  readonly method: string;
  readonly reasons: readonly Reason[];
}

/** Whether a number lies on one side of its rule; the limit itself as the rule says. */
export function judgeLimit(fact: Fact | null, code: EchoRuleCode, side: 'below' | 'above', rules: RuleSet | null): Judgement {
  const rule = findEchoRule(rules, code);
  if (rule === null) return { is: 'cannot say', method: '', reasons: [noRuleReason([code])] };
  const place = fact === null ? 'unknown' : placeFact(fact, rule, side);
  const method = sayRule(rule);
  if (place === 'unknown') return { is: 'cannot say', method, reasons: fact?.reasons ?? [] };
  if (place === 'open') return { is: 'cannot say', method, reasons: [openReason(rule)] };
  return { is: place === side ? 'yes' : 'no', method, reasons: [] };
}

const join = (parts: readonly Judgement[]): Omit<Judgement, 'is'> => ({ method: [...new Set(parts.map((p) => p.method).filter((m) => m !== ''))].join(' '), reasons: parts.flatMap((p) => p.reasons) });
/** One no makes no, whatever is open. */
export function judgeAll(parts: readonly Judgement[]): Judgement {
  return { is: parts.some((p) => p.is === 'no') ? 'no' : parts.every((p) => p.is === 'yes') ? 'yes' : 'cannot say', ...join(parts) };
}
/** One yes makes yes, whatever is open. */
export function judgeAny(parts: readonly Judgement[]): Judgement {
  return { is: parts.some((p) => p.is === 'yes') ? 'yes' : parts.every((p) => p.is === 'no') ? 'no' : 'cannot say', ...join(parts) };
}
/** What was never measured leaves the question to the others. */
const known = (parts: readonly (readonly [Fact | null, Judgement])[]): readonly Judgement[] => parts.filter(([fact]) => fact !== null && fact.value !== null).map(([, judged]) => judged);
const NOTHING: Judgement = { is: 'cannot say', method: '', reasons: [] };
const anyKnown = (parts: readonly (readonly [Fact | null, Judgement])[]): Judgement => (known(parts).length > 0 ? judgeAny(known(parts)) : NOTHING);

export type StenosisStage = 'A' | 'mild' | 'moderate' | 'severe' | 'very severe';
export const STENOSIS_STAGES: readonly StenosisStage[] = ['A', 'mild', 'moderate', 'severe', 'very severe'];
export interface StageRange {
  readonly from: StenosisStage | 'cannot say';
  readonly to: StenosisStage | 'cannot say';
  readonly method: string;
  readonly reasons: readonly Reason[];
}
export interface StenosisFacts {
  readonly peakVelocity: Fact;
  readonly meanGradient: Fact;
}

/**
 * Stage of native stenosis by velocity or mean gradient, whichever is worse (EC-26 to EC-28). 2.95 m/s, which falls between the printed
 * bounds, is below 3 and mild.
 */
export function gradeStenosis({ peakVelocity, meanGradient }: StenosisFacts, rules: RuleSet | null): StageRange {
  const above = (fact: Fact, code: EchoRuleCode): readonly [Fact, Judgement] => [fact, judgeLimit(fact, code, 'above', rules)];
  const steps = [
    anyKnown([above(peakVelocity, 'echo-stenosis-mild-velocity')]),
    anyKnown([above(peakVelocity, 'echo-stenosis-moderate-velocity'), above(meanGradient, 'echo-stenosis-moderate-gradient')]),
    anyKnown([above(peakVelocity, 'echo-stenosis-severe-velocity'), above(meanGradient, 'echo-stenosis-severe-gradient')]),
    anyKnown([above(peakVelocity, 'echo-stenosis-very-velocity'), above(meanGradient, 'echo-stenosis-very-gradient')]),
  ];
  if (steps.every((s) => s.is === 'cannot say')) return { from: 'cannot say', to: 'cannot say', ...join(steps) };
  const least = steps.reduce((stage, s, i) => (s.is === 'yes' ? i + 1 : stage), 0);
  const most = steps.reduce((stage, s, i) => (s.is === 'no' ? stage : i + 1), 0);
  return { from: STENOSIS_STAGES[least]!, to: STENOSIS_STAGES[Math.max(least, most)]!, ...join(steps) };
}

/** Severe stenosis behind a low gradient (EC-29). D2 stands only with a stress echo, which no number here replaces. */
export function judgeLowGradient(facts: StenosisFacts & { readonly area: Fact; readonly ejectionFraction: Fact; readonly strokeIndexed: Fact }, rules: RuleSet | null): { readonly d2: Judgement; readonly d3: Judgement } {
  const small = judgeLimit(facts.area, 'echo-stenosis-severe-area', 'below', rules);
  const slow = negate(judgeLimit(facts.peakVelocity, 'echo-stenosis-severe-velocity', 'above', rules));
  const low = negate(judgeLimit(facts.meanGradient, 'echo-stenosis-severe-gradient', 'above', rules));
  const weak = judgeLimit(facts.ejectionFraction, 'echo-ejection-reduced', 'below', rules);
  return { d2: judgeAll([small, slow, low, weak]), d3: judgeAll([small, slow, low, negate(weak), judgeLimit(facts.strokeIndexed, 'echo-low-flow', 'below', rules)]) };
}
const negate = (j: Judgement): Judgement => ({ ...j, is: j.is === 'yes' ? 'no' : j.is === 'no' ? 'yes' : 'cannot say' });

export interface ValveEcho {
  readonly meanGradient: Fact;
  readonly area: Fact;
  /** Dimensionless index. */
  readonly index: Fact;
  /** Leak through the leaflets, 0 to 4 of the verdict's scale; null: not graded. A leak beside the frame is no decline of the valve. */
  readonly leafletLeak: number | null;
}
export interface DeclineStages {
  readonly stage2: Judgement;
  readonly stage3: Judgement;
}

/**
 * Haemodynamic decline of a valve against its reference echo, 1 to 3 months after the implant (EC-21 to EC-24): the gradient must rise
 * by so much and end so high, and area or index must fall; a rise alone is flow, not decline. Or the leak through the leaflets.
 * Accuracy  differences of decimals with a slack of 1e-9; bands of the two echoes add as independent
 */
export function stageDecline(reference: ValveEcho, now: ValveEcho, rules: RuleSet | null, stamp: FactStamp): DeclineStages {
  const rise = subtract(now.meanGradient, reference.meanGradient, 'mm[Hg]', stamp);
  const fall = { area: subtract(reference.area, now.area, 'cm2', stamp), areaShare: share(reference.area, now.area, stamp), index: subtract(reference.index, now.index, '1', stamp), indexShare: share(reference.index, now.index, stamp) };
  const stage = (n: 2 | 3): Judgement => {
    const above = (fact: Fact, code: EchoRuleCode): Judgement => judgeLimit(fact, code, 'above', rules);
    const gradient = judgeAll([above(rise, `echo-decline-gradient-rise-${n}`), above(now.meanGradient, `echo-decline-gradient-${n}`)]);
    const opening = anyKnown([
      [fall.area, above(fall.area, `echo-decline-area-fall-${n}`)], [fall.areaShare, above(fall.areaShare, `echo-decline-area-share-${n}`)],
      [fall.index, above(fall.index, `echo-decline-index-fall-${n}`)], [fall.indexShare, above(fall.indexShare, `echo-decline-index-share-${n}`)],
    ]);
    const narrowed = judgeAll([gradient, opening]);
    const [before, after] = [reference.leafletLeak, now.leafletLeak];
    if (before === null || after === null) return narrowed;
    const grade = (v: number): Fact => makeFact(v, v, v, '1', 'grade', [], stamp);
    return judgeAny([narrowed, judgeAll([above(grade(classOf(after) - classOf(before)), `echo-decline-leak-steps-${n}`), above(grade(after), `echo-decline-leak-${n}`)])]);
  };
  return { stage2: stage(2), stage3: stage(3) };
}

/** None, mild, moderate, severe: the steps of the staging, out of the verdict's scale of five. */
const classOf = (grade: number): number => (grade <= 0 ? 0 : grade < 2 ? 1 : grade < 4 ? 2 : 3);

function subtract(a: Fact, b: Fact, unit: Ucum, stamp: FactStamp): Fact {
  return combine([a, b], (x, y) => x! - y!, unit, 'difference of two echoes', stamp);
}
function share(before: Fact, after: Fact, stamp: FactStamp): Fact {
  return combine([before, after], (x, y) => (x! > 0 ? (100 * (x! - y!)) / x! : NaN), '%', 'fall over the reference', stamp);
}
function combine(facts: readonly Fact[], compute: (...values: number[]) => number, unit: Ucum, method: string, stamp: FactStamp): Fact {
  const readings = facts.map(readFact);
  const missing = facts.find((_, i) => readings[i] === null);
  if (missing) return refuseFact(unit, method, stamp, missing.reasons[0] ?? { code: 'echo-not-known', text: 'A number is missing.', next: 'Enter it.' });
  const { value, low, high } = propagate(readings.flatMap((r) => (r ? [r] : [])), compute);
  return makeFact(value, low, high, unit, method, [], stamp);
}

/** What happened with the valve; `dysfunction`: any of structural, non-structural, thrombosis, endocarditis. */
export interface FailureEvents {
  readonly dysfunction: boolean;
  /** Symptoms, or a ventricle or lungs that suffer. */
  readonly isExpressed: boolean;
  readonly isIrreversibleStage3: boolean;
  readonly reintervention: boolean;
  readonly valveDeath: boolean;
}
/** Stage of valve failure, the highest that holds (EC-25); 0: none. */
export function stageFailure(events: FailureEvents): 0 | 1 | 2 | 3 {
  if (events.valveDeath) return 3;
  if (events.reintervention) return 2;
  return events.isIrreversibleStage3 || (events.dysfunction && events.isExpressed) ? 1 : 0;
}
export type DysfunctionCause = 'structural' | 'leak beside' | 'mismatch' | 'thrombosis' | 'endocarditis';
/** Only a valve whose own tissue or frame failed has declined structurally (EC-25). */
export const isStructural = (cause: DysfunctionCause): boolean => cause === 'structural';

export type LeakCriterion = 'jet-width' | 'contracta' | 'volume' | 'fraction' | 'orifice';
/** Criteria of severe regurgitation, each for itself: they are listed, not voted (EC-30, EC-32). */
export function listSevereCriteria(valve: 'aortic' | 'mitral', facts: Readonly<Partial<Record<LeakCriterion, Fact>>>, rules: RuleSet | null): readonly (Judgement & { readonly criterion: LeakCriterion })[] {
  const codes: Readonly<Record<LeakCriterion, EchoRuleCode | null>> = valve === 'aortic'
    ? { 'jet-width': 'echo-aortic-leak-jet-width', contracta: 'echo-aortic-leak-contracta', volume: 'echo-aortic-leak-volume', fraction: 'echo-aortic-leak-fraction', orifice: 'echo-aortic-leak-orifice' }
    : { 'jet-width': null, contracta: null, volume: 'echo-mitral-leak-volume', fraction: 'echo-mitral-leak-fraction', orifice: 'echo-mitral-leak-orifice' };
  return (Object.entries(facts) as readonly (readonly [LeakCriterion, Fact])[]).flatMap(([criterion, fact]) => (codes[criterion] === null ? [] : [{ criterion, ...judgeLimit(fact, codes[criterion], 'above', rules) }]));
}

/**
 * Intended performance of the implanted valve (EC-31), by edition: they differ in `or`, in the index, and in whether a mismatch counts.
 * `leak`: 0 to 4; `hasMismatch`: moderate or severe; null: not known, which is not "none".
 */
export function judgeIntended(
  edition: 'VARC-2' | 'VARC-3',
  facts: { readonly meanGradient: Fact; readonly peakVelocity: Fact; readonly index: Fact; readonly leak: number | null; readonly hasMismatch: boolean | null },
  rules: RuleSet | null,
  stamp: FactStamp,
): Judgement {
  const leakFact = facts.leak === null ? null : makeFact(facts.leak, facts.leak, facts.leak, '1', 'grade', [], stamp);
  const [gradient, velocity] = edition === 'VARC-2' ? (['echo-intended-gradient', 'echo-intended-velocity'] as const) : (['echo-intended-gradient-3', 'echo-intended-velocity-3'] as const);
  const low = (fact: Fact, code: EchoRuleCode): Judgement => judgeLimit(fact, code, 'below', rules);
  const leak = judgeLimit(leakFact, edition === 'VARC-2' ? 'echo-intended-leak' : 'echo-intended-leak-3', 'below', rules);
  if (edition === 'VARC-2') {
    const fits: Judgement = { is: facts.hasMismatch === null ? 'cannot say' : facts.hasMismatch ? 'no' : 'yes', method: '', reasons: [] };
    return judgeAll([anyKnown([[facts.meanGradient, low(facts.meanGradient, gradient)], [facts.peakVelocity, low(facts.peakVelocity, velocity)]]), leak, fits]);
  }
  return judgeAll([low(facts.meanGradient, gradient), low(facts.peakVelocity, velocity), judgeLimit(facts.index, 'echo-intended-index', 'above', rules), leak]);
}

export type FiveClass = 'mild' | 'mild to moderate' | 'moderate to severe' | 'severe';
const FIVE_CLASSES: readonly FiveClass[] = ['mild', 'mild to moderate', 'moderate to severe', 'severe'];
/** Class of a regurgitant orifice or volume where the middle band is split (EC-18); the names of the halves are from memory. */
export function gradeFiveClasses(of: 'orifice' | 'volume', fact: Fact, rules: RuleSet | null): { readonly from: FiveClass | 'cannot say'; readonly to: FiveClass | 'cannot say'; readonly method: string; readonly reasons: readonly Reason[] } {
  const steps = [negate(judgeLimit(fact, `echo-${of}-five-mild`, 'below', rules)), negate(judgeLimit(fact, `echo-${of}-five-middle`, 'below', rules)), judgeLimit(fact, `echo-${of}-five-severe`, 'above', rules)];
  if (fact.value === null || steps.every((s) => s.method === '')) return { from: 'cannot say', to: 'cannot say', ...join(steps) };
  const least = steps.reduce((n, s, i) => (s.is === 'yes' ? i + 1 : n), 0);
  const most = steps.reduce((n, s, i) => (s.is === 'no' ? n : i + 1), 0);
  return { from: FIVE_CLASSES[least]!, to: FIVE_CLASSES[Math.max(least, most)]!, ...join(steps) };
}
