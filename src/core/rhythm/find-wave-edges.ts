import { differentiateQuadratic, findQuantile, smoothQuadratic } from '../haemodynamics/filters.ts';
import { BEFORE_S } from './average-beats.ts';
import { level } from './level-line.ts';

/** Places in the middle beat, in samples (fractions by the crossing of the threshold). NaN: not found. */
export interface WaveEdges {
  readonly qrsOn: number;
  readonly qrsOff: number;
  readonly pOn: number;
  readonly pTop: number;
  /** Slope of the noise over that at which a QRS begins: from 1 on the noise sets the edges. */
  readonly noiseShare: number;
  /** Height of P over the noise of the middle beat. */
  readonly pClarity: number;
}
const NO_EDGES: WaveEdges = { qrsOn: Number.NaN, qrsOff: Number.NaN, pOn: Number.NaN, pTop: Number.NaN, noiseShare: Number.NaN, pClarity: 0 };

/** Share of the steepest slope at which QRS begins and ends, and how long it must then stay quiet. Own choice [P]. */
const QRS_SHARE = 0.05;
const QUIET_S = 0.012;
const LEAST_P_MV = 0.03;
/** Less of the stretch explained by one wave: a tail of T or a wandering line, no P. */
const LEAST_EXPLAINED = 0.75;
/** Half the distance over which a P stands out of its surroundings. */
const P_HALF_S = 0.06;

/**
 * Edges of QRS and P in the middle beat, from the slopes of all leads together: the earliest begin, the latest end.
 * `startS` is where the T of the beat before has surely ended, s before the QRS.
 */
export function findWaveEdges(middle: readonly Float64Array[], samplesPerS: number, startS: number): WaveEdges {
  const n = middle[0]?.length ?? 0;
  const half = Math.max(1, Math.round(0.004 * samplesPerS));
  const slope = joinSlopes(middle.map((x) => differentiateQuadratic(x, half)), n);
  const centre = Math.round(BEFORE_S * samplesPerS);
  const quiet = Math.max(2, Math.round(QUIET_S * samplesPerS));
  const near = Math.round(0.07 * samplesPerS);
  let top = centre;
  for (let i = Math.max(0, centre - near); i <= Math.min(n - 1, centre + near); i++) if (slope[i]! > slope[top]!) top = i;
  const floor = findQuantile(slope.subarray(Math.max(0, centre - Math.round(0.4 * samplesPerS)), Math.max(1, centre - near)), 0.25);
  const noiseShare = (2.5 * floor) / (QRS_SHARE * slope[top]!);
  const least = Math.max(QRS_SHARE * slope[top]!, 2.5 * floor);
  if (!(slope[top]! > 4 * floor && slope[top]! > 0)) return NO_EDGES;
  const reach = Math.round(0.16 * samplesPerS);
  // The slope is taken over 2 half + 1 samples, so a sharp edge shows up to `half` too early: half of that is taken back.
  const qrsOn = half / 2 + walkToQuiet(slope, top, -1, least, quiet, Math.max(0, top - reach));
  const qrsOff = -half / 2 + walkToQuiet(slope, top, 1, least, quiet, Math.min(n - 1, top + Math.round(0.22 * samplesPerS)));
  if (Number.isNaN(qrsOn) || Number.isNaN(qrsOff)) return { ...NO_EDGES, qrsOn, qrsOff, noiseShare };
  return { qrsOn, qrsOff, noiseShare, ...findP(middle, samplesPerS, centre - startS * samplesPerS, qrsOn) };
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
  const pOn = fitP(middle, samplesPerS, pTop, end);
  // One that begins before the T has ended may be the T.
  return { pOn: pOn >= from ? pOn : Number.NaN, pTop, pClarity };
}

/**
 * Begin of P: one wave, common in place, width and form (raised cosine or half sine) to all leads, on a straight line in each,
 * by least squares over a grid. A slope threshold alone follows the noise of a few beats. NaN when the best one lies at the
 * edge of the grid.
 */
function fitP(middle: readonly Float64Array[], samplesPerS: number, pTop: number, end: number): number {
  const first = Math.max(0, pTop - Math.round(0.12 * samplesPerS));
  const last = Math.min(end - 1, pTop + Math.round(0.09 * samplesPerS));
  const n = last - first + 1;
  if (n < 8) return Number.NaN;
  const flat = middle.map((x) => level(x.subarray(first, last + 1)));
  const gridMs = 4;
  const [widths, places] = [Array.from({ length: 31 }, (_, i) => (50 + gridMs * i) / 1000), Array.from({ length: 15 }, (_, i) => ((i - 7) * gridMs) / 1000)];
  let best = { left: -1, on: Number.NaN, width: 0 };
  for (const width of widths) {
    for (const [place, isSharp] of places.flatMap((each) => [[each, false], [each, true]] as const)) {
      const on = pTop + (place - width / 2) * samplesPerS;
      const bump = new Float64Array(n);
      for (let i = 0; i < n; i++) {
        const u = (first + i - on) / (width * samplesPerS);
        bump[i] = !(u > 0 && u < 1) ? 0 : isSharp ? Math.sin(Math.PI * u) : (1 - Math.cos(2 * Math.PI * u)) / 2;
      }
      const shape = level(bump);
      let power = 0;
      for (const v of shape) power += v * v;
      let explained = 0;
      for (const x of flat) {
        let along = 0;
        for (let i = 0; i < n; i++) along += x[i]! * shape[i]!;
        explained += (along * along) / power;
      }
      if (explained > best.left) best = { left: explained, on, width };
    }
  }
  const all = flat.reduce((sum, x) => sum + x.reduce((of, v) => of + v * v, 0), 0);
  if (!(best.left >= LEAST_EXPLAINED * all)) return Number.NaN;
  return best.width === widths[0] || best.width === widths.at(-1) || best.on < first - 1 ? Number.NaN : best.on;
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
