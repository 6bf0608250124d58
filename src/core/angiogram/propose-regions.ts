import { blurGrid, sampleGrid, type CoarseRun } from './coarse-run.ts';
import type { ContrastRegions, FrameMarks, PixelPoint } from './contrast-types.ts';

/** Where the valve lies in the picture: middle of its edge, unit direction to the aorta, width of the root there. */
export interface ValvePlace {
  readonly edgePx: PixelPoint;
  readonly toAorta: PixelPoint;
  readonly widthPx: number;
}

/** Regions as shares of the root's width, along the axis from the valve [P]: above it toward the aorta, below it into the outflow tract. */
const AORTA = { from: 0.15, to: 0.95, half: 0.36 };
const OUTFLOW = { from: -0.1, to: -0.65, half: 0.32 };

/** Both regions as boxes along the axis, cut to the picture. */
export function placeRegions(place: ValvePlace, columns: number, rows: number): ContrastRegions {
  const { edgePx, toAorta, widthPx } = place;
  const box = (from: number, to: number, half: number): PixelPoint[] => {
    const at = (along: number, across: number): PixelPoint => {
      const c = edgePx[0] + widthPx * (along * toAorta[0] - across * toAorta[1]);
      const r = edgePx[1] + widthPx * (along * toAorta[1] + across * toAorta[0]);
      return [round(Math.min(columns - 1, Math.max(0, c))), round(Math.min(rows - 1, Math.max(0, r)))];
    };
    return [at(from, -half), at(from, half), at(to, half), at(to, -half)];
  };
  return { aorta: box(AORTA.from, AORTA.to, AORTA.half), outflow: box(OUTFLOW.from, OUTFLOW.to, OUTFLOW.half), background: null };
}
const round = (v: number): number => Math.round(v * 10) / 10;

/** The valve from marks of the frame: its inflow edge and its axis, ventricle to aorta. */
export function placeByMarks({ inflow, axis }: FrameMarks): ValvePlace {
  const [dc, dr] = [axis[1][0] - axis[0][0], axis[1][1] - axis[0][1]];
  const length = Math.hypot(dc, dr);
  return {
    edgePx: [(inflow[0][0] + inflow[1][0]) / 2, (inflow[0][1] + inflow[1][1]) / 2], toAorta: [dc / length, dr / length],
    widthPx: Math.hypot(inflow[0][0] - inflow[1][0], inflow[0][1] - inflow[1][1]),
  };
}

interface Shape { readonly middle: PixelPoint; readonly axis: PixelPoint; readonly width: number; readonly low: number; readonly high: number }

/**
 * The valve from the contrast itself: the largest dense piece of the early picture, its axis, and along the axis toward the lower
 * edge of the picture (feet) the steepest fall of density.
 *
 * Shape    `early`: mean density of the first beats after arrival on the coarse grid
 * Gives    null when nothing dense, long and sharply ended is there
 * Source   docs/methods/contrast.md, "Regions"
 */
export function findValvePlace(early: Float32Array, { columns, rows, factor }: Pick<CoarseRun, 'columns' | 'rows' | 'factor'>): ValvePlace | null {
  const map = blurGrid(blurGrid(early, columns, rows), columns, rows);
  const top = Float32Array.from(map).sort()[Math.floor(0.99 * (map.length - 1))]!;
  if (!(top > 0.04)) return null;
  const piece = findLargestPiece(map, columns, rows, 0.5 * top);
  if (piece.length < 0.004 * map.length) return null;
  let shape = measureShape(piece, map, columns);
  for (let k = 0; k < 3; k++) {
    // Only the part near the valve: further up the aorta bends.
    const reach = shape.high - 2.6 * shape.width;
    const near = piece.filter((i) => along(i, shape, columns) >= reach);
    if (near.length < 30) return null;
    shape = measureShape(near, map, columns);
  }
  const { axis, width } = shape;
  const profile = (s: number): number => {
    let sum = 0;
    for (let k = -5; k <= 5; k++) {
      const across = (k / 5) * 0.25 * width;
      sum += sampleGrid(map, columns, rows, shape.middle[0] + s * axis[0] - across * axis[1], shape.middle[1] + s * axis[1] + across * axis[0]);
    }
    return sum / 11;
  };
  const gap = Math.max(1, 0.15 * width);
  let [edge, drop] = [NaN, 0];
  for (let s = shape.low + 0.5 * width; s <= shape.high + 0.4 * width; s += 0.25) {
    const fall = profile(s - gap) - profile(s + gap);
    if (fall > drop) [edge, drop] = [s, fall];
  }
  if (!(drop > 0.25 * top)) return null;
  const half = (profile(edge - gap) + profile(edge + gap)) / 2;
  // Where exactly the middle of the fall lies.
  for (let s = edge - gap; s <= edge + gap; s += 0.1) {
    if (profile(s) <= half) {
      edge = s;
      break;
    }
  }
  const widthHere = measureWidth(map, shape, edge - 0.5 * width, columns, rows);
  const edgePx: PixelPoint = [toPixel(shape.middle[0] + edge * axis[0], factor), toPixel(shape.middle[1] + edge * axis[1], factor)];
  return { edgePx, toAorta: [-axis[0], -axis[1]], widthPx: widthHere * factor };
}
const toPixel = (coarse: number, factor: number): number => factor * (coarse + 0.5) - 0.5;
const along = (i: number, s: Pick<Shape, 'middle' | 'axis'>, columns: number): number => ((i % columns) - s.middle[0]) * s.axis[0] + (Math.floor(i / columns) - s.middle[1]) * s.axis[1];

