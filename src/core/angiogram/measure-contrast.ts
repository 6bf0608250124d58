import { succeed, type Result } from '../result.ts';
import { CONTRAST_EN } from '../text/contrast-en.ts';
import { makeFact, refuseFact, type Fact, type FactStamp, type Reason } from '../units/fact.ts';
import { assessCycles, assessMotion, assessRegions, assessSaid, looksSubtracted, openFindings, type AddFinding } from './assess-contrast.ts';
import { checkContrastAsk, checkRegions } from './check-contrast-ask.ts';
import { makeCoarseRun, makeLogTable, type CoarseRun } from './coarse-run.ts';
import { CONTRAST_LIMITS as LIMITS, CONTRAST_PRIORS, PUBLISHED_CYCLES } from './contrast-limits.ts';
import type { ContrastAnswer, ContrastAsk, ContrastFailureCode, ContrastFinding, ContrastRegions, ContrastRun } from './contrast-types.ts';
import { findArrival, hasLateVessel, makeDensityMaps, meanMap, refineArrival, refineBrightness, type Arrival } from './density-maps.ts';
import { estimateRatio, type RatioReading } from './estimate-ratio.ts';
import { findCycle } from './find-cycle.ts';
import { measureBackground } from './measure-background.ts';
import { findValvePlace, placeByMarks, placeRegions } from './propose-regions.ts';
import { listRegionPixels } from './region-pixels.ts';
import { readRegionCurve } from './read-curves.ts';
import { registerFrames, type FrameMotion } from './register-frames.ts';

const METHOD = 'contrast/1';
/** Frames that stand for the picture before contrast while nothing is known yet. */
const FIRST = 3;

interface Cycle { readonly lengthS: number; readonly sdS: number; readonly by: 'beats entered' | 'rate entered' | 'picture' }

/**
 * Time-density curves of aortic root and outflow tract, and the ratio of their areas over the published cycles, from one
 * angiographic run. What the picture or a person says against it is named; where a condition of the method fails the ratio is
 * refused, never 0 (checks AN-05). The grade by eye is not derived here.
 *
 * Shape     at least 8 frames of at least 32 x 32 pixels; frames, cycles and regions as ContrastAsk
 * Units     pixels and ms in; natural logarithm, s and a fraction out
 * Fails     ContrastFailureCode: what cannot be read as a run or a question at all
 * Refuses   each number by itself, with ContrastQualityCode
 * Source    docs/methods/contrast.md; checks AN-02 to AN-05
 */
export function measureContrast(run: ContrastRun, ask: ContrastAsk, stamp: FactStamp): Result<ContrastAnswer, ContrastFailureCode> {
  const checked = checkContrastAsk(run, ask);
  if (!checked.ok) return checked;
  const { findings, add } = openFindings();
  assessSaid(run, ask, add);
  const log = makeLogTable(run);
  const coarse = makeCoarseRun(run, log);
  const motion = registerFrames(coarse);
  const largest = assessMotion(run, motion, add);
  if (looksSubtracted(motion.reference)) add('run-subtracted', 'refuse');
  const maps = makeDensityMaps(coarse, motion);
  const timesS = findTimes(run, ask, add);
  const cycle = findCycleOf(ask, maps, coarse, timesS, add);
  const arrival = findArrival(maps, FIRST);
  // Told once, of the final span: the rough one only serves to propose regions.
  const rough = findSpan(run, ask, timesS, cycle, arrival, () => {});
  const regions = chooseRegions(run, ask, maps, coarse, rough, timesS, add);
  const root = rough && regions ? Array.from(readRegionCurve(run, log, motion.shiftsPx, regions.aorta), (v, t) => motion.brightness[t]! - v) : null;
  const span = findSpan(run, ask, timesS, cycle, root ? { ...arrival, frame: refineArrival(root, arrival.frame!) } : arrival, add);
  const reading = span && regions ? readRatio({ run, ask, log, coarse, motion, maps, timesS: timesS ?? run.frames.map((_, i) => i), cycle, span, regions, add }) : null;
  return succeed(composeAnswer({ run, ask, stamp, findings, largest, motion, timesS, cycle, span, regions, reading }));
}

