import { PRESSURE_EN } from '../text/pressure-en.ts';
import { makeFact, refuseFact, type Fact, type FactStamp, type Reason, type Ucum } from '../units/fact.ts';
import { estimateBreathing } from './estimate-breathing.ts';
import { estimateMean, type Estimate } from './estimate-mean.ts';
import {
  computeAdjustedPressureTime, computeArIndex, computeArIndexRatio, computeDiastolicDelta, computeGorlinArea, computeHakkiArea, computeRateAdjustedDelta,
} from './pressure-formulas.ts';
import { PRESSURE_PRIORS } from './pressure-priors.ts';
import type {
  AorticFacts, AreaFacts, BeatFacts, BeatMeasure, BreathingFacts, GradientFacts, LeakFacts, PressureInputs, QualityFinding, RhythmFacts, VentricularFacts,
} from './pressure-types.ts';
import { weighFinding, type FactNeed } from './quality-effect.ts';
import type { BeatReading } from './read-beats.ts';

export interface PressureSummary {
  readonly beats: readonly BeatFacts[];
  readonly aortic: AorticFacts;
  readonly ventricular: VentricularFacts;
  readonly gradients: GradientFacts;
  readonly leak: LeakFacts;
  readonly area: AreaFacts;
  readonly rhythm: RhythmFacts;
  readonly breathing: BreathingFacts;
}

type Key = keyof typeof PRESSURE_EN & string;
export function makeReason(code: string): Reason {
  return { code, text: PRESSURE_EN[code as Key], next: PRESSURE_EN[`${code}-next` as Key] };
}

const AO: FactNeed = { channels: ['aortic'] };
const LV: FactNeed = { channels: ['ventricular'] };
const NEEDS = {
  peak: { ...AO, usesPeak: true }, trough: { ...AO, usesTrough: true }, mean: AO, pulse: { ...AO, usesPeak: true, usesTrough: true }, lvPeak: { ...LV, usesPeak: true },
  lvTrough: { ...LV, usesTrough: true }, meanGradient: { channels: ['aortic', 'ventricular'], isPair: true, isIndex: true, usesEjection: true },
  peakGradient: { channels: ['aortic', 'ventricular'], isPair: true, isIndex: true, usesPeak: true, usesEjection: true }, index: { channels: ['aortic', 'ventricular'], isPair: true, isIndex: true, usesPeak: true, usesTrough: true },
  difference: { channels: ['aortic', 'ventricular'], isPair: true, isIndex: true, usesTrough: true }, area: { channels: ['aortic', 'ventricular'], isPair: true, isIndex: true },
  time: { channels: [], isTime: true }, decay: { ...AO, isIndex: true },
} as const satisfies Readonly<Record<string, FactNeed>>;
type NeedName = keyof typeof NEEDS;

const sd = (name: keyof typeof PRESSURE_PRIORS): number => PRESSURE_PRIORS[name].value;

