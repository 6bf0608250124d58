import { solveSmall } from '../math/solve-small.ts';
import type { RootMap } from '../root/root-types.ts';
import { ZONE } from './wall-grid.ts';

/** Full width at half maximum of the smoothing along s: the slope of a raw contour is noisier than friction (pitfall 2). */
export const SMOOTHING_MM = 3;
export const NODE_MM = 1;
const MAX_GAP_DEG = 30;

export interface FilledMap {
  readonly lowMm: number;
  readonly rows: number;
  readonly stepMm: number;
  /** row * sectors + sector, means over the sector. */
  readonly radiusMm: Float64Array;
  readonly measuredMm: readonly [number, number];
  readonly largestGapDeg: number;
}

/** Rows of the map as sector means; rows with a gap above 30 degrees end the measured range. */
export function fillWallMap(map: RootMap): FilledMap | null {
  const { azimuthDeg, heightMm, radiusMm } = map;
  const n = azimuthDeg.length;
  if (n < ZONE.sectors || heightMm.length < 4) return null;
  const stepMm = heightMm[1]! - heightMm[0]!;
  const zero = heightMm.findIndex((h) => Math.abs(h) < stepMm / 2 + 1e-9);
  if (!(stepMm > 0) || zero < 0) return null;
  const rows: (Float64Array | null)[] = [];
  let worst = 0;
  for (const row of radiusMm) {
    const gapDeg = findLargestGap(row) * (360 / n);
    const isSound = gapDeg <= MAX_GAP_DEG && row.every((r) => r === null || (r > 2 && r < 60));
    rows.push(isSound ? meanSectors(row, n) : null);
  }
  let low = zero;
  let high = zero;
  if (!rows[zero]) return null;
  while (low > 0 && rows[low - 1]) low--;
  while (high < rows.length - 1 && rows[high + 1]) high++;
  for (let h = low; h <= high; h++) worst = Math.max(worst, findLargestGap(radiusMm[h]!) * (360 / n));
  if (heightMm[low]! > -5 || heightMm[high]! < 8) return null;
  const out = new Float64Array((high - low + 1) * ZONE.sectors);
  for (let h = low; h <= high; h++) out.set(rows[h]!, (h - low) * ZONE.sectors);
  return { lowMm: heightMm[low]!, rows: high - low + 1, stepMm, radiusMm: out, measuredMm: [heightMm[low]!, heightMm[high]!], largestGapDeg: worst };
}

/** Longest run of missing columns, around the ring. */
function findLargestGap(row: readonly (number | null)[]): number {
  const n = row.length;
  if (row.every((r) => r === null)) return n;
  let longest = 0;
  for (let start = 0; start < n; start++) {
    if (row[start] !== null || row[(start + n - 1) % n] === null) continue;
    let length = 1;
    while (row[(start + length) % n] === null) length++;
    longest = Math.max(longest, length);
  }
  return longest;
}

/** Mean radius per sector of contact, gaps bridged linearly around the ring. */
function meanSectors(row: readonly (number | null)[], n: number): Float64Array {
  const filled = Float64Array.from({ length: n }, (_, a) => {
    if (row[a] !== null) return row[a]!;
    let [back, ahead] = [1, 1];
    while (row[(a - back + n) % n] === null) back++;
    while (row[(a + ahead) % n] === null) ahead++;
    return (row[(a - back + n) % n]! * ahead + row[(a + ahead) % n]! * back) / (back + ahead);
  });
  const per = n / ZONE.sectors;
  return Float64Array.from({ length: ZONE.sectors }, (_, j) => {
    // Triangular weights over one sector to each side: the sector's middle counts most.
    let sum = 0;
    let weight = 0;
    for (let d = -Math.floor(per); d <= Math.floor(per); d++) {
      const w = 1 - Math.abs(d) / (per + 1);
      sum += w * filled[(Math.round(j * per) + d + n) % n]!;
      weight += w;
    }
    return sum / weight;
  });
}

