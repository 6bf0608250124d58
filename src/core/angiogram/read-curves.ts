import type { ContrastRegions, ContrastRun, PixelPoint, PixelPolygon } from './contrast-types.ts';
import { listRegionPixels } from './region-pixels.ts';

/** Mean logarithm of the beam in a region, frame by frame; the region follows the picture's shift. */
export function readRegionCurve(run: ContrastRun, log: Float64Array, shiftsPx: readonly PixelPoint[], polygon: PixelPolygon): Float64Array {
  const pixels = listRegionPixels(polygon, run.columns, run.rows);
  return Float64Array.from(run.frames, (frame, t) => sumPixels(run, frame, log, shiftsPx[t]!, pixels) / pixels.length);
}

function sumPixels(run: ContrastRun, frame: Uint8Array | Uint16Array, log: Float64Array, [sc, sr]: PixelPoint, pixels: Int32Array): number {
  let sum = 0;
  if (sc === 0 && sr === 0) {
    for (const p of pixels) sum += log[frame[p]!]!;
    return sum;
  }
  const { columns, rows } = run;
  const [wholeC, wholeR] = [Math.floor(sc), Math.floor(sr)];
  const [u, v] = [sc - wholeC, sr - wholeR];
  for (const p of pixels) {
    const c = Math.min(columns - 2, Math.max(0, (p % columns) + wholeC));
    const r = Math.min(rows - 2, Math.max(0, Math.floor(p / columns) + wholeR));
    const i = r * columns + c;
    sum += (1 - v) * ((1 - u) * log[frame[i]!]! + u * log[frame[i + 1]!]!) + v * ((1 - u) * log[frame[i + columns]!]! + u * log[frame[i + columns + 1]!]!);
  }
  return sum;
}

/** Sum over frames of weight x logarithm for each pixel of a box: areas under the curve of every pixel at once. */
export interface WeightedMap {
  readonly left: number;
  readonly top: number;
  readonly columns: number;
  readonly rows: number;
  readonly values: Float64Array;
}

/** `weights`: one for each frame; frames of weight 0 are not read. The box holds both regions and `marginPx` around. */
export function makeWeightedMap(run: ContrastRun, log: Float64Array, shiftsPx: readonly PixelPoint[], weights: ArrayLike<number>, regions: readonly PixelPolygon[], marginPx: number): WeightedMap {
  const points = regions.flat();
  const bound = (axis: 0 | 1, most: number): [number, number] => [
    Math.max(0, Math.floor(points.reduce((a, p) => Math.min(a, p[axis]), Infinity) - marginPx)),
    Math.min(most - 1, Math.ceil(points.reduce((a, p) => Math.max(a, p[axis]), -Infinity) + marginPx)),
  ];
  const [left, right] = bound(0, run.columns);
  const [top, bottom] = bound(1, run.rows);
  const [columns, rows] = [right - left + 1, bottom - top + 1];
  const values = new Float64Array(columns * rows);
  for (const [t, frame] of run.frames.entries()) {
    const w = weights[t]!;
    if (w === 0) continue;
    const [sc, sr] = shiftsPx[t]!;
    const [dc, dr] = [Math.round(sc), Math.round(sr)];
    for (let r = 0; r < rows; r++) {
      const row = Math.min(run.rows - 1, Math.max(0, top + r + dr)) * run.columns;
      for (let c = 0; c < columns; c++) values[r * columns + c]! += w * log[frame[row + Math.min(run.columns - 1, Math.max(0, left + c + dc))]!]!;
    }
  }
  return { left, top, columns, rows, values };
}
/** Mean of the map over a polygon; NaN when no pixel of it lies in the box. */
export function meanOver(map: WeightedMap, polygon: PixelPolygon): number {
  const pixels = listRegionPixels(polygon.map(([c, r]) => [c - map.left, r - map.top]), map.columns, map.rows);
  let sum = 0;
  for (const p of pixels) sum += map.values[p]!;
  return sum / pixels.length;
}

/** Share of pixels of the regions that stand at an end of the scale, over frames `from` to `to` (from 0, both included). */
export function measureClipping(run: ContrastRun, regions: ContrastRegions, from: number, to: number): { readonly ratio: number; readonly region: 'aorta' | 'outflow' } {
  const top = 2 ** run.bits - 1;
  const share = (polygon: PixelPolygon): number => {
    const pixels = listRegionPixels(polygon, run.columns, run.rows);
    let [clipped, all] = [0, 0];
    for (let t = from; t <= to; t++) {
      const frame = run.frames[t]!;
      for (const p of pixels) if (frame[p]! <= 0 || frame[p]! >= top) clipped++;
      all += pixels.length;
    }
    return clipped / all;
  };
  const [aorta, outflow] = [share(regions.aorta), share(regions.outflow)];
  return aorta >= outflow ? { ratio: aorta, region: 'aorta' } : { ratio: outflow, region: 'outflow' };
}

/** Share of a region's pixels that are far darker before contrast than the brightest quarter of it. */
export function measureDenseShare(run: ContrastRun, log: Float64Array, polygon: PixelPolygon, from: number, to: number, darker: number): number {
  const pixels = listRegionPixels(polygon, run.columns, run.rows);
  const mean = Float64Array.from(pixels, (p) => {
    let sum = 0;
    for (let t = from; t <= to; t++) sum += log[run.frames[t]![p]!]!;
    return sum / (to - from + 1);
  });
  const bright = [...mean].sort((a, b) => a - b)[Math.floor(0.75 * mean.length)]!;
  return mean.filter((v) => v < bright - darker).length / mean.length;
}