/** Systematic 1 SD of the numbers of a beat, from the priors. */
function makeErrors(pulse: number, lvPulse: number, how: BeatReading['how']) {
  const [zero, gain] = [sd('zeroMmHg'), sd('gainRatio')];
  const finite = (v: number): number => (Number.isFinite(v) ? Math.abs(v) : 0);
  const [peak, trough] = [sd('responsePeakRatio') * finite(pulse), sd('responseTroughRatio') * finite(pulse)];
  const [lvPeak, lvTrough] = [sd('responsePeakRatio') * finite(lvPulse), sd('responseTroughRatio') * finite(lvPulse)];
  // Of one catheter zero and scale are the same on both sides.
  const pairZero = how === 'pullback' ? 0 : zero * Math.SQRT2;
  const lay = how === 'pullback' ? sd('pullbackMmHg') : 0;
  return {
    systolic: (v: number) => Math.hypot(zero, gain * v, peak),
    diastolic: (v: number) => Math.hypot(zero, gain * v, trough),
    mean: (v: number) => Math.hypot(zero, gain * v),
    pulse: (v: number) => Math.hypot(gain * v, peak, trough),
    lvSystolic: (v: number) => Math.hypot(zero, gain * v, lvPeak),
    lvTrough: (v: number) => Math.hypot(zero, gain * v, lvTrough),
    endDiastolic: (v: number) => Math.hypot(zero, gain * v, lvTrough, sd('endDiastolicMmHg')),
    peakToPeak: (lv: number, ao: number) => Math.hypot(pairZero, how === 'pullback' ? gain * (lv - ao) : Math.hypot(gain * lv, gain * ao), peak, lvPeak),
    meanGradient: (level: number) => Math.hypot(pairZero, gain * level * Math.SQRT2, sd('responseGradientMmHg'), lay),
    peakGradient: (level: number) => Math.hypot(pairZero, gain * level * Math.SQRT2, 2 * sd('responseGradientMmHg'), peak, lay),
    delta: (d: number, l: number) => Math.hypot(pairZero, gain * d, gain * l, trough, lvTrough, sd('endDiastolicMmHg')),
    area: (v: number, moves: number) => Math.hypot(pairZero, gain * v * Math.SQRT2, sd('diastolicAreaMmHg'), 1.3 * (moves || 0)),
  };
}
type Errors = ReturnType<typeof makeErrors>;

/**
 * Facts of a recording from its beats: means over the beats that count, with intervals, doubts and refusals of the findings.
 * Units     mmHg, 1/min, s, cm2
 * Fails     never: what cannot be said is a refused fact
 */
