import { findQuantile } from '../haemodynamics/filters.ts';
import type { EcgLeads } from './ecg-leads.ts';

/** Window of a beat about its QRS, s. */
export const BEFORE_S = 0.5;
export const AFTER_S = 0.3;
/** Part of it by which beats are compared. */
const CORE_S = [-0.08, 0.1] as const;
const LIKE = 0.9;
const MOST_BEATS = 480;

export interface BeatForms {
  /** Sample of each beat of the most frequent form, neither premature nor after a premature one, aligned to one another. */
  readonly usual: readonly number[];
  /** Shares of all beats that could be compared. */
  readonly usualShare: number;
  readonly secondShare: number;
}

/** Beats sorted by the form of their QRS in the main lead. */
export function sortBeatForms({ leads, main, beats, samplesPerS }: EcgLeads): BeatForms {
  const x = leads[main]!.samples;
  const [from, to] = [Math.round(CORE_S[0] * samplesPerS), Math.round(CORE_S[1] * samplesPerS)];
  const margin = Math.ceil(Math.max(BEFORE_S, AFTER_S) * samplesPerS) + to;
  const able = beats.map((at, k) => ({ at, k })).filter(({ at }) => at - margin >= 0 && at + margin < x.length);
  const forms: { readonly core: Float64Array; readonly members: { at: number; k: number }[] }[] = [];
  const lag = Math.round(0.02 * samplesPerS);
  for (const { at, k } of able) {
    let best = { form: -1, like: LIKE, at };
    for (const [f, form] of forms.entries()) {
      for (let d = -lag; d <= lag; d++) {
        const like = correlate(x, at + d + from, form.core);
        if (like > best.like) best = { form: f, like, at: at + d };
      }
      if (best.form === f && best.like > 0.97) break;
    }
    if (best.form >= 0) forms[best.form]!.members.push({ at: best.at, k });
    else if (forms.length < 12) forms.push({ core: x.slice(at + from, at + to + 1), members: [{ at, k }] });
  }
  forms.sort((a, b) => b.members.length - a.members.length);
  const usual = (forms[0]?.members ?? []).filter(({ k }) => isInTime(beats, k)).map(({ at }) => at);
  return { usual, usualShare: (forms[0]?.members.length ?? 0) / Math.max(1, able.length), secondShare: (forms[1]?.members.length ?? 0) / Math.max(1, able.length) };
}

/** Neither early (under 85 % of the beats around it) nor the beat after an early one. */
export function isInTime(beats: readonly number[], k: number): boolean {
  const length = (j: number): number => (j > 0 && j < beats.length ? beats[j]! - beats[j - 1]! : Number.NaN);
  const near = findQuantile([length(k - 3), length(k - 2), length(k - 1), length(k), length(k + 1), length(k + 2), length(k + 3)], 0.5);
  return k > 0 && length(k) >= 0.85 * near && !(length(k - 1) < 0.85 * near);
}

function correlate(x: Float64Array, from: number, core: Float64Array): number {
  const n = core.length;
  let [sx, sc] = [0, 0];
  for (let i = 0; i < n; i++) {
    sx += x[from + i]!;
    sc += core[i]!;
  }
  let [xx, cc, xc] = [0, 0, 0];
  for (let i = 0; i < n; i++) {
    const [a, b] = [x[from + i]! - sx / n, core[i]! - sc / n];
    xx += a * a;
    cc += b * b;
    xc += a * b;
  }
  return xx > 0 && cc > 0 ? xc / Math.sqrt(xx * cc) : 0;
}

/** Middle beat of each lead (median over the beats, sample by sample); at most 480 beats, evenly chosen. */
export function averageBeats({ leads, samplesPerS }: EcgLeads, at: readonly number[]): readonly Float64Array[] {
  const [before, after] = [Math.round(BEFORE_S * samplesPerS), Math.round(AFTER_S * samplesPerS)];
  const step = Math.max(1, at.length / MOST_BEATS);
  const chosen = Array.from({ length: Math.min(at.length, MOST_BEATS) }, (_, i) => at[Math.floor(i * step)]!);
  return leads.map(({ samples }) => {
    const middle = new Float64Array(before + after + 1);
    const column = new Float64Array(chosen.length);
    for (let i = 0; i < middle.length; i++) {
      for (const [j, beat] of chosen.entries()) column[j] = samples[beat - before + i]!;
      column.sort();
      const half = column.length >> 1;
      middle[i] = column.length % 2 === 1 ? column[half]! : (column[half - 1]! + column[half]!) / 2;
    }
    return middle;
  });
}