/** s from the first frame; null when nobody knows. */
function findTimes(run: ContrastRun, ask: ContrastAsk, add: AddFinding): readonly number[] | null {
  const times = run.frameTimesMs?.map((t) => (t - run.frameTimesMs![0]!) / 1000) ?? (ask.framesPerS === undefined ? null : run.frames.map((_, i) => i / ask.framesPerS!));
  if (times === null) {
    add('frame-times-unknown', 'refuse');
    return null;
  }
  const rate = (times.length - 1) / times.at(-1)!;
  if (rate < LIMITS.slowestFramesPerS.doubt) add('frame-rate-low', rate < LIMITS.slowestFramesPerS.refuse ? 'refuse' : 'doubt', { rate: rate.toFixed(1) });
  return times;
}

function findCycleOf(ask: ContrastAsk, maps: readonly Float32Array[], coarse: CoarseRun, timesS: readonly number[] | null, add: AddFinding): Cycle | null {
  if (timesS === null) return null;
  const steps = timesS.slice(1).map((t, i) => t - timesS[i]!);
  const mean = timesS.at(-1)! / steps.length;
  const isEven = steps.every((s) => Math.abs(s - mean) < 0.25 * mean);
  const seen = isEven ? findCycle(maps, coarse, mean) : null;
  const beats = ask.beatTimesMs;
  const entered = beats ? (beats.at(-1)! - beats[0]!) / 1000 / (beats.length - 1) : ask.ratePerMin === undefined ? null : 60 / ask.ratePerMin;
  if (entered === null) return seen ? { lengthS: seen.lengthS, sdS: Math.max(seen.sdS, CONTRAST_PRIORS.cycleRatio.value * seen.lengthS), by: 'picture' } : null;
  if (seen && Math.abs(seen.lengthS - entered) > 0.15 * entered) add('rate-disagrees', 'doubt', { picture: (60 / seen.lengthS).toFixed(0), entered: (60 / entered).toFixed(0) });
  return beats ? { lengthS: entered, sdS: 0.01 * entered, by: 'beats entered' } : { lengthS: entered, sdS: CONTRAST_PRIORS.cycleRatio.value * entered, by: 'rate entered' };
}

interface Span {
  /** Frames before contrast, from 0, both included. */
  readonly mask: readonly [number, number];
  readonly fromS: number;
  readonly toS: number;
  readonly cycles: number | null;
  readonly isByFrames: boolean;
}

/** Mask and window of the areas. */
function findSpan(run: ContrastRun, ask: ContrastAsk, timesS: readonly number[] | null, cycle: Cycle | null, arrival: Arrival, add: AddFinding): Span | null {
  if (arrival.isBrightening) add('contrast-brightens', 'refuse');
  if (arrival.frame === null) {
    add('no-contrast-seen', 'refuse');
    return null;
  }
  const isByFrames = ask.frames !== undefined;
  const start = isByFrames ? Math.min(ask.frames![0] - 1, arrival.frame) : arrival.frame;
  if (arrival.isAtOnce || start < LIMITS.fewestMaskFrames) {
    add('no-frames-before-contrast', 'refuse');
    return null;
  }
  if (timesS === null) return null;
  const stepS = timesS.at(-1)! / (timesS.length - 1);
  const last = Math.max(LIMITS.fewestMaskFrames - 1, start - Math.max(2, Math.round(LIMITS.guardS / stepS)));
  let first = 0;
  if (cycle) {
    const frames = cycle.lengthS / stepS;
    const whole = Math.floor((last + 1) / frames + 0.02);
    if (whole >= 1) first = Math.max(0, last + 1 - Math.round(whole * frames));
    else add('baseline-short', 'doubt', { frames: last + 1 });
  }
  const wanted = ask.cycles ?? PUBLISHED_CYCLES.value;
  const fromS = isByFrames ? timesS[ask.frames![0] - 1]! : timesS[Math.max(0, arrival.frame - 1)]!;
  const endS = timesS.at(-1)!;
  const room = cycle ? Math.floor((endS - fromS) / cycle.lengthS + 0.02) : 0;
  const count = Math.min(wanted, room);
  const toS = isByFrames ? timesS[ask.frames![1] - 1]! : cycle && count >= 1 ? Math.min(endS, fromS + count * cycle.lengthS) : endS;
  const cycles = cycle ? (toS - fromS) / cycle.lengthS : null;
  assessCycles(cycle ? 60 / cycle.lengthS : null, isByFrames ? (cycles ?? 0) : count, wanted, isByFrames, add);
  return { mask: [first, last], fromS, toS, cycles, isByFrames };
}