export function summariseBeats(reading: BeatReading, findings: readonly QualityFinding[], inputs: PressureInputs, stamp: FactStamp): PressureSummary {
  const { beats, how } = reading;
  const counted = beats.filter((b) => b.kind === 'counted');
  const has = { aortic: counted.some((b) => Number.isFinite(b.systolic)), ventricular: counted.some((b) => Number.isFinite(b.ventricularSystolic)) };
  const hasAny = { aortic: beats.some((b) => Number.isFinite(b.systolic)), ventricular: beats.some((b) => Number.isFinite(b.ventricularSystolic)) };
  // Doubt and refusal of a need are the same for every beat: looked up once.
  const judged = {} as Record<NeedName, Judged>;
  for (const name of Object.keys(NEEDS) as NeedName[]) judged[name] = judgeNeed(NEEDS[name], findings, has);
  // A beat alone stands for itself: that there are few says nothing against it.
  const alone = {} as Record<NeedName, Judged>;
  for (const name of Object.keys(NEEDS) as NeedName[]) alone[name] = judgeNeed(NEEDS[name], findings.filter((f) => f.code !== 'few-beats'), hasAny);
  const method = 'pressure/1';
  const from = ['recording'];
  const say = (name: NeedName, unit: Ucum, e: Estimate, more: readonly Reason[] = []): Fact => {
    const { refusal, doubts } = judged[name];
    if (refusal) return refuseFact(unit, method, stamp, refusal);
    if (!(e.count >= 2)) return refuseFact(unit, method, stamp, makeReason('not-seen'));
    return makeFact(e.value, e.low, e.high, unit, method, from, stamp, [...doubts, ...more]);
  };
  const list = (of: (b: BeatMeasure) => number): number[] => counted.map(of);
  const over = (of: (b: BeatMeasure) => number, error: (mean: number) => number): Estimate => {
    const values = list(of);
    return estimateMean(values, error(meanOf(values)));
  };
  const m = {
    systolic: meanOf(list((b) => b.systolic)), diastolic: meanOf(list((b) => b.diastolic)), lvSystolic: meanOf(list((b) => b.ventricularSystolic)),
    lvMinimum: meanOf(list((b) => b.ventricularMinimum)), endDiastolic: meanOf(list((b) => b.endDiastolic)),
  };
  const err = makeErrors(m.systolic - m.diastolic, m.lvSystolic - m.lvMinimum, how);
  const lengths = list((b) => b.lengthS);
  const length = estimateMean(lengths, 0);
  const rate: Estimate = { value: 60 / length.value, low: 60 / length.high, high: 60 / length.low, count: length.count };

  const seen = counted.filter((b) => Number.isFinite(b.notchProminence));
  const noise = Math.max(0.3, 2 * measureNoise(reading));
  const standing = seen.filter((b) => b.notchProminence > noise).length;
  const share = seen.length > 0 ? standing / seen.length : NaN;
  const aortic: AorticFacts = {
    systolic: say('peak', 'mm[Hg]', over((b) => b.systolic, err.systolic)), diastolic: say('trough', 'mm[Hg]', over((b) => b.diastolic, err.diastolic)),
    mean: say('mean', 'mm[Hg]', over((b) => b.mean, err.mean)), pulse: say('pulse', 'mm[Hg]', over((b) => b.systolic - b.diastolic, err.pulse)),
    notchShare: say('mean', '1', { value: share, low: Math.max(0, share - 1 / Math.sqrt(seen.length)), high: Math.min(1, share + 1 / Math.sqrt(seen.length)), count: seen.length }),
    notchProminence: say('mean', 'mm[Hg]', over((b) => b.notchProminence, () => noise / 4)), decay: say('decay', '/s', over((b) => b.decayPerS, (v) => 0.03 * Math.abs(v))),
  };
  const breath = estimateBreathing(counted, has.ventricular ? (b) => b.endDiastolic : (b) => b.diastolic, inputs.breathing);
  const ventricular: VentricularFacts = {
    systolic: say('lvPeak', 'mm[Hg]', over((b) => b.ventricularSystolic, err.lvSystolic)), minimum: say('lvTrough', 'mm[Hg]', over((b) => b.ventricularMinimum, err.lvTrough)),
    endDiastolic: say('lvTrough', 'mm[Hg]', over((b) => b.endDiastolic, err.endDiastolic)),
    endDiastolicAtExpiration: inputs.breathing === undefined ? refuseFact('mm[Hg]', method, stamp, makeReason('breathing-not-stated'))
      : breath === null ? refuseFact('mm[Hg]', method, stamp, makeReason('no-breathing-seen'))
        : say('lvTrough', 'mm[Hg]', estimateMean(breath.atExpiration.map((b) => b.endDiastolic), err.endDiastolic(m.endDiastolic))),
  };
  const gradients = summariseGradients(reading, counted, m, err, say, over);
  const leak = summariseLeak(reading, counted, m, err, rate, inputs, say, over, stamp);
  const ratio = reading.rAtS.length > 3 ? estimateMean(reading.rAtS.slice(1).map((r, k) => r - reading.rAtS[k]!).filter((d) => d > 0.2 && d < 3), 0) : null;
  const rhythm: RhythmFacts = {
    word: reading.word, ratePerMin: say('time', '/min', rate),
    variation: say('time', '1', { value: reading.variation, low: Math.max(0, reading.variation * (1 - 1.4 / Math.sqrt(counted.length))), high: reading.variation * (1 + 1.4 / Math.sqrt(counted.length)), count: counted.length }),
    beats: beats.length, counted: counted.length, premature: beats.filter((b) => b.kind === 'premature').length,
    ecgRatePerMin: ratio ? say('time', '/min', { value: 60 / ratio.value, low: 60 / ratio.high, high: 60 / ratio.low, count: ratio.count }) : refuseFact('/min', method, stamp, makeReason('not-in-recording')),
    spans: reading.spans,
  };
  const breathing: BreathingFacts = breath === null
    ? { ratePerMin: refuseFact('/min', method, stamp, makeReason('no-breathing-seen')), swingMmHg: refuseFact('mm[Hg]', method, stamp, makeReason('no-breathing-seen')) }
    : { ratePerMin: makeFact(breath.ratePerMin, breath.ratePerMin * 0.9, breath.ratePerMin * 1.1, '/min', method, from, stamp), swingMmHg: makeFact(breath.swingMmHg, Math.max(0, breath.swingMmHg - breath.halfMmHg), breath.swingMmHg + breath.halfMmHg, 'mm[Hg]', method, from, stamp) };
  return { beats: describeBeats(beats, err, alone, method, from, stamp), aortic, ventricular, gradients, leak, area: summariseArea(gradients, rate, inputs, stamp, method), rhythm, breathing };
}

