import { partValues } from '../math/part-values.ts';
import { blurGrid, halveGrid, sampleGrid, type CoarseRun } from './coarse-run.ts';
import type { PixelPoint } from './contrast-types.ts';

export interface FrameMotion {
  /** Of the picture against the first frames, px of the run: what lay at p lies at p + shift. */
  readonly shiftsPx: readonly PixelPoint[];
  /** Brightness of the whole picture against the first frames, natural logarithm. */
  readonly brightness: readonly number[];
  /** The first frames' mean on the coarse grid. */
  readonly reference: Float32Array;
}

const FIRST = 3;
const REACH = 5;
const STEPS = 8;
/** A place elsewhere must fit this much better than the last one: ribs and vertebrae repeat. */
const CLEARLY = 0.7;
/** A shift below so many of its own SD, or below this many coarse pixels, is none: the grid is then not resampled. */
const STILL = { sds: 4, coarsePx: 0.02 };
/** Neighbours share noise after softening: fewer independent pixels by about this. */
const SHARED = 2.5;

/**
 * How the picture as a whole moved and brightened: one shift and one brightness for each frame, fitted so that what does not
 * fit (contrast, heart, diaphragm) has no say.
 *
 * Equation  min over s, b of sum w (L_t(p + s) - L_0(p) - b)^2, w Tukey's bisquare of 4.7 robust SD; Gauss-Newton from the best
 *           whole shift of a grid four times coarser
 * Source    docs/methods/contrast.md; Lucas and Kanade 1981 [M], Tukey's bisquare [M]
 */
export function registerFrames(coarse: CoarseRun): FrameMotion {
  const { columns, rows, factor, frames } = coarse;
  const reference = new Float32Array(columns * rows);
  const first = Math.min(FIRST, frames.length);
  for (let f = 0; f < first; f++) for (let i = 0; i < reference.length; i++) reference[i]! += frames[f]![i]! / first;
  const soft = blurGrid(reference, columns, rows);
  const small = shrink(soft, columns, rows);
  const shiftsPx: PixelPoint[] = [];
  const brightness: number[] = [];
  let last: PixelPoint = [0, 0];
  for (const frame of frames) {
    const blurred = blurGrid(frame, columns, rows);
    const start = searchWhole(small, shrink(blurred, columns, rows), [last[0] / 4, last[1] / 4]);
    const fit = fitShift(soft, blurred, columns, rows, Math.hypot(start[0] * 4 - last[0], start[1] * 4 - last[1]) > 4 ? [start[0] * 4, start[1] * 4] : last);
    last = fit.shift;
    const isStill = Math.hypot(...fit.shift) < Math.max(STILL.coarsePx, STILL.sds * fit.sd);
    shiftsPx.push(isStill ? [0, 0] : [fit.shift[0] * factor, fit.shift[1] * factor]);
    brightness.push(fit.offset);
  }
  return { shiftsPx, brightness, reference };
}

interface Small { readonly grid: Float32Array; readonly columns: number; readonly rows: number }
/** Four times coarser, without what is broad: brightness and contrast weigh less. */
function shrink(grid: Float32Array, columns: number, rows: number): Small {
  const half = halveGrid(grid, columns, rows);
  const quarter = halveGrid(half.grid, half.columns, half.rows);
  let broad: Float32Array = quarter.grid;
  for (let k = 0; k < 6; k++) broad = blurGrid(broad, quarter.columns, quarter.rows);
  return { ...quarter, grid: quarter.grid.map((v, i) => v - broad[i]!) };
}

