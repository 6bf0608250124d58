import { formatText } from '../text/catalogue.ts';
import { PRESSURE_EN } from '../text/pressure-en.ts';
import { makeFact, type FactStamp } from '../units/fact.ts';
import { findQuantile } from './filters.ts';
import { measureHum } from './find-spans.ts';
import { measureFlush, measureRinging, measureRollOff, measureWhip, type MeasuredResponse } from './line-response.ts';
import { isAlternating } from './classify-beats.ts';
import { READING_LIMITS } from './pressure-priors.ts';
import type { BeatMeasure, LineResponse, PressureChannel, PressureInputs, PressureQualityCode, QualityFinding, QualityWeight } from './pressure-types.ts';
import { isWrongChannel } from './quality-effect.ts';
import type { BeatReading, ReadChannel } from './read-beats.ts';

export interface PressureAssessment {
  readonly findings: readonly QualityFinding[];
  readonly line: readonly LineResponse[];
}

const MOSTLY = 0.7;
const WHIP_MMHG = 0.9;
const RING_MOST_DAMPING = 0.3;
/** A rise that keeps less than these shares of its 4 Hz is slower than a heart makes it [P]: good lines of two unlike drawn circulations and of real recordings lie above. */
const DULL_AORTA = { at8Hz: 0, at10Hz: 0.18, at12Hz: 0.11 } as const;
const DULL_VENTRICLE = { at8Hz: 0.2, at10Hz: 0.055, at12Hz: 0 } as const;

type Add = (code: PressureQualityCode, weight: QualityWeight, channel: PressureChannel | null, values?: Readonly<Record<string, string | number>>, span?: readonly [number | null, number | null]) => void;

/**
 * What is wrong with a recording, each thing by its name: nothing is repaired or averaged away.
 * Source    docs/methods/pressure.md, "What is named"
 * Fails     never
 */
export function assessPressure(reading: BeatReading, stated: PressureInputs['line'] | null, stamp: FactStamp): PressureAssessment {
  const findings: QualityFinding[] = [];
  const add: Add = (code, weight, channel, values = {}, [fromS, toS] = [null, null]) => {
    const fill = (key: string): string => Object.entries(values).reduce((text, [hole, value]) => text.replaceAll(`{${hole}}`, String(value)), (PRESSURE_EN as Readonly<Record<string, string>>)[key] ?? key);
    findings.push({ code, text: fill(code), next: fill(`${code}-next`), weight, channel, fromS, toS });
  };
  const { channels, beats, track } = reading;
  if (track.leftOut > 0) add('several-channels', 'tell', null, { count: track.leftOut });
  if (track.samplesPerS < READING_LIMITS.slowestSamplesPerS) add('sampling-slow', 'doubt', null, { hz: track.samplesPerS.toFixed(0) });
  checkNames(reading, add);
  const line: LineResponse[] = [];
  for (const c of channels) {
    checkSignal(c, reading, add);
    checkLevels(c, beats, add);
    const response = checkLine(c, reading, add);
    if (response) line.push(describeResponse(c.kind, response, stamp));
    else if (stated) line.push(describeResponse(c.kind, { by: 'stated', ...stated, naturalHalfHz: 0.1 * stated.naturalHz, dampingHalf: 0.1, swingMmHg: NaN }, stamp));
  }
  checkTogether(reading, add);
  nameUnknownLines(reading, findings, line, add);
  checkRhythm(reading, add);
  // Named wrong: what else looks odd about that channel follows from it.
  const wrong = findings.filter((f) => isWrongChannel(f.code) || f.code === 'unit-looks-kpa').map((f) => f.channel);
  const isMoot = (f: QualityFinding): boolean => ['zero-doubtful', 'line-damped', 'line-unknown', 'ventricle-below-aorta', 'few-beats'].includes(f.code) && wrong.some((c) => c === null || f.channel === null || c === f.channel);
  // Beats without a diastole have no shape to be told by.
  const isAllFast = findings.some((f) => f.code === 'paced-fast' && f.weight === 'refuse');
  return { findings: findings.filter((f) => !isMoot(f) && !(isAllFast && isWrongChannel(f.code))), line };
}

