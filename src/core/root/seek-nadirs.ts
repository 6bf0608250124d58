import { normalAt } from '../math/random.ts';
import { solveSmall } from '../math/solve-small.ts';
import type { Vec3 } from '../math/vec3.ts';
import { readCrown, type Crown } from './find-crown.ts';
import type { Hinge } from './fit-hinges.ts';
import { HINGE_BIAS_MM, nadirPoints, type RootLook } from './locate-root.ts';
import { wrapTurn } from './measure-sinuses.ts';
import { sumLineBelow } from './mend-wall.ts';
import { isTrusted } from './refine-crown.ts';
import { cylinderFromLps, lpsFromCylinder, type RootFrame } from './root-frame.ts';

/** The lowest point of one cusp's attachment, in the frame of the hinges. */
export interface Nadir {
  readonly azimuthRad: number;
  readonly heightMm: number;
  readonly radiusMm: number;
  /** SD of the height over the plane of the three, and of the place along the wall. */
  readonly heightSdMm: number;
  readonly alongSdMm: number;
}

/** Attachments are no parabolas: what is added to the crown, one SD, and over how much azimuth it turns. */
const WAVE_SD_MM = 0.6;
const WAVE_LENGTH_RAD = 0.4;
const WAVES = 12;
const SIZE = 2 * WAVES + 1;
/** Scatter of good hinges about a smooth curve beyond their own SD. */
const HINGE_SD_MM = 0.25;
const RADIUS_SD_MM = 0.2;
const RADIUS_WAVE_SD_MM = 2;
/** Azimuth error of a hinge, times the crown's slope. */
const AZIMUTH_SD_RAD = 0.035;
/** Student's t with so many degrees of freedom: a hinge far off its neighbours says little. */
const FREEDOM = 2;
/** At first every hinge may be this many times farther off, so that a stretch that is no parabola is not taken for outliers. */
const COOLING = [6, 3, 1.5, 1, 1, 1];
const FEWEST = 8;
/** A fit reaches 3.5 mm up and down from the crown and ends at that limit where it sees no hinge; one so far off is none. */
const MOST_OFF_CROWN_MM = 2.5;
/**
 * The misfit is stated as a share of the contrast, but what the model leaves out (fat, chambers beside the wall) does not
 * pale with the blood: in faint blood good hinges exceed the limit of trust by this much. The curve is robust and weighs
 * each hinge by its SD, which grows with the misfit, so it can take them.
 */
const MORE_MISFIT = 0.05;
/** No attachment was met that is lowest farther than 0.3 rad from the nadir of the crown fitted to it. */
const REACH_RAD = 0.5;
const DRAWS = 64;
const DRAW_SEED = 4177;
const STEP_RAD = Math.PI / 180;
const MOST_SCATTER = 4;
const ROUNDS = 3;
const OPENING_REACH_RAD = 0.2;

const TURN = 2 * Math.PI;

/** Sum of waves over azimuth, with the lower triangle that turns normal numbers into its doubt. */
interface WaveFit {
  readonly mean: Float64Array;
  readonly rootOfInverse: readonly Float64Array[];
}

function fillWaves(rad: number, out: Float64Array): void {
  out[0] = 1;
  for (let k = 1; k <= WAVES; k++) {
    out[2 * k - 1] = Math.cos(k * rad);
    out[2 * k] = Math.sin(k * rad);
  }
}

/** Variance of each wave, so that the sum is smooth over WAVE_LENGTH_RAD and has the SD given. */
function listVariances(sdMm: number): Float64Array {
  const out = new Float64Array(SIZE);
  let sum = 0;
  for (let k = 0; k <= WAVES; k++) {
    const v = Math.exp(-((k * WAVE_LENGTH_RAD) ** 2) / 2) * (k === 0 ? 0.5 : 1);
    sum += v;
    if (k === 0) out[0] = v;
    else out[2 * k - 1] = out[2 * k] = v;
  }
  return out.map((v) => (v * sdMm * sdMm) / sum);
}

