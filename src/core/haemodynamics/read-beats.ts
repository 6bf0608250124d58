import { classifyBeats, type ClassifiedBeats } from './classify-beats.ts';
import { detectPulses, preparePressure, type PreparedPressure, type Pulse } from './detect-pulses.ts';
import { detectQrs } from './detect-qrs.ts';
import { findSpans, type SignalSpans } from './find-spans.ts';
import { judgeBeatShape, type BeatShape } from './judge-shape.ts';
import { EMPTY, measureBeat, measurePair, type BeatNumbers } from './measure-beat.ts';
import { READING_LIMITS } from './pressure-priors.ts';
import type { BeatMeasure } from './pressure-types.ts';
import type { PressureTrack } from './read-track.ts';

/** One pressure channel, read. */
export interface ReadChannel {
  readonly kind: 'aortic' | 'ventricular';
  /** As recorded, on the grid. */
  readonly raw: Float64Array;
  /** Without flushes, dead stretches and impossible samples (NaN there). */
  readonly prepared: PreparedPressure;
  readonly spans: SignalSpans;
  readonly pulses: readonly Pulse[];
  /** Share of its beats that look like each. */
  readonly arterialShare: number;
  readonly ventricularShare: number;
}
/** A recording as beats, before it is judged. */
export interface BeatReading extends ClassifiedBeats {
  readonly track: PressureTrack;
  readonly channels: readonly ReadChannel[];
  readonly how: 'simultaneous' | 'pullback' | 'none';
  readonly pullbackAtS: number | null;
  /** Gradients of beats laid over one another, of a pull-back. */
  readonly laid: readonly Pick<BeatMeasure, 'meanGradient' | 'peakGradient' | 'ejectionS' | 'ejectionSdS'>[];
  /** s from the recording's start. */
  readonly rAtS: readonly number[];
}

const AFTER_FLUSH_S = 0.8;
const MOSTLY = 0.7;
const DEAD_SHARE = 0.8;
/** Foot of the aorta after the R peak at most. */
const PULSE_DELAY_S = 0.4;

function cleanChannel(raw: Float64Array, samplesPerS: number): { readonly prepared: PreparedPressure; readonly spans: SignalSpans } {
  const spans = findSpans(raw, samplesPerS);
  const clean = raw.slice();
  for (const { from, to } of spans.flats) clean.fill(NaN, from, to);
  for (const { from, to } of spans.flushes) clean.fill(NaN, Math.max(0, from - Math.round(0.1 * samplesPerS)), to + Math.round(AFTER_FLUSH_S * samplesPerS));
  const [least, most] = READING_LIMITS.possibleMmHg;
  for (let i = 0; i < clean.length; i++) if (clean[i]! < least || clean[i]! > most) clean[i] = NaN;
  return { prepared: preparePressure(clean, samplesPerS), spans };
}

/**
 * Beats of a recording: pulses, what each channel looks like in each beat, the numbers of each beat, its class.
 * Units     as PressureTrack
 * Fails     never: without a pulse the list is empty
 */