/** Whole shift of least mean absolute difference; the last one unless another is clearly better. */
function searchWhole(a: Small, b: Small, last: PixelPoint): PixelPoint {
  const { columns, rows } = a;
  const middle: PixelPoint = [Math.round(last[0]), Math.round(last[1])];
  let [best, bestCost] = [middle, Infinity];
  for (let dr = -REACH; dr <= REACH; dr++) {
    for (let dc = -REACH; dc <= REACH; dc++) {
      let [sum, count] = [0, 0];
      for (let r = Math.max(0, -dr); r < Math.min(rows, rows - dr); r++) {
        for (let c = Math.max(0, -dc); c < Math.min(columns, columns - dc); c++) {
          sum += Math.min(0.15, Math.abs(b.grid[(r + dr) * columns + c + dc]! - a.grid[r * columns + c]!));
          count++;
        }
      }
      const cost = (sum / count) * (dr === middle[1] && dc === middle[0] ? CLEARLY : 1);
      if (cost < bestCost) [best, bestCost] = [[dc, dr], cost];
    }
  }
  return best;
}

function fitShift(reference: Float32Array, frame: Float32Array, columns: number, rows: number, start: PixelPoint): { readonly shift: PixelPoint; readonly offset: number; readonly sd: number } {
  let [sc, sr] = start;
  let offset = NaN;
  let sd = 0;
  const count = Math.floor((columns - 4) / 2) * Math.floor((rows - 4) / 2);
  const rest = new Float32Array(count);
  const at = new Int32Array(count);
  for (let step = 0; step < STEPS; step++) {
    let n = 0;
    for (let r = 2; r + 2 < rows && n < count; r += 2) {
      for (let c = 2; c + 2 < columns && n < count; c += 2) {
        const [x, y] = [c + sc, r + sr];
        if (x < 0 || y < 0 || x > columns - 1 || y > rows - 1) continue;
        const i = r * columns + c;
        at[n] = i;
        rest[n++] = sampleGrid(frame, columns, rows, x, y) - reference[i]!;
      }
    }
    const away = rest.slice(0, n);
    if (Number.isNaN(offset)) {
      partValues(away, n >> 1);
      offset = away[n >> 1] ?? 0;
    }
    for (let k = 0; k < n; k++) away[k] = Math.abs(away[k]! - offset);
    partValues(away, n >> 1);
    const cut = Math.max(1e-4, 4.685 * 1.4826 * (away[n >> 1] ?? 0));
    // Normal equations of [d column, d row, d offset].
    let [cc, cr, rr, c1, r1, w1, ce, re, e1, ee] = [0, 0, 0, 0, 0, 0, 0, 0, 0, 0];
    for (let k = 0; k < n; k++) {
      const e = rest[k]! - offset;
      const u = e / cut;
      if (u <= -1 || u >= 1) continue;
      const w = (1 - u * u) ** 2;
      const i = at[k]!;
      const gc = (reference[i + 1]! - reference[i - 1]!) / 2;
      const gr = (reference[i + columns]! - reference[i - columns]!) / 2;
      cc += w * gc * gc; cr += w * gc * gr; rr += w * gr * gr; c1 += w * gc; r1 += w * gr; w1 += w;
      ce += w * gc * e; re += w * gr * e; e1 += w * e; ee += w * e * e;
    }
    if (!(w1 > 0)) break;
    // The offset is eliminated; a direction without edges does not move.
    const [a, b, d, p, q] = [cc - (c1 * c1) / w1, cr - (c1 * r1) / w1, rr - (r1 * r1) / w1, ce - (c1 * e1) / w1, re - (r1 * e1) / w1];
    const ridge = 1e-4 * (a + d) + 1e-9;
    const det = (a + ridge) * (d + ridge) - b * b;
    const [dc, dr] = [((d + ridge) * p - b * q) / det, ((a + ridge) * q - b * p) / det];
    sd = Math.sqrt((SHARED * (ee / w1) * (a + d + 2 * ridge)) / det);
    const most = Math.max(1, Math.hypot(dc, dr));
    sc -= dc / most;
    sr -= dr / most;
    offset += (e1 - c1 * dc - r1 * dr) / w1;
    if (Math.hypot(dc, dr) < 2e-3 && step > 1) break;
  }
  return { shift: [sc, sr], offset: Number.isFinite(offset) ? offset : 0, sd: Number.isFinite(sd) ? sd : 0 };
}