/** Bayesian least squares of waves, robust by Student's t. `off` is what the waves have to explain. */
function fitWaves(rads: readonly number[], off: readonly number[], sds: readonly number[], waveSdMm: number): WaveFit | null {
  const n = rads.length;
  const rows = rads.map((rad) => {
    const row = new Float64Array(SIZE);
    fillWaves(rad, row);
    return row;
  });
  const variances = listVariances(waveSdMm);
  const weights = new Float64Array(n).fill(1);
  let mean = new Float64Array(SIZE);
  const normal = new Float64Array(SIZE * SIZE);
  for (const heat of COOLING) {
    normal.fill(0);
    const right = new Float64Array(SIZE);
    for (let i = 0; i < n; i++) {
      const row = rows[i]!;
      const w = weights[i]! / (sds[i]! * sds[i]!);
      for (let p = 0; p < SIZE; p++) {
        const q = w * row[p]!;
        right[p]! += q * off[i]!;
        for (let s = 0; s <= p; s++) normal[p * SIZE + s]! += q * row[s]!;
      }
    }
    for (let p = 0; p < SIZE; p++) {
      normal[p * SIZE + p]! += 1 / variances[p]!;
      for (let s = 0; s < p; s++) normal[s * SIZE + p] = normal[p * SIZE + s]!;
    }
    const solved = solveSmall(Float64Array.from(normal), right, SIZE);
    if (!solved) return null;
    mean = Float64Array.from(solved);
    for (let i = 0; i < n; i++) {
      const e = (off[i]! - sumWaves(mean, rows[i]!)) / (heat * sds[i]!);
      weights[i] = (FREEDOM + 1) / (FREEDOM + e * e);
    }
  }
  const lower = factorCholesky(normal);
  return lower && { mean, rootOfInverse: lower };
}

function sumWaves(c: Float64Array, row: Float64Array): number {
  let sum = 0;
  for (let p = 0; p < SIZE; p++) sum += c[p]! * row[p]!;
  return sum;
}

/** Lower triangle L with L L' = a, row by row; null when a is not positive definite. */
function factorCholesky(a: Float64Array): Float64Array[] | null {
  const rows: Float64Array[] = [];
  for (let i = 0; i < SIZE; i++) {
    const row = new Float64Array(SIZE);
    for (let k = 0; k <= i; k++) {
      let sum = a[i * SIZE + k]!;
      const other = k === i ? row : rows[k]!;
      for (let m = 0; m < k; m++) sum -= row[m]! * other[m]!;
      if (k === i) {
        if (!(sum > 0)) return null;
        row[i] = Math.sqrt(sum);
      } else row[k] = sum / other[k]!;
    }
    rows.push(row);
  }
  return rows;
}

/** Coefficients drawn from the fit: mean plus the solution of L' x = z. */
function drawWaves(fit: WaveFit, draw: number): Float64Array {
  const x = new Float64Array(SIZE);
  for (let i = SIZE - 1; i >= 0; i--) {
    let sum = normalAt(DRAW_SEED, draw, i);
    for (let k = i + 1; k < SIZE; k++) sum -= fit.rootOfInverse[k]![i]! * x[k]!;
    x[i] = sum / fit.rootOfInverse[i]![i]!;
  }
  return x.map((v, i) => v + fit.mean[i]!);
}

interface Grid {
  readonly rads: readonly number[];
  readonly rows: readonly Float64Array[];
  readonly crownMm: readonly number[];
  readonly radiusMm: Float64Array;
  /** Indices about the middle of each cusp. */
  readonly sectors: readonly (readonly number[])[];
}

interface Lowest {
  readonly index: readonly number[];
  readonly heightMm: readonly number[];
}