export function readBeats(track: PressureTrack): BeatReading {
  const { samplesPerS, startS } = track;
  const named = (['aortic', 'ventricular'] as const).flatMap((kind) => (track[kind] ? [{ kind, raw: track[kind] }] : []));
  const cleaned = named.map((c) => {
    const { prepared, spans } = cleanChannel(c.raw, samplesPerS);
    return { ...c, prepared, spans, pulses: detectPulses(prepared) as readonly Pulse[] };
  });
  const [aorta, ventricle] = [cleaned.find((c) => c.kind === 'aortic'), cleaned.find((c) => c.kind === 'ventricular')];
  // No pulse of the aorta without one of the ventricle: a rise of the aorta alone is a wave.
  if (aorta && ventricle && ventricle.pulses.length >= 3 && ventricle.pulses.length < 0.9 * aorta.pulses.length) aorta.pulses = keepCaused(aorta.pulses, ventricle.pulses, samplesPerS);
  // The aorta leads; without a pulse in it the ventricle does.
  const lead = cleaned.find((c) => c.kind === 'aortic' && c.pulses.length >= 3) ?? cleaned.find((c) => c.pulses.length >= 3) ?? cleaned[0];
  const pulses = lead?.pulses ?? [];
  const shapesOf = cleaned.map((c) => pulses.slice(0, -1).map((p, k) => judgeBeatShape(c.prepared, p.footAt, pulses[k + 1]!.footAt)));
  const channels: ReadChannel[] = cleaned.map((c, k) => ({ ...c, arterialShare: shareOf(shapesOf[k]!, 'arterial'), ventricularShare: shareOf(shapesOf[k]!, 'ventricular') }));
  const rAtS = track.ecg ? detectQrs(track.ecg.samples, track.ecg.samplesPerS).map((i) => track.ecg!.startS + i / track.ecg!.samplesPerS) : [];
  const isSingle = channels.length === 1;
  const single = shapesOf[0] ?? [];
  const clear = single.filter((s) => s !== 'unclear');
  // A catheter is drawn once or twice, not every other beat.
  const turns = clear.filter((s, k) => k > 0 && s !== clear[k - 1]).length;
  const isPullback = isSingle && turns <= 3 && (['arterial', 'ventricular'] as const).every((shape) => clear.filter((s) => s === shape).length >= 3);
  const isTrusted = channels.map((c) => (c.kind === 'aortic' ? c.arterialShare : c.ventricularShare) >= 1 - MOSTLY);
  const isDead = channels.map((c) => c.spans.flats.reduce((n, f) => n + f.to - f.from, 0) > DEAD_SHARE * c.raw.length);
  let r = 0;
  const measured = pulses.slice(0, -1).map((p, k): BeatMeasure => {
    const [from, to] = [p.footAt, pulses[k + 1]!.footAt];
    const at = startS + from / samplesPerS;
    while (r + 1 < rAtS.length && rAtS[r + 1]! <= at + 0.02) r++;
    const rAt = rAtS[r] !== undefined && rAtS[r]! <= at + 0.02 && at - rAtS[r]! < PULSE_DELAY_S ? rAtS[r]! : NaN;
    const pick = (kind: 'aortic' | 'ventricular'): PreparedPressure | null => {
      // A catheter that is dead throughout takes no beat from the other one.
      if (isDead[channels.findIndex((c) => c.kind === kind)] && !isSingle) return null;
      if (isPullback) return single[k] === (kind === 'aortic' ? 'arterial' : 'ventricular') ? channels[0]!.prepared : null;
      const which = channels.findIndex((c) => c.kind === kind);
      if (which < 0) return null;
      // A beat that looks like the other chamber is not taken for this one, where the channel otherwise keeps its name.
      const isOther = shapesOf[which]![k] === (kind === 'aortic' ? 'ventricular' : 'arterial');
      return isTrusted[which] && isOther && !isSingle ? null : channels[which]!.prepared;
    };
    const [aortic, ventricular] = [pick('aortic'), pick('ventricular')];
    const beat = measureBeat({ aortic, ventricular, samplesPerS, startS }, from, to, rAt);
    const isTurning = isPullback && [k - 1, k + 1].some((j) => single[j] !== undefined && single[j] !== single[k]);
    if (beat.kind === 'partial' || ((aortic ?? ventricular) !== null && !isTurning)) return beat;
    return { ...beat, kind: 'disturbed' };
  });
  const classed = classifyBeats(measured);
  const laid = isPullback ? layBeats(channels[0]!.prepared, pulses, single, classed.beats) : [];
  const turn = isPullback ? single.findIndex((s, k) => k > 0 && s !== 'unclear' && single[k - 1] !== 'unclear' && s !== single[k - 1]) : -1;
  return {
    ...classed, track, channels, rAtS, laid, how: channels.length === 2 ? 'simultaneous' : isPullback ? 'pullback' : 'none',
    pullbackAtS: turn >= 0 ? classed.beats[turn]!.atS : null,
  };
}

function keepCaused(pulses: readonly Pulse[], causes: readonly Pulse[], samplesPerS: number): readonly Pulse[] {
  let k = 0;
  return pulses.filter(({ footAt }) => {
    while (k < causes.length && causes[k]!.steepAt < footAt - 0.25 * samplesPerS) k++;
    return k < causes.length && causes[k]!.steepAt <= footAt + 0.1 * samplesPerS;
  });
}

function shareOf(shapes: readonly BeatShape[], shape: BeatShape): number {
  const judged = shapes.filter((s) => s !== 'unclear');
  return judged.length >= 3 ? judged.filter((s) => s === shape).length / judged.length : 0;
}

/** Beats of the ventricle and of the aorta nearest to where the catheter was drawn, the foot of one where the other reaches it. */
function layBeats({ smooth, slope, samplesPerS }: PreparedPressure, pulses: readonly Pulse[], shapes: readonly BeatShape[], beats: readonly BeatMeasure[]): BeatReading['laid'] {
  const of = (shape: BeatShape): number[] => beats.flatMap((b, k) => (b.kind === 'counted' && shapes[k] === shape ? [k] : []));
  const [lv, ao] = [of('ventricular'), of('arterial')];
  if (lv.length === 0 || ao.length === 0) return [];
  const isLvFirst = lv[0]! < ao[0]!;
  const nearest = (list: number[], isEnd: boolean): number[] => (isEnd ? list.slice(-8).reverse() : list.slice(0, 8));
  const pairs = nearest(lv, isLvFirst).map((k, i) => [k, nearest(ao, !isLvFirst)[i]] as const);
  return pairs.flatMap(([k, a]) => {
    if (a === undefined) return [];
    const [vFoot, pFoot] = [pulses[k]!.footAt, pulses[a]!.footAt];
    const diastolic = beats[a]!.diastolic;
    let cross = vFoot;
    while (cross < pulses[k + 1]!.footAt && smooth[cross]! < diastolic) cross++;
    const back = Math.min(Math.round(0.1 * samplesPerS), cross, pFoot);
    const length = Math.min(pulses[k + 1]!.footAt - cross, pulses[a + 1]!.footAt - pFoot) + back;
    if (length < 0.3 * samplesPerS) return [];
    const out: BeatNumbers = { ...EMPTY };
    const v: PreparedPressure = { samplesPerS, raw: smooth, smooth: smooth.subarray(cross - back, cross - back + length), slope: slope.subarray(cross - back, cross - back + length) };
    measurePair(smooth.subarray(pFoot - back, pFoot - back + length), v, back, length - 1, out);
    return [{ meanGradient: out.meanGradient, peakGradient: out.peakGradient, ejectionS: out.ejectionS, ejectionSdS: out.ejectionSdS }];
  });
}