/** What the findings do to one kind of number. */
interface Judged {
  readonly refusal: Reason | null;
  readonly doubts: readonly Reason[];
}
function judgeNeed(need: FactNeed, findings: readonly QualityFinding[], has: { readonly aortic: boolean; readonly ventricular: boolean }): Judged {
  const hits = findings.map((f) => ({ weight: weighFinding(f, need), reason: { code: f.code, text: f.text, next: f.next } }));
  const absent = need.channels.every((c) => has[c]) ? null : makeReason('not-in-recording');
  return { refusal: hits.find((h) => h.weight === 'refuse')?.reason ?? absent, doubts: hits.filter((h) => h.weight === 'doubt').map((h) => h.reason) };
}

type Say = (name: NeedName, unit: Ucum, e: Estimate, more?: readonly Reason[]) => Fact;
type Over = (of: (b: BeatMeasure) => number, error: (mean: number) => number) => Estimate;
interface Means {
  readonly systolic: number;
  readonly diastolic: number;
  readonly lvSystolic: number;
  readonly endDiastolic: number;
}

function summariseGradients(reading: BeatReading, counted: readonly BeatMeasure[], m: Means, err: Errors, say: Say, over: Over): GradientFacts {
  const { how, laid } = reading;
  const level = (m.systolic + m.lvSystolic) / 2;
  const of = (key: 'meanGradient' | 'peakGradient' | 'ejectionS', error: number): Estimate => estimateMean((how === 'pullback' ? laid : counted).map((b) => b[key]), error);
  const parted = combine([estimateMean(counted.map((b) => b.ventricularSystolic), 0), estimateMean(counted.map((b) => b.systolic), 0)], ([lv, ao]) => lv! - ao!, err.peakToPeak(m.lvSystolic, m.systolic));
  return {
    meanMmHg: say('meanGradient', 'mm[Hg]', keepAbove(of('meanGradient', err.meanGradient(level)))),
    peakToPeakMmHg: say('peakGradient', 'mm[Hg]', how === 'pullback' ? parted : over((b) => b.ventricularSystolic - b.systolic, () => err.peakToPeak(m.lvSystolic, m.systolic))),
    peakInstantaneousMmHg: say('peakGradient', 'mm[Hg]', keepAbove(of('peakGradient', err.peakGradient(level)))),
    ejectionS: say('meanGradient', 's', of('ejectionS', Math.hypot(0.008, 1.3 * meanOf((how === 'pullback' ? laid : counted).map((b) => b.ejectionSdS))))), how,
  };
}
/** A gradient is not below zero. */
const keepAbove = (e: Estimate): Estimate => ({ ...e, low: Math.min(e.value, Math.max(0, e.low)) });

