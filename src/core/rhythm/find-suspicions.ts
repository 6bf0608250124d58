import { findQuantile } from '../haemodynamics/filters.ts';
import { formatText } from '../text/catalogue.ts';
import { ECG_EN } from '../text/ecg-en.ts';
import { isInTime } from './average-beats.ts';
import type { EcgLeads } from './ecg-leads.ts';
import type { BlockSuspicion, BlockSuspicionKind } from './ecg-types.ts';
import { level } from './level-line.ts';

/** Where the P of the measured form lies, in samples from its QRS (fractions rounded here). */
export interface PPlace {
  readonly from: number;
  readonly to: number;
}
/** A P is the same wave when its form agrees and its height is near. */
const LIKE = 0.8;
const HEIGHT = [0.4, 2.2] as const;

/** Share of the measured beats that show the P within `reachS` of its place, each by itself: a P that is only an average is none. */
export function measurePShare(ecg: EcgLeads, usual: readonly number[], place: PPlace, reachS: number): number {
  const shape = makeShape(ecg, usual, place);
  const lag = Math.round(reachS * ecg.samplesPerS);
  let count = 0;
  for (const at of usual) if (matchP(ecg, shape, at + Math.round(place.from), lag) !== null) count++;
  return count / Math.max(1, usual.length);
}

/**
 * Patterns of failing conduction. `place` null: no P was found; then pauses and a slow regular QRS alone can be told.
 * 2:1: a beat about 1.5 to 2.3 times as long as the short ones, with a second P near its middle, in three beats running.
 */
export function findSuspicions(ecg: EcgLeads, place: PPlace | null): readonly BlockSuspicion[] {
  const { beats, samplesPerS } = ecg;
  const rr = beats.map((at, k) => (k === 0 ? Number.NaN : (at - beats[k - 1]!) / samplesPerS));
  const usual = beats.filter((_, k) => isInTime(beats, k));
  const shape = place ? makeShape(ecg, usual, place) : null;
  const isAdded = rr.map((length, k) => {
    if (!place || !shape || k === 0) return false;
    const prS = -place.from / samplesPerS;
    // Before this the T of the beat would be taken for a P.
    const [from, to] = [Math.max(0.43 * Math.sqrt(length), 0.38 * length - prS), 0.62 * length - prS];
    return to > from && findP(ecg, shape, beats[k - 1]! + from * samplesPerS, beats[k - 1]! + to * samplesPerS);
  });
  const found = new Map<BlockSuspicionKind, { count: number; firstAtS: number }>();
  const add = (kind: BlockSuspicionKind, k: number): void => {
    const old = found.get(kind);
    if (old) old.count++;
    else found.set(kind, { count: 1, firstAtS: ecg.startS + beats[k]! / samplesPerS });
  };
  for (let k = 1; k < beats.length; k++) {
    if (isAdded[k] && (isAdded[k - 1] || isAdded[k + 1]) && (isAdded[k - 1] || isAdded[k + 2] || k + 2 >= beats.length)) {
      add('two-to-one', k - 1);
      continue;
    }
    const near = findQuantile([k - 4, k - 3, k - 2, k - 1].map((j) => rr[j] ?? Number.NaN), 0.5);
    // A pause after an early beat is the early beat's own.
    if (!(rr[k]! > 1.5 * near) || rr[k - 1]! < 0.85 * near) continue;
    if (!isAdded[k]) add('pause', k - 1);
    else add(place && shape && isGrowing(ecg, shape, place, k) ? 'dropped-beat-growing-pr' : 'dropped-beat', k - 1);
  }
  const middle = findQuantile(rr, 0.5);
  if (!place && beats.length >= 5 && middle > 1.3 && (findQuantile(rr, 0.75) - findQuantile(rr, 0.25)) / middle < 0.1) {
    found.set('slow-without-p', { count: beats.length, firstAtS: ecg.startS + beats[0]! / samplesPerS });
  }
  return [...found].map(([kind, { count, firstAtS }]) => ({ kind, count, firstAtS, code: `ecg-suspected-${kind}`, text: formatText(ECG_EN, `suspected-${kind}`, { count, at: firstAtS.toFixed(1) }), next: ECG_EN.suspectedNext }));
}