/** The lowest point of each cusp along the normal of the plane through all three, by repetition from the upright normal. */
function findLowest(grid: Grid, heights: Float64Array): Lowest {
  let dx = 0;
  let dy = 0;
  let index: number[] = [];
  for (let round = 0; round < ROUNDS; round++) {
    index = grid.sectors.map((sector) => {
      let best = sector[0]!;
      let least = Infinity;
      for (const i of sector) {
        const r = grid.radiusMm[i]!;
        const over = heights[i]! - r * (dx * Math.cos(grid.rads[i]!) + dy * Math.sin(grid.rads[i]!));
        if (over < least) {
          least = over;
          best = i;
        }
      }
      return best;
    });
    const [p, q, s] = index.map((i) => [grid.radiusMm[i]! * Math.cos(grid.rads[i]!), grid.radiusMm[i]! * Math.sin(grid.rads[i]!), heights[i]!] as const);
    const det = (q![0] - p![0]) * (s![1] - p![1]) - (q![1] - p![1]) * (s![0] - p![0]);
    if (!(Math.abs(det) > 1)) break;
    dx = ((q![2] - p![2]) * (s![1] - p![1]) - (q![1] - p![1]) * (s![2] - p![2])) / det;
    dy = ((q![0] - p![0]) * (s![2] - p![2]) - (q![2] - p![2]) * (s![0] - p![0])) / det;
  }
  return { index, heightMm: index.map((i) => heights[i]!) };
}

const isUsable = (h: Hinge): boolean => isTrusted({ ...h, misfit: h.misfit - MORE_MISFIT });

interface FittedAttachment {
  readonly fit: WaveFit;
  readonly grid: Grid;
  readonly heightsOf: (waves: Float64Array) => Float64Array;
  /** How many SDs the hinges about an azimuth scatter around the curve, rms, at least 1: there the doubt is that much wider. */
  readonly scatterAt: (azimuthRad: number) => number;
}

/** The curve through the trusted hinges, crown plus waves, with the radius along it. */
function fitAttachment(hinges: readonly Hinge[], crown: Crown): FittedAttachment | null {
  const used = hinges.filter((h) => isUsable(h) && Math.abs(h.heightMm - readCrown(crown, h.azimuthRad)) < MOST_OFF_CROWN_MM);
  if (used.length < FEWEST) return null;
  const rads = used.map((h) => h.azimuthRad);
  const slopeAt = (rad: number): number => Math.abs(readCrown(crown, rad + 0.02) - readCrown(crown, rad - 0.02)) / 0.04;
  const off = used.map((h) => h.heightMm - readCrown(crown, h.azimuthRad));
  const sds = used.map((h) => Math.hypot(h.heightSdMm, HINGE_SD_MM, AZIMUTH_SD_RAD * slopeAt(h.azimuthRad)));
  const fit = fitWaves(rads, off, sds, WAVE_SD_MM);
  const middle = [...used].map((h) => h.radiusMm).sort((a, b) => a - b)[used.length >> 1]!;
  const wall = fitWaves(rads, used.map((h) => h.radiusMm - middle), used.map((h) => Math.hypot(h.radiusSdMm, RADIUS_SD_MM)), RADIUS_WAVE_SD_MM);
  if (!fit || !wall) return null;
  const grid = makeGrid(crown, wall, middle);
  const heightsOf = (c: Float64Array): Float64Array => Float64Array.from(grid.rads, (_, i) => grid.crownMm[i]! + sumWaves(c, grid.rows[i]!));
  const scatterAt = (azimuthRad: number): number => {
    const row = new Float64Array(SIZE);
    let sum = 0;
    let n = 0;
    used.forEach((h, i) => {
      if (Math.abs(Math.atan2(Math.sin(h.azimuthRad - azimuthRad), Math.cos(h.azimuthRad - azimuthRad))) > REACH_RAD) return;
      fillWaves(h.azimuthRad, row);
      sum += ((off[i]! - sumWaves(fit.mean, row)) / sds[i]!) ** 2;
      n++;
    });
    return n > 0 ? Math.min(MOST_SCATTER, Math.max(1, Math.sqrt(sum / n))) : MOST_SCATTER;
  };
  return { fit, grid, heightsOf, scatterAt };
}