type ChosenRegions = ContrastRegions & { readonly by: 'entered' | 'frame marks' | 'proposed' };
function chooseRegions(run: ContrastRun, ask: ContrastAsk, maps: readonly Float32Array[], coarse: CoarseRun, span: Span | null, timesS: readonly number[] | null, add: AddFinding): ChosenRegions | null {
  if (ask.regions) return { ...ask.regions, by: 'entered' };
  const sound = (regions: ContrastRegions): boolean => checkRegions(run, regions).ok;
  if (ask.marks) {
    const placed = placeRegions(placeByMarks(ask.marks), run.columns, run.rows);
    if (sound(placed)) {
      add('regions-proposed', 'doubt');
      return { ...placed, by: 'frame marks' };
    }
  } else if (span && timesS) {
    const from = timesS.findIndex((t) => t > span.fromS);
    const to = timesS.findIndex((t) => t > span.fromS + 1.2);
    const [first, last] = [Math.max(span.mask[1] + 1, from), to < 0 ? maps.length : Math.max(to, from + 3)];
    const before = meanMap(maps, span.mask[0], span.mask[1] + 1);
    const early = meanMap(maps, first, Math.min(maps.length, last)).map((v, i) => v - before[i]!);
    const place = findValvePlace(early, coarse);
    const placed = place ? placeRegions(place, run.columns, run.rows) : null;
    if (placed && sound(placed)) {
      add('regions-proposed', 'doubt');
      return { ...placed, by: 'proposed' };
    }
  }
  add('regions-not-found', 'refuse');
  return null;
}

interface Reading extends RatioReading {
  readonly aortaCurve: readonly number[];
  readonly outflowCurve: readonly number[];
  readonly brightness: readonly number[];
}
interface ReadInput {
  readonly run: ContrastRun; readonly ask: ContrastAsk; readonly log: Float64Array; readonly coarse: CoarseRun; readonly motion: FrameMotion; readonly maps: readonly Float32Array[];
  readonly timesS: readonly number[]; readonly cycle: Cycle | null; readonly span: Span; readonly regions: ChosenRegions; readonly add: AddFinding;
}

