import { quickNormalCdf } from '../math/normal-cdf.ts';
import { fitLeastSquares } from '../math/solve-small.ts';
import { medianOf, type WallMap } from './find-wall.ts';
import type { PolarBlock } from './polar-block.ts';

/** Subvoxel wall with what the edge model learned on the way. Arrays have index h * azimuths + a. */
export interface FineWall extends WallMap {
  /** Attenuation of the tissue next to blood, HU. */
  readonly tissueHu: Float64Array;
  /** Standard deviation of the radius from image noise, mm. */
  readonly noiseSdMm: Float64Array;
  /** 1 where the edge was found within a millimetre of the coarse wall, 0 where the coarse wall was kept. */
  readonly isEdge: Uint8Array;
  /** Blur found on the edges, as the SD of a Gaussian, mm. */
  readonly blurMm: number;
}

const REACH_MM = 4;
const WINDOW_AZIMUTH = 3;
const WINDOW_HEIGHT = 3;
const GRID = 4;
const SEARCH_MM = 1.4;
/** Prior of soft tissue beside blood: muscle, wall and valve tissue in contrast CT, HU. */
const TISSUE = { mean: 70, sd: 45 } as const;
const WALL_MM = { mean: 1.6, sd: 0.8 } as const;

interface Profiles {
  /** size x length: mean profile per column, centred on the wall. */
  readonly mean: Float32Array;
  /** Whole columns behind each mean. */
  readonly count: Uint8Array;
  readonly length: number;
}

/**
 * Mean profile around the wall over a window of 7 x 7 columns, each shifted by its own radius. Columns are aligned
 * once, then averaged along azimuth and height in turn, so the cost does not grow with the window's area.
 */
function averageProfiles(block: PolarBlock, radiusMm: ArrayLike<number>, bloodHu: number, length: number): Profiles {
  const { heights, azimuths, radii, radiusStepMm: dr, valuesHu } = block;
  const size = heights * azimuths;
  const half = (length - 1) / 2;
  const aligned = new Float32Array(size * length);
  const whole = new Uint8Array(size);
  for (let c = 0; c < size; c++) {
    const first = radiusMm[c]! / dr - half;
    if (!(first >= 0 && first + length < radii - 1)) continue;
    const i0 = Math.floor(first);
    const f = first - i0;
    const o = c * radii + i0;
    const t = c * length;
    let isWhole = true;
    for (let i = 0; i < length; i++) {
      const v = valuesHu[o + i]! * (1 - f) + valuesHu[o + i + 1]! * f;
      if (v !== v) {
        isWhole = false;
        break;
      }
      aligned[t + i] = v > bloodHu ? bloodHu : v;
    }
    if (isWhole) whole[c] = 1;
    else aligned.fill(0, t, t + length);
  }
  const across = new Float32Array(size * length);
  const acrossCount = new Uint8Array(size);
  for (let h = 0; h < heights; h++) {
    for (let a = 0; a < azimuths; a++) {
      const t = (h * azimuths + a) * length;
      for (let d = -WINDOW_AZIMUTH; d <= WINDOW_AZIMUTH; d++) {
        const c = h * azimuths + ((a + d + azimuths) % azimuths);
        if (!whole[c]) continue;
        acrossCount[h * azimuths + a]!++;
        for (let i = 0; i < length; i++) across[t + i]! += aligned[c * length + i]!;
      }
    }
  }
  const mean = aligned.fill(0);
  const count = new Uint8Array(size);
  for (let h = 0; h < heights; h++) {
    for (let d = -WINDOW_HEIGHT; d <= WINDOW_HEIGHT; d++) {
      const g = h + d;
      if (g < 0 || g >= heights) continue;
      for (let a = 0; a < azimuths; a++) count[h * azimuths + a]! += acrossCount[g * azimuths + a]!;
      const t = h * azimuths * length;
      const q = g * azimuths * length;
      for (let i = 0; i < azimuths * length; i++) mean[t + i]! += across[q + i]!;
    }
    for (let a = 0; a < azimuths; a++) {
      const n = count[h * azimuths + a]!;
      const t = (h * azimuths + a) * length;
      if (n > 0) for (let i = 0; i < length; i++) mean[t + i]! /= n;
    }
  }
  return { mean, count, length };
}

interface EdgeModel {
  readonly tissueHu: number;
  readonly blurMm: number;
  readonly residualHu: number;
}

/**
 * Blood - tissue - outside: I(r) = B - (B - W) Phi((r - e)/s) + (O - W) Phi((r - e - t)/s).
 * W and t carry weak priors, so that a thin wall before lung or a second chamber does not fool the half-level.
 */