/** PR of the beats before the missing one grows by more than 20 ms. */
function isGrowing(ecg: EcgLeads, shape: Shape, place: PPlace, k: number): boolean {
  const lag = Math.round(0.1 * ecg.samplesPerS);
  const shifts = [k - 3, k - 2, k - 1].map((j) => (j >= 0 ? matchP(ecg, shape, ecg.beats[j]! + Math.round(place.from), lag) : null));
  return shifts.every((s) => s !== null) && shifts[0]! - shifts[2]! > 0.02 * ecg.samplesPerS && shifts[0]! >= shifts[1]! && shifts[1]! >= shifts[2]!;
}

interface Shape {
  readonly perLead: readonly Float64Array[];
  readonly power: number;
}
/** Median P of the beats, less its straight line, in all leads; in a second pass each beat's P is first laid on the others. */
function makeShape(ecg: EcgLeads, usual: readonly number[], place: PPlace): Shape {
  const from = Math.round(place.from);
  const length = Math.max(5, Math.round(place.to - place.from) + 1);
  const step = Math.max(1, Math.floor(usual.length / 200));
  const chosen = usual.filter((at, i) => i % step === 0 && at + from >= 0);
  const gather = (shifts: readonly number[]): Shape => {
    const perLead = ecg.leads.map(({ samples }) => level(Float64Array.from({ length }, (_, i) => findQuantile(chosen.map((at, b) => samples[at + from + shifts[b]! + i] ?? Number.NaN), 0.5))));
    return { perLead, power: perLead.reduce((sum, x) => sum + x.reduce((s, v) => s + v * v, 0), 0) };
  };
  const first = gather(chosen.map(() => 0));
  return gather(chosen.map((at) => matchP(ecg, first, at + from, Math.round(0.06 * ecg.samplesPerS), 0.5) ?? 0));
}
/** Shift in samples at which the signal shows the P best; null when nowhere within the lag. */
function matchP(ecg: EcgLeads, shape: Shape, at: number, lag: number, like0 = LIKE): number | null {
  const length = shape.perLead[0]!.length;
  let [best, shift] = [like0, null as number | null];
  for (let d = -lag; d <= lag; d++) {
    const from = at + d;
    if (from < 0 || from + length > ecg.leads[0]!.samples.length) continue;
    let [along, power] = [0, 0];
    for (const [k, { samples }] of ecg.leads.entries()) {
      const here = level(samples.slice(from, from + length));
      const wanted = shape.perLead[k]!;
      for (let i = 0; i < length; i++) {
        along += here[i]! * wanted[i]!;
        power += here[i]! * here[i]!;
      }
    }
    const height = along / shape.power;
    const like = along / Math.sqrt(power * shape.power);
    if (like > best && height >= HEIGHT[0] && height <= HEIGHT[1]) [best, shift] = [like, d];
  }
  return shift;
}
function findP(ecg: EcgLeads, shape: Shape, from: number, to: number): boolean {
  const middle = Math.round((from + to) / 2);
  return matchP(ecg, shape, middle, Math.max(0, Math.round((to - from) / 2))) !== null;
}

/**
 * Spikes as a pacemaker makes them: up and down again within 4 ms, at least 0.2 mV and three times the steps around it, before
 * 3 of 10 beats. A record of under 500 samples a second may not show them at all.
 */
export function hasSpikes({ leads, beats, samplesPerS }: EcgLeads): boolean {
  const width = Math.max(1, Math.round(0.002 * samplesPerS));
  const reach = Math.round(0.1 * samplesPerS);
  let count = 0;
  for (const at of beats) {
    const isSpiked = leads.some(({ samples: x }) => {
      for (let i = Math.max(3 * width, at - reach); i < Math.min(x.length - 3 * width, at); i++) {
        const sharp = Math.min(Math.abs(x[i]! - x[i - width]!), Math.abs(x[i]! - x[i + width]!));
        const isTop = (x[i]! - x[i - width]!) * (x[i]! - x[i + width]!) > 0;
        const around = Math.max(Math.abs(x[i - width]! - x[i - 3 * width]!), Math.abs(x[i + width]! - x[i + 3 * width]!));
        if (isTop && sharp >= 0.2 && sharp > 3 * around) return true;
      }
      return false;
    });
    if (isSpiked) count++;
  }
  return count >= 0.3 * beats.length && beats.length > 0;
}