/**
 * The nadirs: lowest points of the curve through the trusted hinges. The curve is the crown plus smooth waves; where it
 * is lowest is asked of the fit and of 64 curves drawn from its doubt, so that on a flat floor the place is the
 * middle of what is possible, and its SD is wide.
 * Units     mm and rad in the frame of the hinges, not lowered by the hinge's own offset
 * Fails     null with fewer than eight trusted hinges
 * Source    docs/methods/root-survey.md, "Nadirs"
 */
export function seekNadirs(hinges: readonly Hinge[], crown: Crown): Nadir[] | null {
  const fitted = fitAttachment(hinges, crown);
  if (!fitted) return null;
  const { fit, grid, heightsOf, scatterAt } = fitted;
  const middleOf = heightsOf(fit.mean);
  const mean = findLowest(grid, middleOf);
  const draws = Array.from({ length: DRAWS }, (_, d) => findLowest(grid, heightsOf(drawWaves(fit, d))));
  return mean.index.map((at, k) => {
    const rad = grid.rads[at]!;
    const offs = draws.map((d) => Math.atan2(Math.sin(grid.rads[d.index[k]!]! - rad), Math.cos(grid.rads[d.index[k]!]! - rad)));
    const off = offs.reduce((s, v) => s + v, 0) / DRAWS;
    const place = wrapTurn(rad + off);
    const i = Math.round(place / STEP_RAD) % grid.rads.length;
    const radius = grid.radiusMm[i]!;
    const scatter = scatterAt(place);
    const tops = draws.map((d) => d.heightMm[k]!);
    const height = tops.reduce((s, v) => s + v, 0) / DRAWS;
    return {
      azimuthRad: place,
      heightMm: mean.heightMm[k]!,
      radiusMm: radius,
      heightSdMm: scatter * Math.sqrt(tops.reduce((s, v) => s + (v - height) ** 2, 0) / DRAWS),
      alongSdMm: scatter * radius * Math.sqrt(offs.reduce((s, v) => s + (v - off) ** 2, 0) / DRAWS),
    };
  });
}

function makeGrid(crown: Crown, wall: WaveFit, middleMm: number): Grid {
  const rads = Array.from({ length: Math.round(TURN / STEP_RAD) }, (_, i) => i * STEP_RAD);
  const rows = rads.map((rad) => {
    const row = new Float64Array(SIZE);
    fillWaves(rad, row);
    return row;
  });
  const sectors = crown.nadirRad.map((nadir) => rads.flatMap((rad, k) => (Math.abs(Math.atan2(Math.sin(rad - nadir), Math.cos(rad - nadir))) < REACH_RAD ? [k] : [])));
  return { rads, rows, crownMm: rads.map((rad) => readCrown(crown, rad)), radiusMm: Float64Array.from(rows, (row) => middleMm + sumWaves(wall.mean, row)), sectors };
}

/** A nadir in space with its doubt. */
export interface LocatedNadir {
  readonly pointLps: Vec3;
  readonly heightSdMm: number;
  readonly alongSdMm: number;
}

const BESIDE = 3;
const MOST_OUTSIDE_MM = 0.6;

/**
 * Radius of the wall at a nadir: the wall from 4 to 1.25 mm below, carried on in a straight line, median of the columns
 * beside it. The fitted hinge lies inside it, at the foot of the leaflet, by at most half a leaflet; taken where the wall below is not to be had.
 */
