import type { Channel, ChannelKind, Recording } from '../haemodynamics/recording-types.ts';
import { normalAt, uniformAt } from '../math/random.ts';
import type { CirculationTruth, LineShape } from './circulation-types.ts';

/** A line that changes nothing. */
export const CLEAR_LINE: LineShape = {
  naturalHz: Infinity, dampingRatio: 1, zeroMmHg: 0, gain: 1, driftMmHgPerMin: 0, noiseMmHg: 0, humMmHg: 0, humHz: 50, clipHighMmHg: Infinity, clipLowMmHg: -Infinity,
  stepMmHg: 0, whipMmHg: 0, gaps: [], flats: [], flushes: [],
};
/** What a good fluid-filled line looks like [P]. */
export const GOOD_LINE: LineShape = { ...CLEAR_LINE, naturalHz: 28, dampingRatio: 0.5, noiseMmHg: 0.3, stepMmHg: 0.1 };

const FLUSH_MMHG = 300;

/**
 * A pressure as catheter, transducer and recorder show it: flush, second-order line (bilinear, prewarped at its natural
 * frequency), whip, gain, zero, drift, noise, hum, clipping, converter step, dead spans and gaps, in this order.
 * Fails     never
 */
export function drawLine(pressureMmHg: Float64Array, samplesPerS: number, line: LineShape, seed: number): Float32Array {
  const n = pressureMmHg.length;
  let x: Float64Array = Float64Array.from(pressureMmHg);
  const span = (at: readonly [number, number]): [number, number] => [Math.max(0, Math.round(at[0] * samplesPerS)), Math.min(n, Math.round(at[1] * samplesPerS))];
  for (const at of line.flushes) x.fill(FLUSH_MMHG, ...span(at));
  if (Number.isFinite(line.naturalHz)) x = passLine(x, samplesPerS, line.naturalHz, line.dampingRatio);
  if (line.whipMmHg > 0) addWhip(x, pressureMmHg, samplesPerS, line.whipMmHg, seed);
  const out = new Float32Array(n);
  for (let i = 0; i < n; i++) {
    const t = i / samplesPerS;
    let p = x[i]! * line.gain + line.zeroMmHg + (line.driftMmHgPerMin * t) / 60 + line.noiseMmHg * normalAt(seed, i, 21) + line.humMmHg * Math.sin(2 * Math.PI * line.humHz * t);
    p = Math.min(line.clipHighMmHg, Math.max(line.clipLowMmHg, p));
    out[i] = line.stepMmHg > 0 ? Math.round(p / line.stepMmHg) * line.stepMmHg : p;
  }
  for (const at of line.flats) out.fill(out[span(at)[0]] ?? 0, ...span(at));
  for (const at of line.gaps) out.fill(NaN, ...span(at));
  return out;
}

/** y'' + 2 z w y' + w^2 y = w^2 x by the bilinear rule; starts at rest in the first sample. */
function passLine(x: Float64Array, samplesPerS: number, naturalHz: number, dampingRatio: number): Float64Array {
  const k = Math.tan((Math.PI * Math.min(naturalHz, 0.45 * samplesPerS)) / samplesPerS);
  const norm = 1 + 2 * dampingRatio * k + k * k;
  const [b0, a1, a2] = [(k * k) / norm, (2 * (k * k - 1)) / norm, (1 - 2 * dampingRatio * k + k * k) / norm];
  const y = new Float64Array(x.length);
  let [x1, x2, y1, y2] = [x[0] ?? 0, x[0] ?? 0, x[0] ?? 0, x[0] ?? 0];
  for (let i = 0; i < x.length; i++) {
    const now = b0 * (x[i]! + 2 * x1 + x2) - a1 * y1 - a2 * y2;
    [x2, x1, y2, y1] = [x1, x[i]!, y1, now];
    y[i] = now;
  }
  return y;
}

/** Short blows while the pressure is high, at random times: the catheter tip is thrown about by the stream. */
function addWhip(x: Float64Array, pressure: Float64Array, samplesPerS: number, peakMmHg: number, seed: number): void {
  let mean = 0;
  for (const p of pressure) mean += p / pressure.length;
  const every = Math.round(0.06 * samplesPerS);
  for (let i = 0; i < x.length; i += every) {
    if (!(pressure[i]! > mean * 1.1)) continue;
    const height = peakMmHg * (2 * uniformAt(seed, i, 22) - 1);
    const width = 0.012 * samplesPerS;
    for (let j = Math.max(0, i - 3 * Math.ceil(width)); j < Math.min(x.length, i + 3 * Math.ceil(width)); j++) x[j] = x[j]! + height * Math.exp(-0.5 * ((j - i) / width) ** 2);
  }
}

export interface DrawnLines {
  readonly aortic?: LineShape;
  readonly ventricular?: LineShape;
  readonly withEcg?: boolean;
}
/** The circulation as a recording: a channel for each line that is given. */
export function drawRecording(truth: CirculationTruth, lines: DrawnLines, seed: number): Recording {
  const channels: Channel[] = [];
  const add = (label: string, kind: ChannelKind, unit: string, samples: Float32Array): void => {
    channels.push({ label, kind, unit, samplesPerS: truth.samplesPerS, startS: 0, samples });
  };
  if (lines.aortic) add('AO', 'aortic', 'mm[Hg]', drawLine(truth.aorticMmHg, truth.samplesPerS, lines.aortic, seed));
  if (lines.ventricular) add('LV', 'ventricular', 'mm[Hg]', drawLine(truth.ventricularMmHg, truth.samplesPerS, lines.ventricular, seed + 1));
  if (lines.withEcg) add('II', 'ecg', 'mV', Float32Array.from(truth.ecgMv));
  return { format: 'csv', startedAt: null, durationS: truth.aorticMmHg.length / truth.samplesPerS, channels, marks: [], findings: [] };
}
