import { drawBlurredEllipsoid, ellipsoidVolume, limitSpread, type Ellipsoid3 } from './calcium-ellipsoid.ts';
import type { CalciumBackground, DepositFit } from './calcium-types.ts';
import { widenPeaks } from './calcium-plateau.ts';
import { forEachInBox, placeOf, SEARCH_SMOOTH_MM, type CalciumGrid, type DrawBox } from './calcium-zone.ts';
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
 *           drawn, blurred ellipsoid treated alike; H by least squares over the core; neighbours' drawn light taken off;
 *           where one ellipsoid of one plateau explains a deposit badly, mass is counted against the plateau nearby
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

/** How far around a place the brightness of a lump is looked for. */
const LUMP_REACH_MM = 1.2;
/** A place is no lump of its own below this share of the deposit's plateau: noise far out must not count. */
const LEAST_LUMP_SHARE = 0.35;
/** From this misfit of one ellipsoid of one plateau on (root mean square, share of the contrast), lumps are asked; from the second on they alone count. */
const LUMPY_MISFIT = 0.1;
const LUMPS_MISFIT = 0.2;
/** Below these the sum of squares is background. */
const FAINT_DRAWN = 0.05;
const FAINT_SEEN = 0.2;

/** The same occupancies, each place against the brightest within LUMP_REACH_MM: lumps of unequal density each against their own plateau. */
function seeLumps(g: CalciumGrid, w: Work, others: Float32Array, level: LevelOf, o: FitOptions): { readonly seen: Float32Array; readonly shown: Float32Array } {
  const size = w.drawn.length;
  const top = new Float32Array(size).fill(-Infinity);
  const shownTop = new Float32Array(size).fill(-Infinity);
  const soft = new Float32Array(size);
  drawBlurredEllipsoid(g, w.box, w.ellipsoid, Math.hypot(o.blurMm, SEARCH_SMOOTH_MM), soft);
  let most = 0;
  w.touched.forEach((v, n) => {
    const b = w.inBox[n]!;
    top[b] = g.smoothHu[v]! - others[v]! - level(w, n);
    shownTop[b] = soft[b]!;
    most = Math.max(most, soft[b]!);
  });
  const reach = g.stepsMm.map((s) => Math.max(1, Math.round(LUMP_REACH_MM / s)));
  widenPeaks(top, w.box.dims, reach);
  widenPeaks(shownTop, w.box.dims, reach);
  const typical = Math.max(100, w.plateauHu - level(w, w.touched.length >> 1));
  const low = Math.min(0.3, Math.max(0.12, (2 * o.noiseHu) / typical));
  const seen = new Float32Array(w.touched.length);
  const shown = new Float32Array(w.touched.length);
  w.touched.forEach((v, n) => {
    const b = w.inBox[n]!;
    const plateau = Math.max(LEAST_LUMP_SHARE * typical * most, top[b]! * o.plateauRatio);
    seen[n] = sharpen((g.valuesHu[v]! - others[v]! - level(w, n)) / plateau, low);
    shown[n] = sharpen(w.drawn[b]! / Math.max(LEAST_LUMP_SHARE * most, shownTop[b]!), low);
  });
  return { seen, shown };
}

/** Root mean square of what one ellipsoid of one plateau leaves unexplained, as a share of the contrast. */
function measureMisfit(g: CalciumGrid, w: Work, others: Float32Array, level: LevelOf): number {
  let sum = 0;
  let count = 0;
  w.touched.forEach((v, n) => {
    const drawn = w.drawn[w.inBox[n]!]!;
    const seen = (g.valuesHu[v]! - others[v]! - level(w, n)) / Math.max(60, w.plateauHu - level(w, n));
    if (drawn < FAINT_DRAWN && seen < FAINT_SEEN) return;
    sum += (seen - drawn) ** 2;
    count++;
  });
  return Math.sqrt(sum / Math.max(1, count));
}

const ratioOf = (o: { readonly seen: Float32Array; readonly shown: Float32Array }): number => {
  const shown = o.shown.reduce((a, b) => a + b, 0);
  return shown > 0 ? o.seen.reduce((a, b) => a + b, 0) / shown : 0;
};

function finishFit(w: Work, others: Float32Array, level: LevelOf, o: FitOptions, g: CalciumGrid): DepositFit {
  const { seen, shown } = seeOccupancy(g, w, others, level, o);
  let [mass, modelled, base, edgeVoxels] = [0, 0, 0, 0];
  for (let n = 0; n < seen.length; n++) {
    mass += seen[n]!;
    modelled += shown[n]!;
    base += seen[n]! * level(w, n);
    if (shown[n]! > 0 && shown[n]! < 1) edgeVoxels++;
  }
  const whole = modelled > 0 ? mass / modelled : 0;
  const lumps = Math.max(0, Math.min(1, (measureMisfit(g, w, others, level) - LUMPY_MISFIT) / (LUMPS_MISFIT - LUMPY_MISFIT)));
  const parted = lumps > 0 ? ratioOf(seeLumps(g, w, others, level, o)) : whole;
  const drawnMm3 = ellipsoidVolume(w.ellipsoid.spread);
  return {
    box: w.box, drawn: w.drawn, drawnBlurMm: o.blurMm, ellipsoid: w.ellipsoid, plateauHu: w.plateauHu, contrastHu: mass > 0 ? w.plateauHu - base / mass : 0,
    volumeMm3: drawnMm3 * (whole + lumps * (parted - whole)), lumpMm3: drawnMm3 * lumps * Math.abs(parted - whole), shares: mass > 0 ? seen.map((s) => s / mass) : seen, edgeVoxels,
  };
}