function summariseLeak(reading: BeatReading, counted: readonly BeatMeasure[], m: Means, err: Errors, rate: Estimate, inputs: PressureInputs, say: Say, over: Over, stamp: FactStamp): LeakFacts {
  const deltaSd = err.delta(m.diastolic, m.endDiastolic);
  const indexSd = Math.hypot((100 * deltaSd) / m.systolic, (computeArIndex(m.systolic, m.diastolic, m.endDiastolic) * err.systolic(m.systolic)) / m.systolic);
  const sets = [estimateMean(counted.map((b) => b.systolic), 0), estimateMean(counted.map((b) => b.diastolic), 0), estimateMean(counted.map((b) => b.endDiastolic), 0)];
  const isParted = reading.how === 'pullback';
  const index = isParted ? combine(sets, ([s, d, l]) => computeArIndex(s!, d!, l!), indexSd) : over((b) => computeArIndex(b.systolic, b.diastolic, b.endDiastolic), () => indexSd);
  const delta = isParted ? combine(sets, ([, d, l]) => computeDiastolicDelta(d!, l!), deltaSd) : over((b) => computeDiastolicDelta(b.diastolic, b.endDiastolic), () => deltaSd);
  const adjusted = combine([delta, rate], ([d, r]) => computeRateAdjustedDelta(d!, 0, r!), 0);
  const moves = meanOf(counted.map((b) => b.pressureTimeSd));
  const dptAdjusted = over((b) => computeAdjustedPressureTime(b.diastolicPressureTime, b.systolic), (v) => Math.hypot((100 * err.area(m.diastolic, moves)) / m.systolic, (v * err.systolic(m.systolic)) / m.systolic));
  const arIndex = say('index', '1', index);
  const before = inputs.baselineArIndex;
  const ratio = (): Fact => {
    if (before?.value == null || before.low === null || before.high === null) return refuseFact('1', 'pressure/1', stamp, before?.reasons[0] ?? makeReason('baseline-missing'));
    const base: Estimate = { value: before.value, low: before.low, high: before.high, count: 2 };
    return say('index', '1', combine([index, base], ([a, b]) => computeArIndexRatio(a!, b!), 0), before.reasons);
  };
  return {
    arIndex, arIndexRatio: ratio(), diastolicDeltaMmHg: say('difference', 'mm[Hg]', delta), hrAdjustedMmHg: say('difference', 'mm[Hg]', adjusted),
    dptMmHg: say('area', 'mm[Hg]', over((b) => b.diastolicPressureTime, () => err.area(m.diastolic, moves))), dptAdjusted: say('peakGradient', '1', dptAdjusted),
    timeIntegrated: say('area', '1', over((b) => b.timeIntegrated, (v) => Math.hypot(0.03 * v, (v * moves) / m.diastolic)), [makeReason('definition-unverified')]),
    diastolicDecay: say('decay', '/s', over((b) => b.decayPerS, (v) => 0.03 * Math.abs(v))),
  };
}

function summariseArea(gradients: GradientFacts, rate: Estimate, inputs: PressureInputs, stamp: FactStamp, method: string): AreaFacts {
  const output = inputs.cardiacOutputLPerMin;
  const { meanMmHg: mean, ejectionS: ejection } = gradients;
  const refuse = (reason: Reason): AreaFacts => ({ gorlinCm2: refuseFact('cm2', method, stamp, reason), hakkiCm2: refuseFact('cm2', method, stamp, reason) });
  if (output === undefined) return refuse(makeReason('output-missing'));
  const known = (f: Fact): Estimate => ({ value: f.value ?? NaN, low: f.low ?? NaN, high: f.high ?? NaN, count: 2 });
  if (mean.value === null || ejection.value === null) return refuse(mean.reasons[0] ?? ejection.reasons[0] ?? makeReason('not-seen'));
  // An output by any method is known to about a tenth.
  const flow: Estimate = { value: output, low: 0.9 * output, high: 1.1 * output, count: 2 };
  const gorlin = combine([flow, rate, known(ejection), known(mean)], ([q, r, s, g]) => computeGorlinArea(q!, r!, s!, g!), 0);
  // With the rate as a part: where its interval holds 90 a minute, that of the area holds both forms.
  const hakki = combine([flow, known(mean), rate], ([q, g, r]) => computeHakkiArea(q!, g!, r!), 0);
  const from = ['gradients.meanMmHg', 'gradients.ejectionS', 'rhythm.ratePerMin'];
  return {
    gorlinCm2: makeFact(gorlin.value, gorlin.low, gorlin.high, 'cm2', 'pressure.gorlin/1', from, stamp, mean.reasons),
    hakkiCm2: makeFact(hakki.value, hakki.low, hakki.high, 'cm2', 'pressure.hakki/1', from, stamp, rate.high > 90 ? [...mean.reasons, makeReason('hakki-unverified')] : mean.reasons),
  };
}

