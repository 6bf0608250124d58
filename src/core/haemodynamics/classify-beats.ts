import { findQuantile } from './filters.ts';
import { READING_LIMITS } from './pressure-priors.ts';
import type { BeatMeasure, RhythmWord } from './pressure-types.ts';

export interface ClassifiedBeats {
  readonly beats: readonly BeatMeasure[];
  readonly word: RhythmWord;
  /** SD of the lengths of beats without premature and fast paced ones over their mean. */
  readonly variation: number;
  readonly spans: readonly { readonly is: 'paced-fast'; readonly fromS: number; readonly toS: number }[];
}

const PREMATURE_MOST = 0.3;
const AROUND = 6;
/** Fast runs closer than this are one. */
const JOIN_S = 2;

const pulseOf = (b: BeatMeasure): number => (Number.isNaN(b.systolic) ? b.ventricularSystolic - b.ventricularMinimum : b.systolic - b.diastolic);

/**
 * Which beats enter a summary. Early beats and the one after each are left out while they are the exception; when beat
 * lengths scatter throughout, the rhythm is irregular and every beat counts. Fast regular runs with a collapsed pulse are
 * paced. A beat far from the others of its kind in both pulse and level, or about twice as long, is disturbed.
 *
 * Source    docs/methods/pressure.md; limits in pressure-priors.ts, technical [P]
 * Fails     never
 */
export function classifyBeats(measured: readonly BeatMeasure[]): ClassifiedBeats {
  const beats = measured.map((b) => ({ ...b }));
  const whole = beats.filter((b) => b.kind === 'counted');
  if (whole.length < 3) return { beats, word: 'cannot say', variation: NaN, spans: [] };
  const spans = markFastRuns(beats);
  const usual = (k: number): number => findQuantile(beats.slice(Math.max(0, k - AROUND), k + AROUND + 1).filter((b) => b.kind !== 'paced-fast').map((b) => b.lengthS), 0.5);
  // The beat is early when the one before it was cut short.
  const isEarly = beats.map((b, k) => {
    const before = beats[k - 1];
    return b.kind === 'counted' && before !== undefined && before.kind !== 'paced-fast' && before.kind !== 'partial' && before.lengthS < READING_LIMITS.prematureRatio * usual(k - 1) && Math.abs(before.atS + before.lengthS - b.atS) < 0.05;
  });
  const early = isEarly.filter(Boolean).length;
  const steady = beats.filter((b, k) => b.kind === 'counted' && !isEarly[k] && !isEarly[k + 1]);
  const steadyVariation = computeVariation(steady.map((b) => b.lengthS));
  const allVariation = computeVariation(beats.filter((b) => b.kind === 'counted').map((b) => b.lengthS));
  const isIrregular = early > PREMATURE_MOST * beats.length || (early > 0.12 * beats.length && steadyVariation > READING_LIMITS.irregularVariation) || steadyVariation > 1.5 * READING_LIMITS.irregularVariation;
  if (!isIrregular) {
    for (const [k, isNow] of isEarly.entries()) {
      if (!isNow) continue;
      beats[k] = { ...beats[k]!, kind: 'premature' };
      const after = beats[k + 1];
      if (after?.kind === 'counted') beats[k + 1] = { ...after, kind: 'after-premature' };
    }
  }
  markDisturbed(beats, isIrregular);
  const counted = beats.filter((b) => b.kind === 'counted').length;
  const fast = beats.filter((b) => b.kind === 'paced-fast').length;
  const isAllFast = fast > 0.7 * beats.length;
  const word: RhythmWord = isAllFast ? 'paced fast' : counted < 3 ? 'cannot say' : isIrregular ? 'irregular' : beats.some((b) => b.kind === 'premature') ? 'premature beats' : 'regular';
  return { beats, word, variation: isIrregular ? allVariation : steadyVariation, spans };
}