function checkNames({ channels, how }: BeatReading, add: Add): void {
  const [ao, lv] = [channels.find((c) => c.kind === 'aortic'), channels.find((c) => c.kind === 'ventricular')];
  const looks = (c: ReadChannel): 'arterial' | 'ventricular' | 'unclear' => (c.arterialShare > MOSTLY ? 'arterial' : c.ventricularShare > MOSTLY ? 'ventricular' : 'unclear');
  if (ao && lv) {
    const [a, v] = [looks(ao), looks(lv)];
    if (a === 'ventricular' && v === 'arterial') return add('channels-swapped', 'refuse', null);
    if (a === v && a !== 'unclear') {
      const meanOf = (c: ReadChannel): number => c.prepared.smooth.reduce((s, p) => s + (Number.isNaN(p) ? 0 : p), 0) / c.prepared.smooth.reduce((s, p) => s + (Number.isNaN(p) ? 0 : 1), 0);
      return add('channels-alike', 'refuse', a === 'arterial' ? 'ventricular' : 'aortic', { shape: a === 'arterial' ? 'an artery' : 'a ventricle', mmHg: Math.abs(meanOf(ao) - meanOf(lv)).toFixed(1) });
    }
    return;
  }
  const only = ao ?? lv;
  if (!only || how === 'pullback') return;
  const own = only.kind === 'aortic' ? only.arterialShare : only.ventricularShare;
  const other = only.kind === 'aortic' ? only.ventricularShare : only.arterialShare;
  if (other > MOSTLY) add('channel-unlike-its-name', 'refuse', only.kind, { channel: only.kind, percent: (100 * own).toFixed(0) });
}

function checkSignal(c: ReadChannel, { track }: BeatReading, add: Add): void {
  const { samplesPerS, startS } = track;
  const second = (i: number): number => startS + i / samplesPerS;
  const { gaps, flats, flushes, clippedHigh, clippedLow, impossibleShare } = c.spans;
  const spanOf = (list: readonly { readonly from: number; readonly to: number }[]): [number, number] => [second(list[0]!.from), second(list.at(-1)!.to)];
  const seconds = (list: readonly { readonly from: number; readonly to: number }[]): string => (list.reduce((s, x) => s + x.to - x.from, 0) / samplesPerS).toFixed(1);
  if (gaps.length > 0) add('recording-gap', 'tell', c.kind, { seconds: seconds(gaps), count: gaps.length }, spanOf(gaps));
  if (flats.length > 0) {
    const share = flats.reduce((s, x) => s + x.to - x.from, 0) / c.raw.length;
    add('pressure-flat', share > 0.8 ? 'refuse' : 'tell', c.kind, { seconds: seconds(flats) }, spanOf(flats));
  }
  if (flushes.length > 0) add('flush-seen', 'tell', c.kind, {}, spanOf(flushes));
  if (clippedHigh.length > 0) add('pressure-clipped-high', 'doubt', c.kind, { count: clippedHigh.length, mmHg: c.raw[clippedHigh[0]!.from]!.toFixed(0) }, spanOf(clippedHigh));
  if (clippedLow.length > 0) add('pressure-clipped-low', 'doubt', c.kind, { count: clippedLow.length, mmHg: c.raw[clippedLow[0]!.from]!.toFixed(0) }, spanOf(clippedLow));
  if (impossibleShare > 0.001) add('pressure-not-possible', impossibleShare > 0.05 ? 'refuse' : 'doubt', c.kind, { percent: (100 * impossibleShare).toFixed(1) });
  for (const hz of [50, 60]) {
    const mmHg = measureHum(c.raw, hz, samplesPerS);
    if (mmHg >= READING_LIMITS.humMmHg) add('hum', mmHg > 3 ? 'doubt' : 'tell', c.kind, { hz, mmHg: mmHg.toFixed(1) });
  }
}

/** Scale, zero and drift, from the beats. */
function checkLevels(c: ReadChannel, beats: readonly BeatMeasure[], add: Add): void {
  const used = beats.filter((b) => b.kind === 'counted' || b.kind === 'premature' || b.kind === 'disturbed');
  const isAo = c.kind === 'aortic';
  const highs = used.map((b) => (isAo ? b.systolic : b.ventricularSystolic));
  const lows = used.map((b) => (isAo ? b.diastolic : b.ventricularMinimum));
  const [high, low] = [findQuantile(highs, 0.5), findQuantile(lows, 0.5)];
  if (Number.isNaN(high)) return;
  if (high < READING_LIMITS.kpaSystolicBelow && low < READING_LIMITS.kpaDiastolicBelow && low > -3) add('unit-looks-kpa', 'refuse', c.kind, { mmHg: high.toFixed(1) });
  const [least, most] = READING_LIMITS.zeroVentricleMmHg;
  if (isAo ? low < 0 : low < least || low > most) add('zero-doubtful', 'doubt', c.kind, { mmHg: low.toFixed(0) });
  const drift = fitDrift(used.map((b) => b.atS), highs, lows);
  if (Math.abs(drift) >= READING_LIMITS.driftMmHg) add('pressure-drifts', 'doubt', c.kind, { mmHg: drift.toFixed(0) }, [used[0]!.atS, used.at(-1)!.atS]);
}