/** Of pixels above the level the connected piece with the largest sum. */
function findLargestPiece(map: Float32Array, columns: number, rows: number, level: number): number[] {
  const seen = new Uint8Array(map.length);
  let [best, bestSum]: [number[], number] = [[], 0];
  for (let start = 0; start < map.length; start++) {
    if (seen[start] || map[start]! < level) continue;
    const piece = [start];
    seen[start] = 1;
    let sum = 0;
    for (let k = 0; k < piece.length; k++) {
      const i = piece[k]!;
      sum += map[i]!;
      const [c, r] = [i % columns, Math.floor(i / columns)];
      for (const [j, isIn] of [[i - 1, c > 0], [i + 1, c < columns - 1], [i - columns, r > 0], [i + columns, r < rows - 1]] as const) {
        if (isIn && !seen[j] && map[j]! >= level) {
          seen[j] = 1;
          piece.push(j);
        }
      }
    }
    if (sum > bestSum) [best, bestSum] = [piece, sum];
  }
  return best;
}

/** Middle, axis (toward the lower edge of the picture), width across it and reach along it. */
function measureShape(piece: readonly number[], map: Float32Array, columns: number): Shape {
  let [w, mc, mr] = [0, 0, 0];
  for (const i of piece) {
    w += map[i]!;
    mc += map[i]! * (i % columns);
    mr += map[i]! * Math.floor(i / columns);
  }
  const middle: PixelPoint = [mc / w, mr / w];
  let [cc, cr, rr] = [0, 0, 0];
  for (const i of piece) {
    const [dc, dr] = [(i % columns) - middle[0], Math.floor(i / columns) - middle[1]];
    cc += map[i]! * dc * dc;
    cr += map[i]! * dc * dr;
    rr += map[i]! * dr * dr;
  }
  const angle = 0.5 * Math.atan2(2 * cr, cc - rr);
  const sign = Math.sin(angle) < 0 ? -1 : 1;
  const axis: PixelPoint = [sign * Math.cos(angle), sign * Math.sin(angle)];
  const across = (cc * axis[1] ** 2 - 2 * cr * axis[0] * axis[1] + rr * axis[0] ** 2) / w;
  const places = piece.map((i) => along(i, { middle, axis }, columns));
  return { middle, axis, width: Math.max(3, Math.sqrt(12 * across)), low: places.reduce((a, b) => Math.min(a, b), Infinity), high: places.reduce((a, b) => Math.max(a, b), -Infinity) };
}

/** Width across the axis at half of the density in its middle. */
function measureWidth(map: Float32Array, { middle, axis, width }: Shape, s: number, columns: number, rows: number): number {
  const at = (across: number): number => sampleGrid(map, columns, rows, middle[0] + s * axis[0] - across * axis[1], middle[1] + s * axis[1] + across * axis[0]);
  const half = at(0) / 2;
  const walk = (sign: 1 | -1): number => {
    let d = 0;
    while (d < width && at(sign * d) > half) d += 0.25;
    return d;
  };
  return Math.min(1.6 * width, Math.max(0.6 * width, walk(1) + walk(-1)));
}