/** Runs of at least five beats, fast and even, whose pulse is well below that of the other beats or whose rate is well above. */
function markFastRuns(beats: BeatMeasure[]): ClassifiedBeats['spans'] {
  const isFast = beats.map((b) => 60 / b.lengthS >= READING_LIMITS.fastPerMin);
  const slow = beats.filter((_, k) => !isFast[k]);
  const [slowPulse, slowLength] = [findQuantile(slow.map(pulseOf), 0.5), findQuantile(slow.map((b) => b.lengthS), 0.5)];
  const spans: { is: 'paced-fast'; fromS: number; toS: number }[] = [];
  for (let k = 0; k < beats.length; ) {
    let end = k;
    while (end < beats.length && isFast[end]) end++;
    const run = beats.slice(k, end);
    const pulse = findQuantile(run.map(pulseOf), 0.5);
    if (run.length >= 5 && computeVariation(run.slice(1, -1).map((b) => b.lengthS)) < 0.06 && (Number.isNaN(slowPulse) || pulse < 0.75 * slowPulse || findQuantile(run.map((b) => b.lengthS), 0.5) < 0.65 * slowLength)) {
      if (!Number.isNaN(slowPulse)) {
        for (let j = k; j < end; j++) beats[j] = { ...beats[j]!, kind: 'paced-fast' };
        // The pressure needs two beats to come back.
        for (const j of [end, end + 1]) if (beats[j]?.kind === 'counted') beats[j] = { ...beats[j]!, kind: 'after-premature' };
      }
      const [fromS, toS] = [run[0]!.atS, run.at(-1)!.atS + run.at(-1)!.lengthS];
      const last = spans.at(-1);
      if (!Number.isNaN(slowPulse)) {
        if (last && fromS - last.toS < JOIN_S) last.toS = toS;
        else spans.push({ is: 'paced-fast', fromS, toS });
      }
    }
    k = Math.max(end, k + 1);
  }
  return spans;
}

function markDisturbed(beats: BeatMeasure[], isIrregular: boolean): void {
  const counted = beats.filter((b) => b.kind === 'counted');
  const range = (values: number[]): readonly [number, number] => {
    const middle = findQuantile(values, 0.5);
    const spread = findQuantile(values.map((v) => Math.abs(v - middle)), 0.5) * 1.4826;
    // Beats of unlike length differ by nature; where two kinds take turns, half of the distances from the middle are nought.
    const reach = Math.max(10, 6 * spread, isIrregular ? 1.5 * (findQuantile(values, 0.9) - findQuantile(values, 0.1)) : 0);
    return [middle - reach, middle + reach];
  };
  const limits = [(b: BeatMeasure) => b.systolic, (b: BeatMeasure) => b.diastolic, (b: BeatMeasure) => b.ventricularSystolic, (b: BeatMeasure) => b.endDiastolic].map((of) => ({ of, range: range(counted.map(of)) }));
  const usual = findQuantile(counted.map((b) => b.lengthS), 0.5);
  for (const [k, b] of beats.entries()) {
    if (b.kind !== 'counted') continue;
    const isOff = limits.some(({ of, range: [low, high] }) => of(b) < low || of(b) > high);
    if (isOff || (!isIrregular && b.lengthS > 1.7 * usual)) beats[k] = { ...b, kind: 'disturbed' };
  }
}

/** Long and short beats in turn, throughout: bigeminy, or alternation of another origin. */
export function isAlternating(beats: readonly BeatMeasure[]): boolean {
  const lengths = beats.filter((b) => b.kind !== 'partial').map((b) => b.lengthS);
  if (lengths.length < 8) return false;
  let turns = 0;
  for (let k = 2; k < lengths.length; k++) {
    const [before, now] = [lengths[k - 1]! - lengths[k - 2]!, lengths[k]! - lengths[k - 1]!];
    if (before * now < 0 && Math.min(Math.abs(before), Math.abs(now)) > 0.15 * Math.max(lengths[k]!, lengths[k - 1]!)) turns++;
  }
  return turns > 0.8 * (lengths.length - 2);
}

export function computeVariation(lengths: readonly number[]): number {
  const n = lengths.length;
  if (n < 2) return NaN;
  const mean = lengths.reduce((a, b) => a + b, 0) / n;
  return Math.sqrt(lengths.reduce((a, b) => a + (b - mean) ** 2, 0) / (n - 1)) / mean;
}
