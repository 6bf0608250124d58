import { partValues } from '../math/part-values.ts';
import { blurGrid, sampleGrid, type CoarseRun } from './coarse-run.ts';
import type { FrameMotion } from './register-frames.ts';

/** Density of each frame against the first frames on the coarse grid: logarithm before minus logarithm now, shift and brightness taken out. */
export function makeDensityMaps({ columns, rows, factor, frames }: CoarseRun, motion: FrameMotion): readonly Float32Array[] {
  return frames.map((frame, t) => {
    const [sc, sr] = [motion.shiftsPx[t]![0] / factor, motion.shiftsPx[t]![1] / factor];
    const lift = motion.brightness[t]!;
    const out = new Float32Array(frame.length);
    const isStill = sc === 0 && sr === 0;
    for (let r = 0, i = 0; r < rows; r++) {
      for (let c = 0; c < columns; c++, i++) {
        out[i] = motion.reference[i]! + lift - (isStill ? frame[i]! : sampleGrid(frame, columns, rows, c + sc, r + sr));
      }
    }
    return out;
  });
}

/** Coarse pixels on which contrast shows in the mean of the window, and those near: they have no say in the brightness. */
const SHOWS = 0.02;
const NEAR = 3;

/**
 * Brightness of the whole picture again, now that it is known where contrast is: the mean of the middle half of all other
 * places. The first fit is drawn down a little by thin contrast.
 */
export function refineBrightness(coarse: CoarseRun, motion: FrameMotion, maps: readonly Float32Array[], mask: readonly [number, number], from: number): FrameMotion {
  const { columns, rows } = coarse;
  const before = meanMap(maps, mask[0], mask[1] + 1);
  const after = blurGrid(meanMap(maps, from, maps.length).map((v, i) => v - before[i]!), columns, rows);
  const isFree = new Uint8Array(after.length).fill(1);
  for (let r = 0; r < rows; r++) {
    for (let c = 0; c < columns; c++) {
      if (after[r * columns + c]! < SHOWS) continue;
      for (let y = Math.max(0, r - NEAR); y <= Math.min(rows - 1, r + NEAR); y++) isFree.fill(0, y * columns + Math.max(0, c - NEAR), y * columns + Math.min(columns, c + NEAR + 1));
    }
  }
  const free = [...isFree.keys()].filter((i) => isFree[i] === 1);
  if (free.length < 0.1 * after.length) return motion;
  const brightness = motion.brightness.map((b, t) => {
    // Softened, so that noise does not hide from the middle half what the beat moves.
    const soft = blurGrid(blurGrid(maps[t]!.map((v, i) => v - before[i]!), columns, rows), columns, rows);
    const rest = Float32Array.from(free, (i) => soft[i]!);
    return b - middleOf(rest);
  });
  return { ...motion, brightness };
}
/** Mean of the middle half: nearly as robust as the median and half as noisy. */
function middleOf(values: Float32Array): number {
  const [a, b] = [Math.floor(values.length / 4), Math.ceil((3 * values.length) / 4)];
  partValues(values, a);
  partValues(values, b - 1, a);
  let sum = 0;
  for (let k = a; k < b; k++) sum += values[k]!;
  return sum / (b - a);
}

export interface Arrival {
  /** First frame (from 0) in which contrast is seen; null: none. */
  readonly frame: number | null;
  readonly isBrightening: boolean;
  /** Contrast is there at once. */
  readonly isAtOnce: boolean;
}

/** Of the few pixels that darken most, and of those that brighten most: means of a fiftieth. */
function measureEnds(map: Float32Array): { readonly dark: number; readonly bright: number } {
  const count = Math.max(3, Math.round(map.length * 0.02));
  const sorted = Float32Array.from(map);
  partValues(sorted, count);
  partValues(sorted, sorted.length - 1 - count, count);
  let [dark, bright] = [0, 0];
  for (let k = 0; k < count; k++) {
    dark += sorted[sorted.length - 1 - k]!;
    bright -= sorted[k]!;
  }
  return { dark: dark / count, bright: bright / count };
}

/**
 * When contrast arrives: the first frame whose darkest two hundredths rise above what beating edges do, and stay so.
 * A run in which the picture brightens instead began with contrast in it, or has its greys the other way round.
 */