/** Common rise of highs and lows over the recording, 0 where their difference moves more than a third of it. */
function fitDrift(at: readonly number[], highs: readonly number[], lows: readonly number[]): number {
  const keep = at.map((_, k) => k).filter((k) => Number.isFinite(highs[k]) && Number.isFinite(lows[k]));
  if (keep.length < 12) return 0;
  const third = Math.max(3, Math.floor(keep.length / 4));
  const step = (of: readonly number[]): number => findQuantile(keep.slice(-third).map((k) => of[k]!), 0.5) - findQuantile(keep.slice(0, third).map((k) => of[k]!), 0.5);
  const middle = (of: readonly number[], k: number, count: number): number => findQuantile(keep.slice(k, k + count).map((i) => of[i]!), 0.5);
  const [high, low] = [step(highs), step(lows)];
  if (Math.sign(high) !== Math.sign(low) || Math.abs(high - low) > 0.34 * Math.min(Math.abs(high), Math.abs(low))) return 0;
  // A drift goes one way: the middle lies between the ends.
  const half = middle(lows, Math.floor((keep.length - third) / 2), third) - middle(lows, 0, third);
  const share = half / low;
  return share > 0.15 && share < 0.85 ? (((high + low) / 2) * keep.length) / (keep.length - third) : 0;
}

function checkLine(c: ReadChannel, { track, beats, how }: BeatReading, add: Add): MeasuredResponse | null {
  // Of beats in turn only the long ones are alike enough to be laid over one another.
  const lengths = beats.map((b) => b.lengthS);
  const least = isAlternating(beats) ? (findQuantile(lengths, 0.1) + findQuantile(lengths, 0.9)) / 2 : 0;
  const quietAt = beats.filter((b) => b.kind === 'counted' && b.lengthS >= least).map((b) => b.atS);
  const isQuiet = (atS: number): boolean => quietAt.some((at) => Math.abs(at - atS) < 0.12);
  const pulses = c.pulses.length > 3000 ? c.pulses.slice(0, 600) : c.pulses;
  const quiet = pulses.filter((p) => (quietAt.length > 0 ? isQuiet(track.startS + p.footAt / track.samplesPerS) : false));
  const whip = measureWhip(c.prepared, quiet);
  if (whip > WHIP_MMHG) add('catheter-whips', 'doubt', c.kind, { mmHg: whip.toFixed(1) });
  const flush = measureFlush(c.raw, c.spans.flushes, track.samplesPerS);
  // A top that is cut off has corners that look like ringing.
  const isHidden = whip > WHIP_MMHG || c.spans.clippedHigh.length > 0;
  const ringing = isHidden ? null : measureRinging(c.prepared, quiet, c.kind);
  const isRinging = ringing !== null && ringing.dampingRatio < RING_MOST_DAMPING;
  if (flush) add('line-response', 'tell', c.kind, { hz: flush.naturalHz.toFixed(1), ratio: flush.dampingRatio.toFixed(2) });
  if (isRinging) add('line-rings', 'refuse', c.kind, { hz: ringing.naturalHz.toFixed(0), ratio: ringing.dampingRatio.toFixed(2) });
  if (!flush && c.spans.flushes.length > 0) add('line-damped', 'refuse', c.kind, { why: PRESSURE_EN.flushSlow });
  else if (!isRinging && !flush) {
    const rise = measureRollOff(c.prepared, quiet);
    // A pull-back holds beats of both.
    const dull = c.kind === 'aortic' && how !== 'pullback' ? DULL_AORTA : DULL_VENTRICLE;
    const isDull = rise !== null && (rise.at8Hz < dull.at8Hz || rise.at10Hz < dull.at10Hz || rise.at12Hz < dull.at12Hz);
    if (isDull) add('line-damped', 'doubt', c.kind, { why: formatText(PRESSURE_EN, 'smooth', { percent: (100 * rise.at10Hz).toFixed(0) }) });
  }
  return flush ?? (isRinging ? ringing : null);
}

