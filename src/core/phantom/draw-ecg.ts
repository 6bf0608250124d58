import type { Channel, Recording } from '../haemodynamics/recording-types.ts';
import { normalQuantile, uniformAt } from '../math/random.ts';

/** One drawn beat: where its QRS begins, s; PR null: no P of its own. */
export interface DrawnBeat {
  readonly qrsOnS: number;
  readonly prMs: number | null;
  readonly qrsMs: number;
  readonly isSpiked?: boolean;
}
export interface DrawnEcg {
  readonly beats: readonly DrawnBeat[];
  /** P waves that no QRS follows: their begin, s. */
  readonly loneP?: readonly number[];
  readonly durationS: number;
  readonly samplesPerS: number;
  readonly seed: number;
  readonly noiseMv?: number;
  readonly humMv?: number;
  readonly humHz?: number;
  readonly wanderMv?: number;
  /** Form of P; a raised cosine when absent. `notched`: two humps, the second higher. */
  readonly pShape?: 'cosine' | 'sine' | 'notched';
  /** Waves of an atrium that flutters without order. */
  readonly fibrillationMv?: number;
}
/** P, Q, R, S, T heights in mV of three leads. */
const LEADS = [
  { label: 'I', p: 0.08, q: -0.05, r: 0.7, s: -0.1, t: 0.2 }, { label: 'II', p: 0.14, q: -0.08, r: 1.1, s: -0.25, t: 0.3 }, { label: 'V1', p: 0.06, q: 0.15, r: -0.9, s: 0.2, t: -0.1 },
] as const;
const P_S = 0.1;

/**
 * ECG in three leads with waves whose begin and end are exact: P and T are raised cosines, Q, R and S half sines that share
 * the QRS (first fifth, middle half, last three tenths). Baseline, hum, noise and fibrillation are added.
 */
export function drawEcg(drawn: DrawnEcg): Recording {
  const { samplesPerS, durationS } = drawn;
  const n = Math.round(durationS * samplesPerS);
  const { seed } = drawn;
  const waves = Array.from({ length: 6 }, (_, k) => ({ hz: 5 + 4 * uniformAt(seed, k, 10), phase: 2 * Math.PI * uniformAt(seed, k, 11) }));
  const channels = LEADS.map((lead, k): Channel => {
    const x = new Float64Array(n);
    const put = (fromS: number, lengthS: number, mv: number, shape: 'cosine' | 'sine' | 'notched'): void => {
      for (let i = Math.max(0, Math.ceil(fromS * samplesPerS)); i < n && i / samplesPerS < fromS + lengthS; i++) {
        const u = (i / samplesPerS - fromS) / lengthS;
        x[i] = x[i]! + mv * (shape === 'sine' ? Math.sin(Math.PI * u) : shape === 'notched' ? Math.sin(Math.PI * u) * (0.85 + 0.25 * Math.sin(4 * Math.PI * u + 2.6)) : (1 - Math.cos(2 * Math.PI * u)) / 2);
      }
    };
    for (const { qrsOnS, prMs, qrsMs, isSpiked } of drawn.beats) {
      const q = qrsMs / 1000;
      if (prMs !== null) put(qrsOnS - prMs / 1000, P_S, lead.p, drawn.pShape ?? 'cosine');
      if (isSpiked) put(qrsOnS - 0.003, 0.003, 1.2 * Math.sign(lead.r), 'sine');
      put(qrsOnS, 0.2 * q, lead.q, 'sine');
      put(qrsOnS + 0.2 * q, 0.5 * q, lead.r, 'sine');
      put(qrsOnS + 0.7 * q, 0.3 * q, lead.s, 'sine');
      put(qrsOnS + q + 0.08, 0.16, lead.t, 'cosine');
    }
    for (const at of drawn.loneP ?? []) put(at, P_S, lead.p, drawn.pShape ?? 'cosine');
    const phase = 2 * Math.PI * uniformAt(seed, k, 12);
    for (let i = 0; i < n; i++) {
      const t = i / samplesPerS;
      x[i] = x[i]! + (drawn.noiseMv ?? 0) * (drawn.noiseMv ? normalQuantile(uniformAt(seed, i, k)) : 0) + (drawn.humMv ?? 0) * Math.sin(2 * Math.PI * (drawn.humHz ?? 50) * t + phase) + (drawn.wanderMv ?? 0) * Math.sin(2 * Math.PI * 0.23 * t + phase);
      if (drawn.fibrillationMv) for (const w of waves) x[i] = x[i]! + (drawn.fibrillationMv / 3) * Math.sin(2 * Math.PI * w.hz * t + w.phase + Math.sin(0.9 * t * w.hz));
    }
    return { label: lead.label, kind: 'ecg', unit: 'mV', samplesPerS, startS: 0, samples: Float32Array.from(x) };
  });
  return { format: 'csv', startedAt: null, durationS, channels, marks: [], findings: [] };
}

/** Beats `rrS` apart, the first after one second. */
export function drawBeats(rrS: readonly number[], prMs: number | null, qrsMs: number, more: Pick<DrawnBeat, 'isSpiked'> = {}): DrawnBeat[] {
  let at = 1;
  return rrS.map((rr) => {
    const beat = { qrsOnS: at, prMs, qrsMs, ...more };
    at += rr;
    return beat;
  });
}
