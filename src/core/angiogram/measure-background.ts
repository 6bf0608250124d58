import type { CoarseRun } from './coarse-run.ts';
import { meanMap } from './density-maps.ts';

const TILE = 8;

/**
 * How much the mean density of a place without contrast differs from zero over the window, 1 SD: from tiles of the picture that
 * brightened, since contrast only darkens. Edges that move, scattered radiation and a drifting exposure are in it.
 *
 * Shape    `lift`: brightness found since the maps were made, mean over the window less mean before contrast
 */
export function measureBackground(maps: readonly Float32Array[], { columns, rows }: CoarseRun, mask: readonly [number, number], window: readonly [number, number], lift: number): number {
  const before = meanMap(maps, mask[0], mask[1] + 1);
  const now = meanMap(maps, window[0], window[1] + 1);
  const below: number[] = [];
  for (let r = 0; r + TILE <= rows; r += TILE) {
    for (let c = 0; c + TILE <= columns; c += TILE) {
      let sum = 0;
      for (let i = 0; i < TILE; i++) for (let j = 0; j < TILE; j++) sum += now[(r + i) * columns + c + j]! - before[(r + i) * columns + c + j]!;
      const mean = sum / TILE ** 2 + lift;
      if (mean < 0) below.push(mean);
    }
  }
  if (below.length < 4) return 0.01;
  // Half of a normal spread, without its farthest tenth: single tiles on the diaphragm are not the outflow tract.
  const sorted = below.map((v) => -v).sort((a, b) => a - b).slice(0, Math.ceil(below.length * 0.9));
  return Math.sqrt(sorted.reduce((s, v) => s + v * v, 0) / sorted.length) * 1.2;
}