/** What the beats do not show is not thereby fine: without a flush, mild ringing and mild damping cannot be told from a heart. */
function nameUnknownLines({ channels, beats }: BeatReading, findings: readonly QualityFinding[], line: readonly LineResponse[], add: Add): void {
  const unknown = channels.filter((c) => c.pulses.length >= 3 && !line.some((l) => l.channel === c.kind) && !findings.some((f) => f.code === 'line-damped' && f.channel === c.kind));
  if (beats.length === 0 || unknown.length === 0) return;
  add('line-unknown', 'doubt', unknown.length === channels.length ? null : unknown[0]!.kind);
}

function checkTogether({ beats, how, channels, rAtS, pullbackAtS }: BeatReading, add: Add): void {
  const counted = beats.filter((b) => b.kind === 'counted');
  if (how === 'pullback') add('pullback-seen', 'doubt', null, { seconds: (pullbackAtS ?? 0).toFixed(1) }, [pullbackAtS, pullbackAtS]);
  if (channels.length === 2) {
    const below = findQuantile(counted.map((b) => b.systolic - b.ventricularSystolic), 0.5);
    if (below > 4) add('ventricle-below-aorta', 'doubt', null, { mmHg: below.toFixed(0) });
  }
  if (rAtS.length > 3 && counted.length > 3) {
    const covered = beats.at(-1)!.atS + beats.at(-1)!.lengthS - beats[0]!.atS;
    const inside = rAtS.filter((r) => r > beats[0]!.atS - 0.3 && r < beats[0]!.atS + covered - 0.3).length;
    const isOff = Math.abs(inside - beats.length) > Math.max(2, 0.1 * beats.length);
    if (isOff) add('ecg-disagrees', 'doubt', 'ecg', { pressure: ((60 * beats.length) / covered).toFixed(0), ecg: ((60 * inside) / covered).toFixed(0) });
  }
}

function checkRhythm({ beats, word, variation, spans }: BeatReading, add: Add): void {
  const count = (kind: BeatMeasure['kind']): number => beats.filter((b) => b.kind === kind).length;
  const counted = count('counted');
  if (beats.length === 0) return add('no-beats', 'refuse', null);
  if (counted < READING_LIMITS.fewestBeats) add('few-beats', counted < 2 ? 'refuse' : 'doubt', null, { count: counted, least: READING_LIMITS.fewestBeats });
  const disturbed = count('disturbed');
  if (disturbed > 0) add('beats-disturbed', disturbed > 0.3 * beats.length ? 'doubt' : 'tell', null, { count: disturbed, all: beats.length });
  if (isAlternating(beats)) add('beats-alternate', 'doubt', null);
  if (word === 'irregular') add('rhythm-irregular', 'doubt', null, { percent: (100 * variation).toFixed(0) });
  if (count('premature') > 0) add('beats-premature', 'tell', null, { count: count('premature') });
  for (const s of spans) {
    const run = beats.filter((b) => b.kind === 'paced-fast' && b.atS >= s.fromS && b.atS < s.toS);
    add('paced-fast', counted < READING_LIMITS.fewestBeats ? 'refuse' : 'tell', null, { rate: (60 / findQuantile(run.map((b) => b.lengthS), 0.5)).toFixed(0) }, [s.fromS, s.toS]);
  }
  const rate = 60 / findQuantile(beats.filter((b) => b.kind === 'counted').map((b) => b.lengthS), 0.5);
  if (spans.length === 0 && rate >= READING_LIMITS.fastPerMin && variation < 0.03) add('paced-fast', 'refuse', null, { rate: rate.toFixed(0) });
}

function describeResponse(channel: LineResponse['channel'], r: MeasuredResponse, stamp: FactStamp): LineResponse {
  const from = [`recording.${channel}`];
  return {
    channel, by: r.by, naturalHz: makeFact(r.naturalHz, Math.max(0, r.naturalHz - r.naturalHalfHz), r.naturalHz + r.naturalHalfHz, 'Hz', 'pressure.line/1', from, stamp),
    dampingRatio: makeFact(r.dampingRatio, Math.max(0, r.dampingRatio - r.dampingHalf), r.dampingRatio + r.dampingHalf, '1', 'pressure.line/1', from, stamp),
  };
}