function fitEdge(profile: Float32Array, dr: number, bloodHu: number, blurGuessMm: number): EdgeModel {
  const half = (profile.length - 1) / 2;
  const first = Math.max(0, Math.round(half - 1.6 / dr));
  const last = Math.min(profile.length - 1, Math.round(half + 3.6 / dr));
  const rows = last - first + 1;
  const sdHu = 0.04 * bloodHu + 6;
  const outside = profile[last]!;
  const fit = fitLeastSquares(
    (p, out) => {
      for (let i = 0; i < rows; i++) {
        const r = (first + i - half) * dr;
        const model =
          bloodHu -
          (bloodHu - p[1]!) * quickNormalCdf((r - p[0]!) / p[4]!) +
          (p[3]! - p[1]!) * quickNormalCdf((r - p[0]! - p[2]!) / p[4]!);
        out[i] = (profile[first + i]! - model) / sdHu;
      }
      out[rows] = (p[1]! - TISSUE.mean) / TISSUE.sd;
      out[rows + 1] = (p[2]! - WALL_MM.mean) / WALL_MM.sd;
      out[rows + 2] = (p[4]! - blurGuessMm) / 0.15;
    },
    [0, TISSUE.mean, WALL_MM.mean, outside, blurGuessMm],
    rows + 3,
    [0.01, 1, 0.02, 2, 0.01],
    [-1.5, -120, 0.4, -1000, 0.25],
    [1.5, 0.75 * bloodHu, 6, 1500, 2],
    12,
  );
  const p = fit.parameters;
  return { tissueHu: p[1]!, blurMm: p[4]!, residualHu: Math.sqrt(fit.residualSum / rows) * sdHu };
}

/**
 * Subvoxel wall: aligned mean profiles give the local tissue level; the wall is where the mean profile crosses half-way
 * between the root's blood and that tissue. Two passes, since the first alignment is only as good as the coarse wall.
 * Shape     one radius per (height, azimuth), smoothed by the window of 7 x 7 columns
 * Accuracy  docs/methods/root-survey.md: bias under 0.06 mm for walls of 1.5 mm and more at blur up to 0.6 mm;
 *           a 1 mm wall before lung reads up to 0.3 mm too narrow at blur 0.8 mm
 */
export function refineWall(raw: PolarBlock, coarse: WallMap, bloodHu: number, blurGuessMm: number, noiseHu: number): FineWall {
  const { heights, azimuths, radiusStepMm: dr } = raw;
  const size = heights * azimuths;
  const length = 2 * Math.round(REACH_MM / dr) + 1;
  const half = (length - 1) / 2;
  let radius = Float64Array.from(coarse.radiusMm);
  const tissue = new Float64Array(size).fill(TISSUE.mean);
  const noise = new Float64Array(size);
  const isEdge = new Uint8Array(size);
  let blurMm = blurGuessMm;
  const rowsOf = Math.ceil(heights / GRID);
  const columnsOf = azimuths / GRID;
  const coarseTissue = new Float64Array(rowsOf * columnsOf).fill(TISSUE.mean);
  for (let pass = 0; pass < 2; pass++) {
    const profiles = averageProfiles(raw, radius, bloodHu, length);
    const profileOf = (c: number): Float32Array => profiles.mean.subarray(c * length, (c + 1) * length);
    const blurs: number[] = [];
    for (let h = 0; h < rowsOf; h++) {
      for (let a = 0; a < columnsOf; a++) {
        const c = Math.min(heights - 1, h * GRID) * azimuths + a * GRID;
        if (profiles.count[c]! <= 10) continue;
        const edge = fitEdge(profileOf(c), dr, bloodHu, blurMm);
        coarseTissue[h * columnsOf + a] = edge.tissueHu;
        if (edge.residualHu < 0.05 * bloodHu + 8) blurs.push(edge.blurMm);
      }
    }
    if (blurs.length > 20) blurMm = Math.max(0.3, Math.min(1.6, medianOf(blurs)));
    const next = Float64Array.from(radius);
    for (let h = 0; h < heights; h++) {
      for (let a = 0; a < azimuths; a++) {
        const c = h * azimuths + a;
        const level = blendGrid(coarseTissue, rowsOf, columnsOf, h / GRID, a / GRID);
        tissue[c] = level;
        const n = profiles.count[c]!;
        isEdge[c] = 0;
        noise[c] = 0.5;
        if (n < 5) continue;
        const o = c * length;
        const middle = (bloodHu + level) / 2;
        let best = NaN;
        let slope = 0;
        for (let i = Math.round(half - SEARCH_MM / dr); i < half + SEARCH_MM / dr; i++) {
          const p = profiles.mean[o + i]!;
          const q = profiles.mean[o + i + 1]!;
          if (p >= middle && q < middle) {
            const e = (i + (p - middle) / (p - q) - half) * dr;
            if (!(Math.abs(e) >= Math.abs(best))) {
              best = e;
              slope = (p - q) / dr;
            }
          }
        }
        if (best === best) {
          next[c] = radius[c]! + best;
          isEdge[c] = 1;
          // Neighbouring samples share voxels: about n / 4 of them are independent.
          noise[c] = noiseHu / Math.max(slope, 20) / Math.sqrt(Math.max(1, n / 4));
        }
      }
    }
    radius = next;
  }
  return { heights, azimuths, radiusMm: radius, tissueHu: tissue, noiseSdMm: noise, isEdge, blurMm };
}

function blendGrid(grid: Float64Array, rows: number, columns: number, h: number, a: number): number {
  const h0 = Math.min(rows - 1, Math.floor(h));
  const h1 = Math.min(rows - 1, h0 + 1);
  const a0 = Math.floor(a) % columns;
  const a1 = (a0 + 1) % columns;
  const fh = h - Math.floor(h);
  const fa = a - Math.floor(a);
  return (
    (grid[h0 * columns + a0]! * (1 - fa) + grid[h0 * columns + a1]! * fa) * (1 - fh) +
    (grid[h1 * columns + a0]! * (1 - fa) + grid[h1 * columns + a1]! * fa) * fh
  );
}