function readRatio({ run, ask, log, coarse, motion: rough, maps, timesS, cycle, span, regions, add }: ReadInput): Reading {
  const { mask } = span;
  const motion = refineBrightness(coarse, rough, maps, mask, mask[1] + 1);
  const own = regions.background ? readRegionCurve(run, log, motion.shiftsPx, regions.background) : null;
  const level = (values: ArrayLike<number>): number => {
    let sum = 0;
    for (let t = mask[0]; t <= mask[1]; t++) sum += values[t]!;
    return sum / (mask[1] - mask[0] + 1);
  };
  const light = own ?? motion.brightness;
  const lightBefore = level(light);
  const brightness = Array.from(light, (v) => v - lightBefore);
  const curve = (polygon: ContrastRegions['aorta']): number[] => {
    const raw = readRegionCurve(run, log, motion.shiftsPx, polygon);
    const before = level(raw);
    return Array.from(raw, (v, t) => before - v + brightness[t]!);
  };
  const [aorta, outflow] = [curve(regions.aorta), curve(regions.outflow)];
  const first = Math.max(0, timesS.findIndex((t) => t >= span.fromS));
  const after = timesS.findIndex((t) => t > span.toS);
  const window: readonly [number, number] = [first, (after < 0 ? timesS.length : after) - 1];
  assessRegions(run, log, motion, regions, { mask, window, hasLateVessel: seesLateVessel(run, coarse, maps, mask, window[1], regions), isClearSaid: ask.isOverlapped === false }, { aorta }, add);
  const change = motion.brightness.map((b, t) => b - rough.brightness[t]!);
  const meanOf = ([a, b]: readonly [number, number]): number => change.slice(a, b + 1).reduce((sum, v) => sum + v, 0) / (b - a + 1);
  const backgroundSd = measureBackground(maps, coarse, mask, window, meanOf(window) - meanOf(mask));
  const reading = estimateRatio({
    run, log, shiftsPx: motion.shiftsPx, timesS, aorta, outflow, regions, isProposed: regions.by !== 'entered', mask, fromS: span.fromS, toS: span.toS,
    cycle, isByFrames: span.isByFrames, backgroundSd,
  });
  if (!(reading.aorta.area > 0)) add('root-not-dense', 'refuse', { peak: reading.aorta.peak.toFixed(2) });
  else if (reading.high - reading.ratio > LIMITS.widestRatio) add('noise-large', 'doubt', { width: (reading.high - reading.low).toFixed(2) });
  return { ...reading, aortaCurve: aorta, outflowCurve: outflow, brightness };
}

function seesLateVessel({ columns, rows }: ContrastRun, coarse: CoarseRun, maps: readonly Float32Array[], mask: readonly [number, number], last: number, regions: ContrastRegions): boolean {
  const inside = new Set([...listRegionPixels(regions.outflow, columns, rows)].map((p) => Math.floor(Math.floor(p / columns) / coarse.factor) * coarse.columns + Math.floor((p % columns) / coarse.factor)));
  const before = meanMap(maps, mask[0], mask[1] + 1);
  // The later half: the descending aorta fills when the root has had its contrast.
  const late = meanMap(maps, Math.min(last, Math.ceil((mask[1] + last) / 2)), last + 1).map((v, i) => v - before[i]!);
  return hasLateVessel(late, coarse, (c, r) => inside.has(r * coarse.columns + c));
}

interface Parts {
  readonly run: ContrastRun; readonly ask: ContrastAsk; readonly stamp: FactStamp; readonly findings: readonly ContrastFinding[]; readonly largest: number; readonly motion: FrameMotion;
  readonly timesS: readonly number[] | null; readonly cycle: Cycle | null; readonly span: Span | null; readonly regions: ChosenRegions | null; readonly reading: Reading | null;
}

