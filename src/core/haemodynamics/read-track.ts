import type { Channel, Recording } from './recording-types.ts';

/** The pressures on one grid, and the ECG on its own. */
export interface PressureTrack {
  readonly samplesPerS: number;
  /** Of sample 0, s. */
  readonly startS: number;
  readonly aortic: Float64Array | null;
  readonly ventricular: Float64Array | null;
  readonly ecg: { readonly samples: Float64Array; readonly samplesPerS: number; readonly startS: number } | null;
  /** More channels of one kind than are read. */
  readonly leftOut: number;
}

/** Finer grids than this show nothing more of a fluid-filled line; they are averaged down to at least it. */
const ENOUGH_PER_S = 250;

/**
 * The first aortic and the first ventricular pressure of a recording on the finer grid of the two (a coarser or skewed one
 * by straight lines between its samples), and the first ECG.
 * Units     mm[Hg]; a pressure in another unit is not taken
 * Fails     never: what is not there is null
 */
export function readTrack({ channels }: Pick<Recording, 'channels'>): PressureTrack {
  const find = (kind: Channel['kind']): readonly Channel[] =>
    channels.filter((c) => c.kind === kind && c.samples.length > 0 && c.samplesPerS > 0 && Number.isFinite(c.startS) && (kind === 'ecg' || c.unit === 'mm[Hg]'));
  const [ao, lv, ecg] = [find('aortic'), find('ventricular'), find('ecg')];
  const pressures = [ao[0], lv[0]].filter((c) => c !== undefined).map((c) => thinOut(c));
  const samplesPerS = Math.max(0, ...pressures.map((c) => c.samplesPerS));
  const startS = Math.min(...pressures.map((c) => c.startS));
  const length = Math.max(0, ...pressures.map((c) => Math.ceil((c.startS - startS + c.samples.length / c.samplesPerS) * samplesPerS - 1e-6)));
  const lay = (c: Channel | undefined): Float64Array | null => (c ? layOnGrid(thinOut(c), samplesPerS, startS, length) : null);
  return {
    samplesPerS, startS: pressures.length > 0 ? startS : 0, aortic: lay(ao[0]), ventricular: lay(lv[0]),
    ecg: ecg[0] ? { samples: new Float64Array(ecg[0].samples), samplesPerS: ecg[0].samplesPerS, startS: ecg[0].startS } : null,
    leftOut: Math.max(0, ao.length - 1) + Math.max(0, lv.length - 1),
  };
}

interface Sampled {
  readonly samples: Float32Array | Float64Array;
  readonly samplesPerS: number;
  readonly startS: number;
}
function thinOut(c: Sampled): Sampled {
  const by = Math.floor(c.samplesPerS / ENOUGH_PER_S);
  if (by < 2) return c;
  const samples = new Float64Array(Math.floor(c.samples.length / by));
  for (let i = 0; i < samples.length; i++) {
    let sum = 0;
    for (let j = 0; j < by; j++) sum += c.samples[i * by + j]!;
    samples[i] = sum / by;
  }
  return { samples, samplesPerS: c.samplesPerS / by, startS: c.startS + (by - 1) / 2 / c.samplesPerS };
}
function layOnGrid(c: Sampled, samplesPerS: number, startS: number, length: number): Float64Array {
  const out = new Float64Array(length);
  const step = c.samplesPerS / samplesPerS;
  const first = (startS - c.startS) * c.samplesPerS;
  if (step === 1 && Math.abs(first - Math.round(first)) < 1e-6) {
    // One copy by the engine: in a first run a loop over an hour of samples is the dearest part of all.
    const skip = Math.round(first);
    const [from, to] = [Math.max(0, skip), Math.min(c.samples.length, skip + length)];
    if (from - skip > 0) out.fill(NaN, 0, Math.min(length, from - skip));
    if (to > from) out.set(c.samples.subarray(from, to), from - skip);
    out.fill(NaN, Math.min(length, Math.max(0, to - skip)));
    return out;
  }
  for (let i = 0; i < length; i++) {
    const at = first + i * step;
    const j = Math.floor(at);
    const [a, b] = [c.samples[j] ?? NaN, c.samples[j + 1] ?? NaN];
    out[i] = at === j ? a : a + (at - j) * (b - a);
  }
  return out;
}
