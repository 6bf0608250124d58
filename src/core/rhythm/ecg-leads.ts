import { detectQrs } from '../haemodynamics/detect-qrs.ts';
import { bridgeGaps, filterBothWays, findQuantile, makeButterworth } from '../haemodynamics/filters.ts';
import type { Channel, Recording } from '../haemodynamics/recording-types.ts';

export interface Lead {
  readonly label: string;
  /** mV, without the slow baseline. */
  readonly samples: Float64Array;
  readonly missing: number;
  readonly isFlat: boolean;
}
export interface EcgLeads {
  readonly samplesPerS: number;
  readonly startS: number;
  readonly leads: readonly Lead[];
  /** Of `leads`: the one with the clearest QRS. */
  readonly main: number;
  /** Samples. */
  readonly beats: readonly number[];
  readonly leftOut: number;
}

const BASELINE_HZ = 0.4;

/**
 * ECG channels of one rate and start (those of the largest such group), and the beats of the clearest lead.
 * Fails     never; null when no channel is an ECG
 */
export function readEcgLeads(recording: Recording): EcgLeads | null {
  const ecg = recording.channels.filter((c) => c.kind === 'ecg' && c.unit === 'mV' && c.samplesPerS > 0 && c.samples.length > 0);
  const key = (c: Channel): string => `${c.samplesPerS} ${c.startS} ${c.samples.length}`;
  const groups = [...new Set(ecg.map(key))].map((each) => ecg.filter((c) => key(c) === each)).sort((a, b) => b.length - a.length);
  const group = groups[0];
  if (!group) return null;
  const { samplesPerS, startS } = group[0]!;
  const leads = group.map((channel): Lead => {
    let missing = 0;
    let [low, high] = [Infinity, -Infinity];
    for (const v of channel.samples) {
      if (Number.isNaN(v)) missing++;
      else [low, high] = [Math.min(low, v), Math.max(high, v)];
    }
    const samples = filterBothWays(bridgeGaps(Float64Array.from(channel.samples)), makeButterworth('high', BASELINE_HZ, samplesPerS));
    return { label: channel.label, samples, missing: missing / channel.samples.length, isFlat: !(high - low > 0.05) };
  });
  let [main, clearest, beats] = [0, -1, [] as readonly number[]];
  for (const [k, lead] of leads.entries()) {
    if (lead.isFlat) continue;
    const found = detectQrs(lead.samples, samplesPerS);
    const clear = measureClarity(lead.samples, found, samplesPerS);
    if (clear > clearest) [main, clearest, beats] = [k, clear, found];
  }
  return { samplesPerS, startS, leads, main, beats, leftOut: ecg.length - group.length };
}

/** Steepest step inside a QRS over the steepest between two: the upper quarter of the latter, so that bursts of noise count. */
function measureClarity(x: Float64Array, beats: readonly number[], samplesPerS: number): number {
  const inside: number[] = [];
  const between: number[] = [];
  for (let k = 1; k < beats.length; k++) {
    const [a, b] = [beats[k - 1]!, beats[k]!];
    inside.push(findSteepest(x, b - 0.05 * samplesPerS, b + 0.05 * samplesPerS));
    between.push(findSteepest(x, a + 0.45 * (b - a), a + 0.6 * (b - a)));
  }
  return inside.length === 0 ? 0 : findQuantile(inside, 0.5) / Math.max(1e-6, findQuantile(between, 0.75));
}
function findSteepest(x: Float64Array, from: number, to: number): number {
  let most = 0;
  for (let i = Math.max(1, Math.round(from)); i <= Math.min(x.length - 1, Math.round(to)); i++) most = Math.max(most, Math.abs(x[i]! - x[i - 1]!));
  return most;
}
