import { formatText } from '../text/catalogue.ts';
import { VERDICT_EN } from '../text/verdict-en.ts';
import type { Reason } from '../units/fact.ts';
import { LEAK_MEASURES, type LeakMeasure } from './leak-measures.ts';
import { makeReason, showNumber } from './make-reason.ts';
import { LEAK_SCALE, placeAgainst, type LeakCut } from './read-leak-rules.ts';
import type { LeakInterval } from './verdict-types.ts';

/** `high`: above the signed rates, where a leak hides; `low`: below them, where one is feigned; `within`; `unknown`. */
export type RatePlace = 'within' | 'high' | 'low' | 'unknown';

export interface LeakReading {
  /** null: no rule spoke, or they contradict one another. */
  readonly interval: LeakInterval | null;
  /** Rules that narrowed the interval or confirmed it. */
  readonly acted: readonly LeakCut[];
  /** The number's own band lies across their value: they said nothing. A narrower number would make them speak. */
  readonly open: readonly LeakCut[];
  /** What a rate outside the signed ones kept from speaking. */
  readonly silenced: readonly LeakCut[];
  readonly reasons: readonly Reason[];
}

/**
 * Severity interval from measured numbers by signed rules: from the whole scale, each rule that the whole band of its number
 * satisfies moves one end. Rules whose value lies inside the band say nothing, so a wide number gives a wide interval.
 *
 * Equation  low = max of "at least", high = min of "at most"; nothing is averaged
 * Units     of LEAK_MEASURES; grade 0 to 4 out
 * Refuses   witness-contradicts-itself: two numbers exclude one another; both are named
 * Source    docs/methods/verdict.md
 */
export function readLeak(measures: readonly LeakMeasure[], cuts: readonly LeakCut[], rate: RatePlace = 'within'): LeakReading {
  const acted: LeakCut[] = [];
  const open: LeakCut[] = [];
  const silenced: LeakCut[] = [];
  const reasons: Reason[] = [];
  // Why a number is missing concerns the witness only where no other number spoke.
  const missing: Reason[] = [];
  for (const measure of measures) {
    const { value, low, high } = measure;
    if (value === null || low === null || high === null || !(low <= value && value <= high)) {
      missing.push(...measure.reasons);
      continue;
    }
    reasons.push(...measure.reasons);
    if (measure.unit !== LEAK_MEASURES[measure.code].unit) {
      reasons.push(makeReason('leak-measure-unit', formatText(VERDICT_EN, 'measureUnit', { measure: VERDICT_EN[`measure-${measure.code}`], unit: measure.unit, wanted: LEAK_MEASURES[measure.code].unit }), VERDICT_EN.measureUnitNext));
      continue;
    }
    for (const cut of cuts) {
      if (cut.measure !== measure.code) continue;
      const limitIs = (cut.side === 'below') === cut.rule.strict ? 'above' : 'below';
      const place = placeAgainst(low, high, cut.rule.value, limitIs);
      if (place === 'open') open.push(cut);
      else if (place === cut.side) (isSilenced(cut, rate) ? silenced : acted).push(cut);
    }
  }
  if (acted.length === 0) return { interval: null, acted, open, silenced, reasons: [...missing, ...reasons] };
  const highest = acted.filter((c) => c.bound === 'at least').reduce<LeakCut | null>((a, c) => (a === null || c.grade > a.grade ? c : a), null);
  const lowest = acted.filter((c) => c.bound === 'at most').reduce<LeakCut | null>((a, c) => (a === null || c.grade < a.grade ? c : a), null);
  const interval: LeakInterval = [highest?.grade ?? LEAK_SCALE.least, lowest?.grade ?? LEAK_SCALE.most];
  if (interval[0] <= interval[1]) return { interval, acted, open, silenced, reasons };
  const says = {
    first: VERDICT_EN[`measure-${highest!.measure}`], low: showNumber(highest!.grade), second: VERDICT_EN[`measure-${lowest!.measure}`], high: showNumber(lowest!.grade),
  };
  const contradiction = makeReason('witness-contradicts-itself', formatText(VERDICT_EN, 'contradicts', says), VERDICT_EN.contradictsNext);
  return { interval: null, acted, open, silenced, reasons: [...reasons, contradiction] };
}

/** A fast heart keeps a number from clearing the valve, a slow one from accusing it; the other way round it may speak. */
function isSilenced(cut: LeakCut, rate: RatePlace): boolean {
  if (LEAK_MEASURES[cut.measure].rate !== 'spoils') return false;
  return rate === 'unknown' || (rate === 'high' && cut.bound === 'at most') || (rate === 'low' && cut.bound === 'at least');
}
