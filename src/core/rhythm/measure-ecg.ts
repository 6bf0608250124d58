import { findQuantile, smoothMoving } from '../haemodynamics/filters.ts';
import type { Recording } from '../haemodynamics/recording-types.ts';
import { formatText } from '../text/catalogue.ts';
import { ECG_EN } from '../text/ecg-en.ts';
import { makeFact, refuseFact, type Fact, type FactStamp, type Reason } from '../units/fact.ts';
import { averageBeats, BEFORE_S, sortBeatForms } from './average-beats.ts';
import { readEcgLeads, type EcgLeads } from './ecg-leads.ts';
import type { EcgQuality, EcgQualityCode, EcgReading } from './ecg-types.ts';
import { findSuspicions, hasSpikes, measurePShare } from './find-suspicions.ts';
import { findWaveEdges } from './find-wave-edges.ts';

/** What the form of P can move its begin, measured on drawn forms (docs/methods/rhythm.md). */
const P_FORM_MS = 8;
/** 95 % half-widths of single readings by trained readers, from memory [M]: P on 10.2, QRS on 6.5, QRS off 11.6 ms. */
const PR_READER_MS = Math.hypot(10.2, 6.5, P_FORM_MS);
const QRS_READER_MS = Math.hypot(6.5, 11.6);
/** Added to it where noise sets the edges [P]. */
const NOISY_MS = 30;
const BLOCKS = 6;
const LEAST_BEATS = 5;

/**
 * Heart rate, PR and QRS of an ECG record, with what was doubtful. The rate is of the median RR (RH-10); PR and QRS are read
 * on the middle beat of the most frequent form, the earliest begin and the latest end of all leads.
 *
 * Units     ms, /min; s from the recording's start
 * Fails     never; what cannot be read is a refused fact with its reason
 * Accuracy  half-width: readers' scatter, scatter between parts of the record, one sample; docs/methods/rhythm.md
 * Source    docs/methods/rhythm.md
 */
