import { drawBlurredEllipsoid, ellipsoidVolume, limitSpread, type Ellipsoid3 } from './calcium-ellipsoid.ts';
import type { CalciumBackground, DepositFit } from './calcium-types.ts';
import { forEachInBox, placeOf, type CalciumGrid, type DrawBox } from './calcium-zone.ts';
import type { FoundDeposit } from './find-deposits.ts';

/** Calcium in CT lies between these [M]; a plateau outside is the fit running away. */
const DENSEST_HU = 1900;
/** Semi-axes kept within. */
const THINNEST_MM = 0.3;
const LONGEST_MM = 14;

export interface FitOptions {
  readonly blurMm: number;
  readonly noiseHu: number;
  /** Added to the background everywhere, HU: for the interval. */
  readonly shiftHu: number;
  /** Plateau times this: for the interval. */
  readonly plateauRatio: number;
  /** Turns over all deposits; from the second on, only those with a neighbour change much. */
  readonly rounds: number;
  /** Matching steps per deposit and turn. */
  readonly steps: number;
  /** Fits to go on from. */
  readonly start?: readonly DepositFit[];
}

interface Work {
  readonly box: DrawBox;
  readonly touched: Int32Array;
  /** Index in the draw box of each touched voxel. */
  readonly inBox: Int32Array;
  readonly places: Float64Array;
  readonly drawn: Float32Array;
  ellipsoid: Ellipsoid3;
  plateauHu: number;
}

/** 0 below `low`, 1 above 1 - low, smooth between and odd about 1/2: a flat edge keeps its place whatever `low` is. */
function sharpen(u: number, low: number): number {
  const t = (u - low) / (1 - 2 * low);
  return t <= 0 ? 0 : t >= 1 ? 1 : t * t * (3 - 2 * t);
}

interface Moments {
  readonly mass: number;
  readonly centre: readonly [number, number, number];
  readonly spread: Float64Array;
}

/** Mass, centre and covariance of weights at places (3 coordinates each). */
function measureMoments(weights: Float32Array, places: Float64Array): Moments {
  let [mass, x, y, z] = [0, 0, 0, 0];
  for (let n = 0; n < weights.length; n++) {
    const w = weights[n]!;
    if (w === 0) continue;
    mass += w;
    x += w * places[3 * n]!;
    y += w * places[3 * n + 1]!;
    z += w * places[3 * n + 2]!;
  }
  const spread = new Float64Array(9);
  if (!(mass > 0)) return { mass: 0, centre: [0, 0, 0], spread };
  x /= mass;
  y /= mass;
  z /= mass;
  for (let n = 0; n < weights.length; n++) {
    const w = weights[n]! / mass;
    if (w === 0) continue;
    const d = [places[3 * n]! - x, places[3 * n + 1]! - y, places[3 * n + 2]! - z] as const;
    for (let r = 0; r < 3; r++) for (let c = 0; c < 3; c++) spread[r * 3 + c] = spread[r * 3 + c]! + w * d[r]! * d[c]!;
  }
  return { mass, centre: [x, y, z], spread };
}

function prepare(g: CalciumGrid, found: FoundDeposit, touched: Int32Array, begun: DepositFit | undefined): Work {
  const [nx, ny] = g.dims;
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  const at = (v: number): readonly [number, number, number] => [v % nx, Math.floor(v / nx) % ny, Math.floor(v / (nx * ny))];
  for (const v of touched) {
    at(v).forEach((c, r) => {
      low[r] = Math.min(low[r]!, c);
      high[r] = Math.max(high[r]!, c);
    });
  }
  const dims = [high[0]! - low[0]! + 1, high[1]! - low[1]! + 1, high[2]! - low[2]! + 1] as const;
  const inBox = Int32Array.from(touched, (v) => {
    const [i, j, k] = at(v);
    return ((k - low[2]!) * dims[1] + j - low[1]!) * dims[0] + i - low[0]!;
  });
  const places = new Float64Array(3 * touched.length);
  touched.forEach((v, n) => places.set(placeOf(g, ...at(v)), 3 * n));
  const seeds = new Float64Array(3 * found.voxels.length);
  found.voxels.forEach((v, n) => seeds.set(placeOf(g, ...at(v)), 3 * n));
  const start = measureMoments(new Float32Array(found.voxels.length).fill(1), seeds);
  const spread = start.spread.map((v, i) => 5 * v + (i % 4 === 0 ? 0.05 : 0));
  return {
    box: { from: [low[0]!, low[1]!, low[2]!], dims }, touched, inBox, places, drawn: new Float32Array(dims[0] * dims[1] * dims[2]),
    ellipsoid: begun?.ellipsoid ?? { centre: start.centre, spread: limitSpread(spread, THINNEST_MM ** 2, LONGEST_MM ** 2) },
    plateauHu: begun?.plateauHu ?? found.peakHu,
  };
}

/**
 * Volume and plateau of each deposit, with the scanner's blur taken out.
 *
 * Units     HU, mm, mm3
 * Equation  u = (I - B) / (H - B); moments of the sharpened u (mass, centre, covariance) are matched by those of a
 *           drawn, blurred ellipsoid treated alike; H by least squares over the core; neighbours' drawn light taken off
 * Source    docs/methods/calcium.md, "Volume"
 */
