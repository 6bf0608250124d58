import { sampleGrid, type CoarseRun } from './coarse-run.ts';
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

export interface Arrival {
  /** First frame (from 0) in which contrast is seen; null: none. */
  readonly frame: number | null;
  readonly isBrightening: boolean;
  /** Contrast is there at once. */
  readonly isAtOnce: boolean;
}

/** Of a few pixels that darken most: mean of the top share. */
function measureTop(map: Float32Array, sign: 1 | -1): number {
  const sorted = map.map((v) => sign * v).sort();
  const count = Math.max(3, Math.round(map.length * 0.02));
  let sum = 0;
  for (let k = sorted.length - count; k < sorted.length; k++) sum += sorted[k]!;
  return sum / count;
}

/**
 * When contrast arrives: the first frame whose darkest two hundredths rise above what beating edges do, and stay so.
 * A run in which the picture brightens instead began with contrast in it, or has its greys the other way round.
 */
export function findArrival(maps: readonly Float32Array[], firstFrames: number): Arrival {
  const dark = maps.map((m) => measureTop(m, 1));
  const bright = maps.map((m) => measureTop(m, -1));
  const [topDark, topBright] = [Math.max(...dark), Math.max(...bright)];
  const ranked = [...dark].sort((a, b) => a - b);
  const quiet = ranked[Math.floor(0.05 * (ranked.length - 1))]!;
  const isBrightening = topBright > 0.08 && topBright > 1.3 * topDark;
  if (topDark - quiet < 0.05) return { frame: null, isBrightening, isAtOnce: false };
  // Where the rise passes a quarter for good, walked back to where it left the level before.
  const climb = quiet + 0.25 * (topDark - quiet);
  let k = dark.findIndex((v, i) => v > climb && (dark[i + 1] ?? v) > climb && (dark[i + 2] ?? v) > climb);
  if (k < 0) return { frame: null, isBrightening, isAtOnce: false };
  const before = dark.slice(firstFrames, Math.max(firstFrames, k - 2));
  const level = before.length > 0 ? Math.max(...before) : dark[Math.max(0, k - 1)]!;
  const leave = Math.min(climb, Math.max(level, quiet) + 0.04 * (topDark - quiet));
  while (k > 0 && dark[k - 1]! > leave) k--;
  return { frame: k, isBrightening, isAtOnce: k < firstFrames };
}

/** Mean of the maps of frames `from` to `to` (to not included). */
export function meanMap(maps: readonly Float32Array[], from: number, to: number): Float32Array {
  const out = new Float32Array(maps[0]!.length);
  const count = Math.max(1, to - from);
  for (let t = from; t < to; t++) for (let i = 0; i < out.length; i++) out[i]! += maps[t]![i]! / count;
  return out;
}
