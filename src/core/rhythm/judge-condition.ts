import { formatText } from '../text/catalogue.ts';
import { RHYTHM_EN } from '../text/rhythm-en.ts';
import type { Fact } from '../units/fact.ts';
import { formatBesideLimit, formatPlain } from './format-rhythm-number.ts';
import {
  QUANTITY_UNITS, type Comparison, type Condition, type ConductionWord, type EcgEntry, type Leg, type RhythmContext, type StateQuestion, type Truth,
} from './rhythm-types.ts';

/** What a rule is judged on. `previous` is the ECG before `now`, the baseline for the first one after release. */
export interface RuleScene {
  readonly now: EcgEntry | null;
  readonly baseline: EcgEntry | null;
  readonly previous: EcgEntry | null;
  readonly context: RhythmContext;
  /** null while the rules of change themselves are judged. */
  readonly word: ConductionWord | null;
}
export interface Judged {
  readonly truth: Truth;
  readonly legs: readonly Leg[];
}

/**
 * A condition by four-valued logic: what is not known stays not known unless the rest decides; what has no meaning neither
 * speaks for nor against. The legs that come back are those that decided.
 * Source    docs/methods/rhythm.md
 */
export function judgeCondition(condition: Condition, scene: RuleScene): Judged {
  if ('not' in condition) {
    const { truth, legs } = judgeCondition(condition.not, scene);
    const turned: Truth = truth === 'yes' ? 'no' : truth === 'no' ? 'yes' : truth;
    return { truth: turned, legs: legs.map((leg) => ({ ...leg, truth: leg.truth === 'yes' ? 'no' : leg.truth === 'no' ? 'yes' : leg.truth, text: formatText(RHYTHM_EN, 'notSo', { text: leg.text }) })) };
  }
  if ('any' in condition) return joinJudged(condition.any.map((each) => judgeCondition(each, scene)), ['yes', 'unknown', 'no', 'void']);
  // In "all" a part without meaning leaves the whole without meaning, unless another part denies it or is not known.
  if ('all' in condition) return joinJudged(condition.all.map((each) => judgeCondition(each, scene)), ['no', 'unknown', 'void', 'yes']);
  const leg = 'value' in condition ? compareQuantity(condition, scene) : askState(condition, scene);
  return { truth: leg.truth, legs: [leg] };
}

/** The first truth in `order` that one of the parts has, with the legs of those parts. No parts: nothing is known. */
export function joinJudged(parts: readonly Judged[], order: readonly Truth[]): Judged {
  const truth = order.find((each) => parts.some((part) => part.truth === each)) ?? 'unknown';
  return { truth, legs: parts.filter((part) => part.truth === truth).flatMap((part) => part.legs) };
}

export type Number95 = { readonly value: number; readonly low: number; readonly high: number };
type Read = { readonly fact: Fact; readonly is: Number95 } | { readonly leg: Leg };

function compareQuantity(question: Comparison, scene: RuleScene): Leg {
  const { of, op, value: limit } = question;
  const unit = QUANTITY_UNITS[of] === '1' ? '' : QUANTITY_UNITS[of];
  const name = RHYTHM_EN[`name-${of}`];
  const opText = RHYTHM_EN[`op-${op}`];
  if (of === 'pr-rise' || of === 'qrs-rise' || of === 'pr-rise-percent' || of === 'qrs-rise-percent') {
    const isPr = of === 'pr-rise' || of === 'pr-rise-percent';
    const before = question.against === 'previous' ? scene.previous : scene.baseline;
    const [was, is] = [readInterval(isPr, before, before === scene.baseline ? 'baseline' : 'now'), readInterval(isPr, scene.now, 'now')];
    const broken = 'leg' in was ? was.leg : 'leg' in is ? is.leg : null;
    if ('leg' in was || 'leg' in is) {
      // Without a PR on either side the question has no meaning; on one side alone it cannot be answered.
      const isBothVoid = 'leg' in was && 'leg' in is && was.leg.truth === 'void' && is.leg.truth === 'void';
      return { ...broken!, truth: isBothVoid ? 'void' : 'unknown', next: broken!.truth === 'void' && !isBothVoid ? RHYTHM_EN.legNoPrNext : broken!.next };
    }
    const isPercent = of === 'pr-rise-percent' || of === 'qrs-rise-percent';
    const scaled = snapToLimit(isPercent ? computeRisePercent(is.is, was.is) : subtractBands(is.is, was.is), limit);
    const text = formatText(RHYTHM_EN, 'legRise', {
      name, value: formatBesideLimit(scaled.value, limit), unit, from: formatPlain(was.is.value), to: formatPlain(is.is.value),
      against: RHYTHM_EN[`moment-${before!.moment}`].toLowerCase(), op: opText, limit: formatPlain(limit),
    });
    return decideBand(question, scaled, { text, name, unit, at: '', fact: is.fact });
  }
  const entry = question.at === 'baseline' ? scene.baseline : scene.now;
  const at = question.at === 'baseline' ? RHYTHM_EN.atBaseline : '';
  const read: Read = of === 'pr' || of === 'qrs' ? readInterval(of === 'pr', entry, question.at ?? 'now') : readOther(question, entry, scene.context, name, at);
  if ('leg' in read) return read.leg;
  const band = snapToLimit(read.is, limit);
  const text = formatText(RHYTHM_EN, 'legNumber', { name, value: formatBesideLimit(band.value, limit), unit, at, op: opText, limit: formatPlain(limit) });
  return decideBand(question, band, { text, name, unit, at, fact: read.fact });
}