function readWallBelow(look: RootLook, nadir: Nadir): number {
  const { azimuths, heights, lowMm, heightStepMm } = look.block;
  const wall = { radiusMm: look.wall.radiusMm, heights, azimuths, lowMm, stepMm: heightStepMm };
  const column = Math.round((nadir.azimuthRad / TURN) * azimuths);
  const found: number[] = [];
  for (let d = -BESIDE; d <= BESIDE; d++) {
    const { n, sh, sr, shh, shr } = sumLineBelow(wall, (column + d + azimuths) % azimuths, nadir.heightMm);
    const det = n * shh - sh * sh;
    if (n > 3 && det > 0) found.push((sr * shh - sh * shr) / det);
  }
  if (found.length === 0) return nadir.radiusMm;
  found.sort((p, q) => p - q);
  const wallMm = found[found.length >> 1]!;
  return nadir.radiusMm + Math.max(0, Math.min(MOST_OUTSIDE_MM, wallMm - nadir.radiusMm));
}

/** The last word on the nadirs of a look, in the order of its crown; the crown's own where too few hinges are trusted. */
export function locateNadirs(look: RootLook): LocatedNadir[] {
  const nadirs = seekNadirs(look.hinges, look.crown.crown);
  if (!nadirs) return nadirPoints(look).map((pointLps, i) => ({ pointLps, heightSdMm: look.crown.nadirSdMm[i]!, alongSdMm: 12 * look.crown.nadirSdRad[i]! }));
  return nadirs.map((nadir) => ({
    pointLps: lpsFromCylinder(look.frame, { azimuthRad: nadir.azimuthRad, heightMm: nadir.heightMm - HINGE_BIAS_MM, radiusMm: readWallBelow(look, nadir) }),
    heightSdMm: nadir.heightSdMm,
    alongSdMm: nadir.alongSdMm,
  }));
}

/**
 * Height of the leaflets' attachment over a basal frame near the look's own, by azimuth there.
 * Fails     null with fewer than eight trusted hinges
 */
export function traceAttachment(look: RootLook, frame: RootFrame): ((azimuthRad: number) => number) | null {
  const fitted = fitAttachment(look.hinges, look.crown.crown);
  if (!fitted) return null;
  const { grid, fit, heightsOf } = fitted;
  const points = Array.from(heightsOf(fit.mean), (heightMm, i) =>
    cylinderFromLps(frame, lpsFromCylinder(look.frame, { azimuthRad: grid.rads[i]!, heightMm: heightMm - HINGE_BIAS_MM, radiusMm: grid.radiusMm[i]! })),
  ).map((p) => ({ rad: wrapTurn(p.azimuthRad), mm: p.heightMm })).sort((p, q) => p.rad - q.rad);
  return (azimuthRad) => {
    const rad = wrapTurn(azimuthRad);
    const i = points.findIndex((p) => p.rad > rad);
    const q = points[i < 0 ? 0 : i]!;
    const p = points[((i < 0 ? 0 : i) + points.length - 1) % points.length]!;
    const width = wrapTurn(q.rad - p.rad);
    return p.mm + (width > 0 ? wrapTurn(rad - p.rad) / width : 0) * (q.mm - p.mm);
  };
}

/** Angle of the wall above the trusted hinges, outward from the upward direction: their mean within 0.2 rad of an azimuth of a frame, 0 where there is none. */
export function traceOpening(look: RootLook, frame: RootFrame): (azimuthRad: number) => number {
  const near = look.hinges.filter(isTrusted).map((h) => ({ angle: h.upperAngleRad, rad: cylinderFromLps(frame, lpsFromCylinder(look.frame, h)).azimuthRad }));
  return (azimuthRad) => {
    let sum = 0;
    let weights = 0;
    for (const { angle, rad } of near) {
      const off = Math.atan2(Math.sin(rad - azimuthRad), Math.cos(rad - azimuthRad));
      const w = Math.max(0, 1 - Math.abs(off) / OPENING_REACH_RAD);
      sum += w * angle;
      weights += w;
    }
    return weights > 0 ? sum / weights : 0;
  };
}