export function measureEcg(recording: Recording, stamp: FactStamp): EcgReading {
  const quality: EcgQuality[] = [];
  const tell = (code: EcgQualityCode, text: string, next: string): EcgQuality => {
    const found = { code, text, next };
    quality.push(found);
    return found;
  };
  const refuseAll = (reason: Reason, beatsS: readonly number[] = [], leads: readonly string[] = []): EcgReading => ({
    ratePerMin: refuseFact('/min', 'rhythm.rate/1', stamp, reason), prMs: refuseFact('ms', 'rhythm.pr/1', stamp, reason), qrsMs: refuseFact('ms', 'rhythm.qrs/1', stamp, reason),
    beatsS, measured: 0, leads, suspicions: [], quality,
  });
  const ecg = readEcgLeads(recording);
  if (!ecg) return refuseAll(tell('ecg-none', ECG_EN.none, ECG_EN.noneNext));
  const { samplesPerS, beats } = ecg;
  const labels = ecg.leads.map((l) => l.label);
  for (const lead of ecg.leads) if (lead.isFlat) tell('ecg-flat', formatText(ECG_EN, 'flat', { lead: lead.label }), ECG_EN.flatNext);
  if (ecg.leads.every((l) => l.isFlat)) return refuseAll(quality[0]!, [], labels);
  if (ecg.leftOut > 0) tell('ecg-leads-differ', formatText(ECG_EN, 'leadsDiffer', { count: ecg.leftOut }), ECG_EN.leadsDifferNext);
  for (const lead of ecg.leads) if (lead.missing > 0) tell('ecg-gap', formatText(ECG_EN, 'gap', { lead: lead.label }), ECG_EN.gapNext);
  const used: EcgLeads = { ...ecg, leads: ecg.leads.filter((l) => !l.isFlat), main: ecg.leads.slice(0, ecg.main).filter((l) => !l.isFlat).length };
  // For finding single P waves: 20 ms takes noise and mains hum out and leaves P.
  const calm: EcgLeads = { ...used, leads: used.leads.map((l) => ({ ...l, samples: smoothMoving(l.samples, Math.max(3, Math.round(0.02 * samplesPerS))) })) };
  const beatsS = beats.map((at) => ecg.startS + at / samplesPerS);
  if (beats.length < LEAST_BEATS) return refuseAll(tell('ecg-few-beats', formatText(ECG_EN, 'fewBeats', { count: beats.length }), ECG_EN.fewBeatsNext), beatsS, labels);

  const rrS = beats.slice(1).map((at, k) => (at - beats[k]!) / samplesPerS);
  const middleRrS = findQuantile(rrS, 0.5);
  const spread = (findQuantile(rrS, 0.75) - findQuantile(rrS, 0.25)) / middleRrS;
  if (spread > 0.15) tell('ecg-irregular', ECG_EN.irregular, ECG_EN.irregularNext);
  const ratePerMin = makeRate(rrS, samplesPerS, stamp, quality.filter((q) => q.code === 'ecg-gap'));

  const forms = sortBeatForms(used);
  if (samplesPerS < 240) tell('ecg-sampling-slow', formatText(ECG_EN, 'slow', { rate: samplesPerS }), ECG_EN.slowNext);
  if (used.leads.length < 3) tell('ecg-leads-few', formatText(ECG_EN, 'leadsFew', { count: used.leads.length }), ECG_EN.leadsFewNext);
  if (hasSpikes(used)) tell('ecg-spikes', ECG_EN.spikes, ECG_EN.spikesNext);
  if (forms.usualShare < 0.6) tell('ecg-forms-many', ECG_EN.formsMany, ECG_EN.formsManyNext);
  else if (forms.secondShare > 0.1) tell('ecg-second-form', formatText(ECG_EN, 'secondForm', { share: Math.round(100 * forms.secondShare) }), ECG_EN.secondFormNext);

  if (forms.usual.length < LEAST_BEATS) {
    const reason = tell('ecg-few-beats', formatText(ECG_EN, 'fewBeats', { count: forms.usual.length }), ECG_EN.fewBeatsNext);
    return { ...refuseAll(reason, beatsS, labels), ratePerMin, suspicions: findSuspicions(calm, null) };
  }
  // The T of the beat before has ended 0.43 sqrt(RR) s after its QRS (a long QT [M]).
  const startS = Math.min(BEFORE_S - 0.01, middleRrS - 0.43 * Math.sqrt(middleRrS));
  const read = (at: readonly number[]): { readonly prMs: number; readonly qrsMs: number; readonly pTop: number; readonly pOn: number; readonly qrsOn: number; readonly noiseShare: number } => {
    const edges = findWaveEdges(averageBeats(used, at), samplesPerS, startS);
    const ms = 1000 / samplesPerS;
    return { prMs: (edges.qrsOn - edges.pOn) * ms, qrsMs: (edges.qrsOff - edges.qrsOn) * ms, pTop: edges.pTop, pOn: edges.pOn, qrsOn: edges.qrsOn, noiseShare: edges.noiseShare };
  };
  const whole = read(forms.usual);
  const isNoisy = whole.noiseShare >= 1.5;
  if (isNoisy) tell('ecg-noisy', ECG_EN.noisy, ECG_EN.noisyNext);
  const common = quality.filter((q) => q.code !== 'ecg-irregular' && q.code !== 'ecg-flat');
  const noiseMs = isNoisy ? NOISY_MS : 0;
  const parts = forms.usual.length < 2 * LEAST_BEATS ? [] : Array.from({ length: Math.min(BLOCKS, Math.floor(forms.usual.length / LEAST_BEATS)) }, (_, b, k = Math.min(BLOCKS, Math.floor(forms.usual.length / LEAST_BEATS))) => (
    read(forms.usual.slice(Math.floor((b * forms.usual.length) / k), Math.floor(((b + 1) * forms.usual.length) / k)))));
  const beforeSamples = Math.round(BEFORE_S * samplesPerS);
  // A P whose begin could not be told, as where PR changes from beat to beat, can still be looked for about its top.
  const halfP = 0.05 * samplesPerS;
  const isPlaced = !Number.isNaN(whole.pOn) || whole.pTop - halfP > beforeSamples - startS * samplesPerS;
  const pOn = Number.isNaN(whole.pOn) ? whole.pTop - halfP : whole.pOn;
  const p = isPlaced ? { from: pOn - beforeSamples, to: 2 * whole.pTop - pOn - beforeSamples } : null;
  const pShare = p ? measurePShare(calm, forms.usual, p, 0.02) : 0;
  // With a PR that changes from beat to beat the P is still there to be looked for.
  const isP = p !== null && (pShare >= 0.6 || measurePShare(calm, forms.usual, p, 0.08) >= 0.6);

  const qrsMs = Number.isNaN(whole.qrsMs)
    ? refuseFact('ms', 'rhythm.qrs/1', stamp, tell('ecg-edges-unclear', ECG_EN.edgesUnclear, ECG_EN.edgesUnclearNext))
    : makeInterval(whole.qrsMs, parts.map((each) => each.qrsMs), Math.hypot(QRS_READER_MS, noiseMs), samplesPerS, 'rhythm.qrs/1', labels, stamp, common);
  let prMs: Fact;
  if (Number.isNaN(whole.prMs)) prMs = refuseFact('ms', 'rhythm.pr/1', stamp, tell('ecg-p-not-found', ECG_EN.pNotFound, ECG_EN.pNotFoundNext));
  else if (pShare < 0.6) prMs = refuseFact('ms', 'rhythm.pr/1', stamp, tell('ecg-p-not-constant', ECG_EN.pNotConstant, ECG_EN.pNotFoundNext));
  else prMs = makeInterval(whole.prMs, parts.map((each) => each.prMs), Math.hypot(PR_READER_MS, noiseMs), samplesPerS, 'rhythm.pr/1', labels, stamp, common);
  return { ratePerMin, prMs, qrsMs, beatsS, measured: forms.usual.length, leads: labels, suspicions: findSuspicions(calm, isP ? p : null), quality };
}

function makeRate(rrS: readonly number[], samplesPerS: number, stamp: FactStamp, reasons: readonly Reason[]): Fact {
  const middle = findQuantile(rrS, 0.5);
  // Standard error of a median, 1.25 s / sqrt(n), and a sample at each end.
  const s = (findQuantile(rrS, 0.75) - findQuantile(rrS, 0.25)) / 1.349;
  const half = Math.hypot((2 * 1.25 * s) / Math.sqrt(rrS.length), 1 / samplesPerS);
  return makeFact(60 / middle, 60 / (middle + half), 60 / Math.max(0.5 * middle, middle - half), '/min', 'rhythm.rate/1', [], stamp, reasons);
}

function makeInterval(valueMs: number, parts: readonly number[], readerMs: number, samplesPerS: number, method: string, from: readonly string[], stamp: FactStamp, reasons: readonly Reason[]): Fact {
  const known = parts.filter((each) => Number.isFinite(each));
  const mean = known.reduce((sum, each) => sum + each, 0) / Math.max(1, known.length);
  const sd = known.length < 2 ? 0 : Math.sqrt(known.reduce((sum, each) => sum + (each - mean) ** 2, 0) / (known.length - 1));
  const half = Math.hypot(readerMs, 2 * sd, 1000 / samplesPerS);
  return makeFact(valueMs, valueMs - half, valueMs + half, 'ms', method, from, stamp, reasons);
}