/** PR or QRS of one ECG, unless its beats are paced or it has no P waves. */
function readInterval(isPr: boolean, entry: EcgEntry | null, at: 'now' | 'baseline'): Read {
  const name = isPr ? RHYTHM_EN['name-pr'] : RHYTHM_EN['name-qrs'];
  const where = at === 'baseline' ? RHYTHM_EN.atBaseline : '';
  if (!entry) return { leg: makeUnknown(formatText(RHYTHM_EN, 'legMissing', { name, at: where }), RHYTHM_EN.legMissingNext) };
  const { rhythm } = entry;
  if (rhythm === 'paced-ventricle' || (isPr && rhythm === 'paced-atrium')) return { leg: makeUnknown(formatText(RHYTHM_EN, 'legPaced', { name, at: where }), RHYTHM_EN.legPacedNext) };
  if (isPr && rhythm === 'atrial-fibrillation') return { leg: { truth: 'void', text: formatText(RHYTHM_EN, 'legNoPr', { name, at: where }), next: null, fact: null } };
  return readFact(isPr ? entry.prMs : entry.qrsMs, name, where);
}

function readOther({ of }: Comparison, entry: EcgEntry | null, context: RhythmContext, name: string, at: string): Read {
  if (of === 'rate' || of === 'hv') return readFact((of === 'rate' ? entry?.ratePerMin : entry?.hvMs) ?? null, name, at);
  if (of === 'depth-below-septum') {
    const [depth, length] = [readFact(context.implantDepthMm, RHYTHM_EN['name-implant-depth'], ''), readFact(context.septumLengthMm, RHYTHM_EN['name-septum-length'], '')];
    if ('leg' in depth || 'leg' in length) return 'leg' in depth ? depth : length;
    return { fact: depth.fact, is: subtractBands(depth.is, length.is) };
  }
  const fact = of === 'prosthesis-over-outflow' ? context.prosthesisOverOutflow : of === 'implant-depth' ? context.implantDepthMm : of === 'septum-length' ? context.septumLengthMm : context.subCuspCalciumMm3;
  return readFact(fact, name, at);
}

function readFact(fact: Fact | null, name: string, at: string): Read {
  if (!fact) return { leg: makeUnknown(formatText(RHYTHM_EN, 'legMissing', { name, at }), RHYTHM_EN.legMissingNext) };
  if (fact.value === null || fact.low === null || fact.high === null) {
    return { leg: { ...makeUnknown(formatText(RHYTHM_EN, 'legRefused', { name, at, why: fact.reasons[0]?.text ?? '' }), fact.reasons[0]?.next ?? RHYTHM_EN.legRefusedNext), fact } };
  }
  return { fact, is: { value: fact.value, low: fact.low, high: fact.high } };
}