/** A formula of independent estimates: each moved to its ends in turn, the moves added in quadrature. */
function combine(parts: readonly Estimate[], of: (values: readonly number[]) => number, systematicSd: number): Estimate {
  const values = parts.map((p) => p.value);
  const value = of(values);
  const reach = (side: 'low' | 'high'): number =>
    Math.hypot(1.96 * systematicSd, ...parts.map((p, k) => {
      const ends = [p.low, p.high].map((end) => of(values.map((v, j) => (j === k ? end : v))) - value);
      return side === 'low' ? Math.min(0, ...ends) : Math.max(0, ...ends);
    }));
  return { value, low: value - reach('low'), high: value + reach('high'), count: Math.min(...parts.map((p) => p.count)) };
}

function meanOf(values: readonly number[]): number {
  let [sum, n] = [0, 0];
  for (const v of values) if (Number.isFinite(v)) [sum, n] = [sum + v, n + 1];
  return sum / n;
}

/** SD of the recorded samples around their parabolas, of the aorta or else of the ventricle; from a part of the recording. */
function measureNoise({ channels }: BeatReading): number {
  const p = channels[0]?.prepared;
  if (!p) return 0;
  let [sum, n] = [0, 0];
  for (let i = 0; i < Math.min(p.raw.length, 5000); i++) {
    const d = p.raw[i]! - p.smooth[i]!;
    if (Number.isFinite(d)) [sum, n] = [sum + d * d, n + 1];
  }
  return n > 0 ? Math.sqrt(sum / n) : 0;
}

/** Each beat alone: its interval is the systematic error and half a step of reading. */
function describeBeats(beats: readonly BeatMeasure[], err: Errors, judged: Record<NeedName, Judged>, method: string, from: readonly string[], stamp: FactStamp): BeatFacts[] {
  const refusals = new Map<string, Fact>();
  const refuse = (name: NeedName, unit: Ucum, reason: Reason): Fact => {
    const key = `${name} ${unit} ${reason.code}`;
    const known = refusals.get(key) ?? refuseFact(unit, method, stamp, reason);
    refusals.set(key, known);
    return known;
  };
  const notSeen = makeReason('not-seen');
  const say = (name: NeedName, unit: Ucum, value: number, sdValue: number): Fact => {
    const { refusal, doubts } = judged[name];
    if (refusal) return refuse(name, unit, refusal);
    if (!Number.isFinite(value)) return refuse(name, unit, notSeen);
    const half = 1.96 * Math.hypot(sdValue, 0.3);
    return makeFact(value, value - half, value + half, unit, method, from, stamp, doubts);
  };
  return beats.map((b) => {
    const rate = 60 / b.lengthS;
    return {
      t: Math.round(b.atS * 1000) / 1000, kind: b.kind, systolic: say('peak', 'mm[Hg]', b.systolic, err.systolic(b.systolic)), diastolic: say('trough', 'mm[Hg]', b.diastolic, err.diastolic(b.diastolic)),
      mean: say('mean', 'mm[Hg]', b.mean, err.mean(b.mean)), endDiastolic: say('lvTrough', 'mm[Hg]', b.endDiastolic, err.endDiastolic(b.endDiastolic)),
      ratePerMin: say('time', '/min', rate, (0.01 * rate) / b.lengthS), ventricularSystolic: say('lvPeak', 'mm[Hg]', b.ventricularSystolic, err.lvSystolic(b.ventricularSystolic)),
      meanGradient: say('meanGradient', 'mm[Hg]', b.meanGradient, err.meanGradient((b.systolic + b.ventricularSystolic) / 2)),
      arIndex: say('index', '1', computeArIndex(b.systolic, b.diastolic, b.endDiastolic), (100 * err.delta(b.diastolic, b.endDiastolic)) / b.systolic),
    };
  });
}