export function findArrival(maps: readonly Float32Array[], firstFrames: number): Arrival {
  const ends = maps.map(measureEnds);
  const dark = ends.map((e) => e.dark);
  const bright = ends.map((e) => e.bright);
  const [topDark, topBright] = [Math.max(...dark), Math.max(...bright)];
  const ranked = [...dark].sort((a, b) => a - b);
  const quiet = ranked[Math.floor(0.05 * (ranked.length - 1))]!;
  const isBrightening = topBright > 0.08 && topBright > 1.3 * topDark;
  if (topDark - quiet < 0.05) return { frame: null, isBrightening, isAtOnce: false };
  // Where the rise passes a quarter for good, walked back to where it left the level before.
  const climb = quiet + 0.25 * (topDark - quiet);
  let k = dark.findIndex((v, i) => v > climb && (dark[i + 1] ?? v) > climb && (dark[i + 2] ?? v) > climb);
  if (k < 0) return { frame: null, isBrightening, isAtOnce: false };
  // The level before by its middle: the foot of the rise is among these frames and must not lift it.
  const before = dark.slice(0, Math.max(firstFrames, k - 1)).sort((a, b) => a - b);
  const level = before[before.length >> 1]!;
  const spread = before.map((v) => Math.abs(v - level)).sort((a, b) => a - b)[before.length >> 1]!;
  const leave = level + Math.max(3 * 1.4826 * spread, 0.015 * (topDark - quiet));
  while (k > 0 && dark[k - 1]! > leave) k--;
  return { frame: k, isBrightening, isAtOnce: k < firstFrames };
}

/**
 * Arrival again by the root's own curve: walked back from where the whole picture showed it to where the curve leaves its middle
 * before, by three robust SD or a hundredth and a half of its top. Gives a frame not later than `late`.
 */
export function refineArrival(root: readonly number[], late: number): number {
  const before = root.slice(0, Math.max(2, late)).sort((a, b) => a - b);
  const level = before[before.length >> 1]!;
  const spread = before.map((v) => Math.abs(v - level)).sort((a, b) => a - b)[before.length >> 1]!;
  const leave = level + Math.max(3 * 1.4826 * spread, 0.015 * (Math.max(...root) - level));
  let k = late;
  while (k > 0 && root[k - 1]! > leave) k--;
  return k;
}

/** Mean of the maps of frames `from` to `to` (to not included). */
export function meanMap(maps: readonly Float32Array[], from: number, to: number): Float32Array {
  const out = new Float32Array(maps[0]!.length);
  const count = Math.max(1, to - from);
  for (let t = from; t < to; t++) for (let i = 0; i < out.length; i++) out[i]! += maps[t]![i]! / count;
  return out;
}

/**
 * Whether another vessel runs through the outflow region: what is dense late and touches the lower edge of the picture, where root,
 * outflow tract and ventricle do not reach but the descending aorta does.
 *
 * Shape    `isOutflow`: coarse pixels of the region
 */
export function hasLateVessel(late: Float32Array, { columns, rows }: Pick<CoarseRun, 'columns' | 'rows'>, isOutflow: (column: number, row: number) => boolean): boolean {
  const map = blurGrid(blurGrid(late, columns, rows), columns, rows);
  const level = Math.max(0.04, 0.3 * Float32Array.from(map).sort()[Math.floor(0.99 * (map.length - 1))]!);
  const queue: number[] = [];
  const seen = new Uint8Array(map.length);
  const edge = rows - Math.max(2, Math.round(0.03 * rows));
  for (let i = edge * columns; i < map.length; i++) {
    if (map[i]! >= level) {
      seen[i] = 1;
      queue.push(i);
    }
  }
  let touched = 0;
  for (let k = 0; k < queue.length; k++) {
    const i = queue[k]!;
    const [c, r] = [i % columns, Math.floor(i / columns)];
    if (isOutflow(c, r)) touched++;
    for (const [j, isIn] of [[i - 1, c > 0], [i + 1, c < columns - 1], [i - columns, r > 0], [i + columns, r < rows - 1]] as const) {
      if (isIn && !seen[j] && map[j]! >= level) {
        seen[j] = 1;
        queue.push(j);
      }
    }
  }
  return touched > 3;
}