/** A band that lies across the limit decides nothing. */
function decideBand(
  { op, value: limit }: Comparison,
  band: Number95,
  said: { readonly text: string; readonly name: string; readonly unit: string; readonly at: string; readonly fact: Fact },
): Leg {
  const holds = (x: number): boolean => (op === '>' ? x > limit : op === '>=' ? x >= limit : op === '<' ? x < limit : x <= limit);
  if (holds(band.low) !== holds(band.high)) {
    const text = formatText(RHYTHM_EN, 'legStraddles', {
      name: said.name, value: formatPlain(band.value), unit: said.unit, at: said.at, low: formatBesideLimit(band.low, limit), high: formatBesideLimit(band.high, limit), limit: formatPlain(limit),
    });
    return { truth: 'unknown', text, next: RHYTHM_EN.legStraddlesNext, fact: said.fact };
  }
  return { truth: holds(band.value) ? 'yes' : 'no', text: said.text, next: null, fact: said.fact };
}

/** Two readings that err apart from one another. */
export function subtractBands(a: Number95, b: Number95): Number95 {
  const value = a.value - b.value;
  return { value, low: value - Math.hypot(a.value - a.low, b.high - b.value), high: value + Math.hypot(a.high - a.value, b.value - b.low) };
}
/** 100 (is / was - 1): the reading before stands below the line too, so that its doubt counts in full. */
function computeRisePercent(is: Number95, was: Number95): Number95 {
  const value = (100 * (is.value - was.value)) / was.value;
  const up = Math.hypot((100 * (is.high - is.value)) / was.value, was.low > 0 ? 100 * is.value * (1 / was.low - 1 / was.value) : Infinity);
  const down = Math.hypot((100 * (is.value - is.low)) / was.value, 100 * is.value * (1 / was.value - 1 / was.high));
  return { value, low: value - down, high: value + up };
}

/** Decimals in binary: a depth of 6.1 less a septum of 3.6 is a little below 2.5. */
function snapToLimit({ value, low, high }: Number95, limit: number): Number95 {
  const slack = 1e-9 * Math.max(1, Math.abs(limit));
  const near = (v: number): number => (Math.abs(v - limit) <= slack ? limit : v);
  return { value: near(value), low: near(low), high: near(high) };
}

function askState({ of, at, in: wanted }: StateQuestion, scene: RuleScene): Leg {
  const name = RHYTHM_EN[`name-${of}`];
  const where = at === 'baseline' ? RHYTHM_EN.atBaseline : '';
  if (of === 'word') {
    if (scene.word === null || scene.word === 'CANNOT SAY') return makeUnknown(RHYTHM_EN.legWordUnknown, RHYTHM_EN.legWordUnknownNext);
    return decideState(scene.word, wanted, name, where);
  }
  if (of === 'new-bundle-block' || of === 'new-av-block') {
    const read = (entry: EcgEntry | null): string | null => (of === 'new-bundle-block' ? entry?.bundleBlock : entry?.avBlock) ?? null;
    const [now, was] = [read(scene.now), read(scene.baseline)];
    if (now !== null && !wanted.includes(now)) return decideState(now, wanted, name, where);
    if (now === null) return makeUnknown(formatText(RHYTHM_EN, 'legMissing', { name, at: where }), RHYTHM_EN.legMissingNext);
    if (was === null) return makeUnknown(formatText(RHYTHM_EN, 'legMissing', { name: RHYTHM_EN[of === 'new-bundle-block' ? 'name-bundle-block' : 'name-av-block'], at: RHYTHM_EN.atBaseline }), RHYTHM_EN.legMissingNext);
    return { ...decideState(now, wanted, name, where), truth: now === was ? 'no' : 'yes' };
  }
  const entry = at === 'baseline' ? scene.baseline : scene.now;
  const { context } = scene;
  const value = of === 'bundle-block' ? entry?.bundleBlock : of === 'av-block' ? entry?.avBlock : of === 'rhythm' ? entry?.rhythm
    : of === 'device-kind' ? context.deviceKind : of === 'dilated' ? context.dilated : of === 'low-implant' ? context.lowImplant
      : of === 'heavy-calcium' ? context.heavyCalcium : context.shortSeptum;
  if (value === null || value === undefined) return makeUnknown(formatText(RHYTHM_EN, 'legMissing', { name, at: where }), RHYTHM_EN.legMissingNext);
  return decideState(value, wanted, name, where);
}

function decideState(value: string, wanted: readonly string[], name: string, at: string): Leg {
  const text = formatText(RHYTHM_EN, 'legState', { name, at, value, wanted: wanted.join(RHYTHM_EN.or) });
  return { truth: wanted.includes(value) ? 'yes' : 'no', text, next: null, fact: null };
}
function makeUnknown(text: string, next: string): Leg {
  return { truth: 'unknown', text, next, fact: null };
}