/** Radius and slope at nodes along s, per sector: a cubic Hermite curve, so C1. Index node * sectors + sector. */
export interface WallNodes {
  readonly lowMm: number;
  readonly count: number;
  readonly value: Float64Array;
  readonly slope: Float64Array;
}

/** Local quadratic smoothing along s at nodes 1 mm apart, and the node slopes of a cubic Hermite curve through them. */
export function smoothWallMap(map: FilledMap): WallNodes {
  const sd = SMOOTHING_MM / 2.3548;
  const count = Math.floor(((map.rows - 1) * map.stepMm) / NODE_MM) + 1;
  const sectors = ZONE.sectors;
  const value = new Float64Array(count * sectors);
  for (let k = 0; k < count; k++) {
    const weights = localWeights(map, k * NODE_MM, sd);
    for (let j = 0; j < sectors; j++) {
      let sum = 0;
      for (let h = 0; h < map.rows; h++) if (weights[h] !== 0) sum += weights[h]! * map.radiusMm[h * sectors + j]!;
      value[k * sectors + j] = sum;
    }
  }
  const slopes = value.map((_, at) => {
    const before = at - sectors >= 0 ? value[at - sectors]! : value[at]!;
    const after = at + sectors < value.length ? value[at + sectors]! : value[at]!;
    const isEnd = at - sectors < 0 || at + sectors >= value.length;
    return isEnd ? 0 : (after - before) / (2 * NODE_MM);
  });
  return { lowMm: map.lowMm, count, value, slope: slopes };
}

/** Weights of the rows in the local quadratic fit at `atMm` above the lowest row. */
function localWeights(map: FilledMap, atMm: number, sd: number): Float64Array {
  const g = Float64Array.from({ length: map.rows }, (_, h) => {
    const u = (h * map.stepMm - atMm) / sd;
    return Math.abs(u) > 4 ? 0 : Math.exp(-0.5 * u * u);
  });
  const moment = (p: number): number => g.reduce((s, w, h) => s + w * (h * map.stepMm - atMm) ** p, 0);
  const m = [0, 1, 2, 3, 4].map(moment);
  const a = Float64Array.from([m[0]!, m[1]!, m[2]!, m[1]!, m[2]!, m[3]!, m[2]!, m[3]!, m[4]!]);
  const c = solveSmall(a, Float64Array.from([1, 0, 0]), 3);
  if (!c) return g.map((w) => w / m[0]!);
  return g.map((w, h) => {
    const d = h * map.stepMm - atMm;
    return w * (c[0]! + c[1]! * d + c[2]! * d * d);
  });
}

/** Radius and slope at s for one sector, written into `into`; constant beyond the nodes. */
export function readNodes(nodes: WallNodes, s: number, sector: number, into: [number, number]): void {
  const sectors = ZONE.sectors;
  const top = nodes.lowMm + (nodes.count - 1) * NODE_MM;
  const place = (Math.max(nodes.lowMm, Math.min(top, s)) - nodes.lowMm) / NODE_MM;
  const k = Math.min(nodes.count - 2, Math.floor(place));
  const t = place - k;
  const at = k * sectors + sector;
  const [y0, y1] = [nodes.value[at]!, nodes.value[at + sectors]!];
  const [d0, d1] = [nodes.slope[at]! * NODE_MM, nodes.slope[at + sectors]! * NODE_MM];
  const t2 = t * t;
  const t3 = t2 * t;
  into[0] = (2 * t3 - 3 * t2 + 1) * y0 + (t3 - 2 * t2 + t) * d0 + (3 * t2 - 2 * t3) * y1 + (t3 - t2) * d1;
  const isOutside = s < nodes.lowMm || s > top;
  into[1] = isOutside ? 0 : ((6 * t2 - 6 * t) * (y0 - y1) + (3 * t2 - 4 * t + 1) * d0 + (3 * t2 - 2 * t) * d1) / NODE_MM;
}