function composeAnswer({ run, ask, stamp, findings, largest, motion, timesS, cycle, span, regions, reading }: Parts): ContrastAnswer {
  const bare = ({ code, text, next }: ContrastFinding): Reason => ({ code, text, next });
  const refusals = findings.filter((f) => f.weight === 'refuse').map(bare);
  const doubts = findings.filter((f) => f.weight === 'doubt').map(bare);
  const from = regions ? [`regions ${regions.by}`] : [];
  const silent: Reason = { code: 'ratio-not-said', text: CONTRAST_EN['ratio-not-said'], next: CONTRAST_EN['regions-not-found-next'] };
  const refuse = (unit: Fact['unit'], name: string, reasons: readonly Reason[]): Fact => {
    const [first, ...others] = reasons.length > 0 ? reasons : [silent];
    const fact = refuseFact(unit, `${METHOD}/${name}`, stamp, first!);
    return { ...fact, reasons: [...fact.reasons, ...others] };
  };
  const say = (value: number, half: number, unit: Fact['unit'], name: string, reasons: readonly Reason[], kind: 'computed' | 'entered' = 'computed'): Fact => makeFact(value, value - half, value + half, unit, `${METHOD}/${name}`, from, stamp, reasons, kind);
  const region = (part: RatioReading['aorta'] | undefined, name: string): ContrastAnswer['aorta'] => part
    ? { area: say(part.area, 1.96 * part.sd, 's', `${name}/area`, [...refusals, ...doubts]), peak: say(part.peak, (1.96 * part.sd) / Math.max(0.2, span!.toS - span!.fromS), '1', `${name}/peak`, [...refusals, ...doubts]) }
    : { area: refuse('s', `${name}/area`, refusals), peak: refuse('1', `${name}/peak`, refusals) };
  const unknown = findings.filter((f) => f.code === 'frame-times-unknown').map(bare);
  const framesPerS = timesS ? (timesS.length - 1) / timesS.at(-1)! : null;
  const isSaid = reading !== null && refusals.length === 0;
  const frameAt = (s: number, isEnd: boolean): number => {
    const k = timesS!.findIndex((t) => t >= s - 1e-9);
    return k < 0 ? timesS!.length : timesS![k]! > s + 1e-9 && isEnd ? k : k + 1;
  };
  return {
    format: 'trinadir.contrast/1', size: { rows: run.rows, columns: run.columns, frames: run.frames.length },
    framesPerS: framesPerS === null ? refuse('/s', 'frames', unknown) : say(framesPerS, 0, '/s', 'frames', [], run.frameTimesMs ? 'computed' : 'entered'),
    mask: span ? { fromFrame: span.mask[0] + 1, toFrame: span.mask[1] + 1 } : null,
    window: span ? {
      fromMs: span.fromS * 1000, toMs: span.toS * 1000, fromFrame: frameAt(span.fromS, false), toFrame: frameAt(span.toS, true),
      cycles: span.cycles === null || cycle === null ? refuse('1', 'cycles', findings.filter((f) => f.code === 'cycles-unknown').map(bare)) : say(span.cycles, span.isByFrames ? (1.96 * cycle.sdS * span.cycles) / cycle.lengthS : 0, '1', 'cycles', []),
      by: span.isByFrames ? 'frames entered' : 'cycles',
    } : null,
    cycle: {
      ratePerMin: cycle === null ? refuse('/min', 'rate', findings.filter((f) => f.code === 'cycles-unknown' || f.code === 'frame-times-unknown').map(bare)) : say(60 / cycle.lengthS, (1.96 * 60 * cycle.sdS) / cycle.lengthS ** 2, '/min', 'rate', findings.filter((f) => f.code === 'rate-disagrees').map(bare), cycle.by === 'picture' ? 'computed' : 'entered'),
      by: cycle?.by ?? 'none',
    },
    regions, motion: { shiftsPx: motion.shiftsPx, largest: say(100 * largest, Math.min(100 * largest, 0.1), '%', 'motion', []) },
    curves: { timesMs: reading ? timesS!.map((t) => t * 1000) : [], aorta: reading?.aortaCurve ?? [], outflow: reading?.outflowCurve ?? [], brightness: reading?.brightness ?? [] },
    aorta: region(reading?.aorta, 'root'), outflow: region(reading?.outflow, 'outflow'),
    ratio: isSaid ? makeFact(reading.ratio, reading.low, reading.high, '1', `${METHOD}/ratio`, [...from, ...(ask.ratePerMin !== undefined ? ['rate entered'] : [])], stamp, doubts) : refuse('1', 'ratio', refusals),
    parts: isSaid ? reading.parts : null, quality: findings,
  };
}