export function fitDeposits(g: CalciumGrid, found: readonly FoundDeposit[], background: CalciumBackground, options: FitOptions): readonly DepositFit[] {
  const works = found.map((f, d) => prepare(g, f, background.touched[d]!, options.start?.[d]));
  const total = new Float32Array(g.valuesHu.length);
  const hasNeighbour = works.map((w, d) => findNeighbour(works, w, d));
  const level = (w: Work, n: number): number => background.levelHu[w.touched[n]!]! + options.shiftHu;
  // Light reaches into the neighbour's voxels too: those are listed by the draw box.
  const addLight = (w: Work, sign: number): void => forEachInBox(g, w.box, (v, b) => {
    if (w.drawn[b]! > 0.002) total[v] = total[v]! + sign * (w.plateauHu - background.levelHu[v]! - options.shiftHu) * w.drawn[b]!;
  });
  works.forEach((w, d) => {
    const begun = options.start?.[d];
    if (begun && begun.drawnBlurMm === options.blurMm) w.drawn.set(begun.drawn);
    else drawBlurredEllipsoid(g, w.box, w.ellipsoid, options.blurMm, w.drawn);
  });
  works.forEach((w) => addLight(w, 1));
  for (let round = 0; round < options.rounds; round++) {
    works.forEach((w, d) => {
      if (round > 0 && !hasNeighbour[d]) return;
      addLight(w, -1);
      for (let step = 0; step < options.steps; step++) stepFit(g, w, total, level, options);
      addLight(w, 1);
    });
  }
  return works.map((w) => {
    addLight(w, -1);
    const fit = finishFit(w, total, level, options, g);
    addLight(w, 1);
    return fit;
  });
}

function findNeighbour(works: readonly Work[], w: Work, d: number): boolean {
  return works.some((o, e) => e !== d && [0, 1, 2].every((r) =>
    o.box.from[r]! < w.box.from[r]! + w.box.dims[r]! && w.box.from[r]! < o.box.from[r]! + o.box.dims[r]!));
}

type LevelOf = (w: Work, n: number) => number;

/** Occupancy of each touched voxel as seen (others' light taken off) and as drawn, both sharpened. */
function seeOccupancy(g: CalciumGrid, w: Work, others: Float32Array, level: LevelOf, o: FitOptions): { readonly seen: Float32Array; readonly shown: Float32Array } {
  const count = w.touched.length;
  const seen = new Float32Array(count);
  const shown = new Float32Array(count);
  const typical = Math.max(100, w.plateauHu - level(w, count >> 1));
  const low = Math.min(0.3, Math.max(0.12, (2 * o.noiseHu) / typical));
  const plateau = w.plateauHu * o.plateauRatio;
  for (let n = 0; n < count; n++) {
    const v = w.touched[n]!;
    const b = level(w, n);
    seen[n] = sharpen((g.valuesHu[v]! - others[v]! - b) / Math.max(60, plateau - b), low);
    shown[n] = sharpen(w.drawn[w.inBox[n]!]!, low);
  }
  return { seen, shown };
}

/** Fewest voxels for a plateau; the core is taken as narrow as this allows. */
const LEAST_CORE = 25;

/** Plateau by least squares over the core of the drawn deposit: I = B (1 - E) + H E. */
function fitPlateau(g: CalciumGrid, w: Work, others: Float32Array, level: LevelOf): number {
  let top = 0;
  for (const b of w.inBox) top = Math.max(top, w.drawn[b]!);
  for (const share of [0.82, 0.75]) {
    let [above, below, count] = [0, 0, 0];
    for (let n = 0; n < w.touched.length; n++) {
      const e = w.drawn[w.inBox[n]!]!;
      if (e < share * top) continue;
      above += e * (g.valuesHu[w.touched[n]!]! - others[w.touched[n]!]! - level(w, n) * (1 - e));
      below += e * e;
      count++;
    }
    if ((count >= LEAST_CORE || share === 0.75) && below > 0) return above / below;
  }
  return w.plateauHu;
}

function stepFit(g: CalciumGrid, w: Work, others: Float32Array, level: LevelOf, o: FitOptions): void {
  const plateau = fitPlateau(g, w, others, level);
  const floor = level(w, w.touched.length >> 1) + 100;
  w.plateauHu = Math.max(floor, Math.min(DENSEST_HU, plateau));
  const { seen, shown } = seeOccupancy(g, w, others, level, o);
  const a = measureMoments(seen, w.places);
  const b = measureMoments(shown, w.places);
  if (!(a.mass > 0 && b.mass > 0)) return;
  const spread = w.ellipsoid.spread.map((v, i) => v + 4 * (a.spread[i]! - b.spread[i]!));
  const centre = w.ellipsoid.centre.map((c, i) => c + a.centre[i]! - b.centre[i]!) as unknown as [number, number, number];
  const scale = Math.max(0.7, Math.min(1.4, (a.mass / b.mass) ** 0.35));
  const kept = limitSpread(spread.map((v) => v * scale), THINNEST_MM ** 2, LONGEST_MM ** 2);
  w.ellipsoid = { centre, spread: kept };
  drawBlurredEllipsoid(g, w.box, w.ellipsoid, o.blurMm, w.drawn);
}

function finishFit(w: Work, others: Float32Array, level: LevelOf, o: FitOptions, g: CalciumGrid): DepositFit {
  const { seen, shown } = seeOccupancy(g, w, others, level, o);
  let [mass, modelled, base, edgeVoxels] = [0, 0, 0, 0];
  for (let n = 0; n < seen.length; n++) {
    mass += seen[n]!;
    modelled += shown[n]!;
    base += seen[n]! * level(w, n);
    if (shown[n]! > 0 && shown[n]! < 1) edgeVoxels++;
  }
  const ratio = modelled > 0 ? mass / modelled : 0;
  return {
    box: w.box, drawn: w.drawn, drawnBlurMm: o.blurMm, ellipsoid: w.ellipsoid, plateauHu: w.plateauHu, contrastHu: mass > 0 ? w.plateauHu - base / mass : 0,
    volumeMm3: ellipsoidVolume(w.ellipsoid.spread) * ratio, shares: mass > 0 ? seen.map((s) => s / mass) : seen, edgeVoxels,
  };
}
