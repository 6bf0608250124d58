import { differentiateQuadratic, findQuantile, smoothQuadratic } from '../haemodynamics/filters.ts';
import { BEFORE_S } from './average-beats.ts';

/** Places in the middle beat, in samples (fractions by the crossing of the threshold). NaN: not found. */
export interface WaveEdges {
  readonly qrsOn: number;
  readonly qrsOff: number;
  readonly pOn: number;
  readonly pTop: number;
  /** Height of P over the noise of the middle beat. */
  readonly pClarity: number;
}
const NO_EDGES: WaveEdges = { qrsOn: Number.NaN, qrsOff: Number.NaN, pOn: Number.NaN, pTop: Number.NaN, pClarity: 0 };

/** Shares of the steepest slope at which a wave begins and ends, and how long it must then stay quiet. Own choice [P]. */
const QRS_SHARE = 0.05;
const P_SHARE = 0.15;
const QUIET_S = 0.012;
const LEAST_P_MV = 0.03;
/** Half the distance over which a P stands out of its surroundings. */
const P_HALF_S = 0.06;

/**
 * Edges of QRS and P in the middle beat, from the slopes of all leads together: the earliest begin, the latest end.
 * `startS` is where the T of the beat before has surely ended, s before the QRS.
 */
export function findWaveEdges(middle: readonly Float64Array[], samplesPerS: number, startS: number): WaveEdges {
  const n = middle[0]?.length ?? 0;
  const slope = joinSlopes(middle.map((x) => differentiateQuadratic(x, Math.max(1, Math.round(0.006 * samplesPerS)))), n);
  const centre = Math.round(BEFORE_S * samplesPerS);
  const quiet = Math.max(2, Math.round(QUIET_S * samplesPerS));
  const near = Math.round(0.07 * samplesPerS);
  let top = centre;
  for (let i = Math.max(0, centre - near); i <= Math.min(n - 1, centre + near); i++) if (slope[i]! > slope[top]!) top = i;
  const floor = findQuantile(slope.subarray(Math.max(0, centre - Math.round(0.4 * samplesPerS)), Math.max(1, centre - near)), 0.25);
  const least = Math.max(QRS_SHARE * slope[top]!, 2.5 * floor);
  if (!(slope[top]! > 4 * floor && slope[top]! > 0)) return NO_EDGES;
  const reach = Math.round(0.16 * samplesPerS);
  const qrsOn = walkToQuiet(slope, top, -1, least, quiet, Math.max(0, top - reach));
  const qrsOff = walkToQuiet(slope, top, 1, least, quiet, Math.min(n - 1, top + Math.round(0.22 * samplesPerS)));
  if (Number.isNaN(qrsOn) || Number.isNaN(qrsOff)) return { ...NO_EDGES, qrsOn, qrsOff };
  return { qrsOn, qrsOff, ...findP(middle, samplesPerS, centre - startS * samplesPerS, qrsOn) };
}

function findP(middle: readonly Float64Array[], samplesPerS: number, from: number, qrsOn: number): Pick<WaveEdges, 'pOn' | 'pTop' | 'pClarity'> {
  const smooth = middle.map((x) => smoothQuadratic(x, Math.max(1, Math.round(0.012 * samplesPerS))));
  const half = Math.round(P_HALF_S * samplesPerS);
  const end = Math.floor(qrsOn);
  const start = Math.max(half, Math.ceil(from));
  let [pTop, height] = [Number.NaN, 0];
  const bump = (x: Float64Array, i: number): number => x[i]! - (x[i - half]! + x[Math.min(end, i + half)]!) / 2;
  for (let i = start; i <= end - Math.round(0.03 * samplesPerS); i++) {
    const h = Math.hypot(...smooth.map((x) => bump(x, i)));
    if (h > height) [pTop, height] = [i, h];
  }
  // What the smoothed beat leaves out is its noise.
  const noise = Math.hypot(...middle.map((x, k) => {
    let sum = 0;
    for (let i = start - half; i < end; i++) sum += (x[i]! - smooth[k]![i]!) ** 2;
    return Math.sqrt(sum / Math.max(1, end - start + half));
  }));
  const pClarity = height / Math.max(noise, 1e-4);
  if (!(height >= LEAST_P_MV && pClarity >= 4) || pTop <= start) return { pOn: Number.NaN, pTop, pClarity };
  const slope = joinSlopes(smooth.map((x) => differentiateQuadratic(x, Math.max(1, Math.round(0.008 * samplesPerS)))), middle[0]!.length);
  let steep = pTop;
  for (let i = Math.max(0, pTop - half); i <= pTop; i++) if (slope[i]! > slope[steep]!) steep = i;
  const floor = findQuantile(slope.subarray(Math.max(0, pTop - 3 * half), end), 0.1);
  const pOn = walkToQuiet(slope, steep, -1, Math.max(P_SHARE * slope[steep]!, 1.5 * floor), Math.max(2, Math.round(QUIET_S * samplesPerS)), Math.max(0, pTop - Math.round(0.13 * samplesPerS)));
  return { pOn, pTop, pClarity };
}

/** From the steep place outward to where the slope first stays under `least`; NaN when that is not before `end`. */
function walkToQuiet(slope: Float64Array, from: number, step: 1 | -1, least: number, quiet: number, end: number): number {
  for (let i = from; step > 0 ? i + quiet <= end : i - quiet >= end; i += step) {
    let isQuiet = true;
    for (let j = 0; j < quiet && isQuiet; j++) isQuiet = slope[i + step * j]! < least;
    if (!isQuiet) continue;
    const [outer, inner] = [slope[i]!, slope[i - step]!];
    return i === from ? Number.NaN : i - step * Math.min(1, Math.max(0, (least - outer) / Math.max(1e-12, inner - outer)));
  }
  return Number.NaN;
}

function joinSlopes(slopes: readonly Float64Array[], n: number): Float64Array {
  const joined = new Float64Array(n);
  for (const slope of slopes) for (let i = 0; i < n; i++) joined[i] = joined[i]! + slope[i]! * slope[i]!;
  return joined.map(Math.sqrt);
}
