import { measureSteps, type SliceStep } from './ct-statistics-steps.ts';
import { findBloodPool, makeCoarseGrid, type BloodPool, type CoarseGrid } from './ct-statistics-pool.ts';
import { SCAN_LIMITS } from './assess-scan-limits.ts';
import type { CtVolume } from './volume-types.ts';

/** An estimate with the spread behind it. */
export interface SpreadHu {
  readonly valueHu: number;
  /** 95 % interval of the value. */
  readonly lowHu: number;
  readonly highHu: number;
}

export interface CtStatistics {
  /**
   * Attenuation of the brightest large blood pool; the interval is that of all pools, so that it holds for the aorta
   * also where another chamber was taken. null when there is none.
   */
  readonly contrastHu: SpreadHu | null;
  /** Volume of that pool's core (one coarse voxel inside its edge). */
  readonly poolMl: number;
  /** The brightest large smooth body found when no pool qualifies; null when there is none. */
  readonly brightestHu: number | null;
  /** Standard deviation of the noise in blood, or in soft tissue when there is no pool; null when neither is found. */
  readonly noiseHu: SpreadHu | null;
  readonly metalMl: number;
  /** Sideways jumps between neighbouring slices, largest first. */
  readonly steps: readonly SliceStep[];
  /** Share of the picture that is soft tissue or brighter, and that is lung. */
  readonly tissueRatio: number;
  readonly lungRatio: number;
}

const ROI_HALF_MM = 4.5;
const MAX_ROIS = 600;

/**
 * Contrast, noise, metal and slice-to-slice jumps of a CT, from its pixels alone. Deterministic.
 *
 * Units     HU, mL, mm
 * Equation  contrast: median of the core of the brightest large smooth body on a 3 mm grid that is not bone;
 *           noise: median over places in it of the standard deviation in a 9 x 9 mm patch of one slice, plane removed
 * Fails     never; what is not found is null
 * Source    docs/methods/scan-fitness.md (verification table)
 * Accuracy  noise of white or 1 mm-correlated noise within 8 %; contrast within 3 HU on a smooth pool
 */
export function measureCtStatistics(volume: CtVolume): CtStatistics {
  const grid = makeCoarseGrid(volume);
  const pool = findBloodPool(grid, SCAN_LIMITS.contrastNoneHu.value, 900);
  const faint = pool ? null : findBloodPool(grid, 90, 900);
  const tissue = pool ?? faint ?? findBloodPool(grid, -20, 120);
  return {
    contrastHu: pool ? estimateContrast(pool) : null,
    poolMl: pool ? pool.volumeMl : 0,
    brightestHu: faint ? findQuantile(sortNumbers(faint.valuesHu), 0.5) : null,
    noiseHu: tissue ? measureNoise(volume, grid, tissue.cells) : null,
    metalMl: measureMetalMl(volume),
    steps: measureSteps(volume),
    tissueRatio: countRatio(grid, -150, Infinity),
    lungRatio: countRatio(grid, -960, -600),
  };
}

function estimateContrast(pool: BloodPool): SpreadHu {
  const { valueHu } = estimateMedian(pool.valuesHu);
  const all = estimateMedian(pool.allValuesHu);
  return { valueHu, lowHu: Math.min(all.lowHu, valueHu), highHu: Math.max(all.highHu, valueHu) };
}

function measureNoise(volume: CtVolume, grid: CoarseGrid, cells: readonly number[]): SpreadHu | null {
  const { dims: [nx, ny], samplesHu, spacingMm } = volume;
  const halfI = Math.max(2, Math.round(ROI_HALF_MM / spacingMm[0]));
  const halfJ = Math.max(2, Math.round(ROI_HALF_MM / spacingMm[1]));
  const stride = Math.max(1, Math.floor(cells.length / MAX_ROIS));
  const deviations: number[] = [];
  for (let n = 0; n < cells.length; n += stride) {
    const [ci, cj, ck] = grid.centreOf(cells[n]!);
    if (ci < halfI || cj < halfJ || ci >= nx - halfI || cj >= ny - halfJ) continue;
    deviations.push(measurePatch(samplesHu, ck * nx * ny, nx, ci, cj, halfI, halfJ));
  }
  if (deviations.length < 8) return null;
  // The lower half of the patches: those that touch an edge, a leaflet or calcium lie in the upper half.
  const sorted = sortNumbers(deviations);
  const half = sorted.slice(0, Math.max(8, Math.ceil(sorted.length * 0.7)));
  return estimateMedian(half);
}

/** Standard deviation in a patch of one slice after a plane has been taken off. */
function measurePatch(
  samplesHu: Int16Array, base: number, nx: number, ci: number, cj: number, halfI: number, halfJ: number,
): number {
  let n = 0, sum = 0, sumSq = 0, sumI = 0, sumJ = 0, sumII = 0, sumJJ = 0;
  for (let dj = -halfJ; dj <= halfJ; dj++) {
    for (let di = -halfI; di <= halfI; di++) {
      const hu = samplesHu[base + (cj + dj) * nx + ci + di]!;
      n++; sum += hu; sumSq += hu * hu; sumI += hu * di; sumJ += hu * dj; sumII += di * di; sumJJ += dj * dj;
    }
  }
  const explained = (sum * sum) / n + (sumI * sumI) / sumII + (sumJ * sumJ) / sumJJ; // di, dj sum to 0: orthogonal
  return Math.sqrt(Math.max(0, (sumSq - explained) / (n - 3)));
}

function measureMetalMl(volume: CtVolume): number {
  const { samplesHu, spacingMm } = volume;
  const limit = SCAN_LIMITS.metalHu.value;
  // An odd stride walks through all columns; 8 million samples give 2 mL of 0.2 mm3 voxels within 5 %.
  const stride = 2 * Math.floor(samplesHu.length / 16e6) + 1;
  let count = 0;
  for (let i = 0; i < samplesHu.length; i += stride) if (samplesHu[i]! > limit) count++;
  return (count * stride * spacingMm[0] * spacingMm[1] * spacingMm[2]) / 1000;
}

function countRatio(grid: CoarseGrid, lowHu: number, highHu: number): number {
  let count = 0;
  for (let i = 0; i < grid.meansHu.length; i++) if (grid.meansHu[i]! >= lowHu && grid.meansHu[i]! < highHu) count++;
  return grid.meansHu.length === 0 ? 0 : count / grid.meansHu.length;
}

/** Median with the 95 % interval of where a single place of the pool may lie (2.5 and 97.5 % quantiles). */
function estimateMedian(values: readonly number[]): SpreadHu {
  const sorted = sortNumbers(values);
  return { valueHu: findQuantile(sorted, 0.5), lowHu: findQuantile(sorted, 0.025), highHu: findQuantile(sorted, 0.975) };
}

function sortNumbers(values: readonly number[]): number[] {
  return [...values].sort((a, b) => a - b);
}

function findQuantile(sorted: readonly number[], q: number): number {
  const at = q * (sorted.length - 1);
  const low = Math.floor(at);
  const high = Math.min(low + 1, sorted.length - 1);
  return sorted[low]! + (at - low) * (sorted[high]! - sorted[low]!);
}
