import type { PixelPoint, PixelPolygon } from './contrast-types.ts';

/** Pixels whose centre lies inside (even-odd), as indices row x columns + column. Those outside of the picture are left out. */
export function listRegionPixels(polygon: PixelPolygon, columns: number, rows: number): Int32Array {
  const out: number[] = [];
  const ys = polygon.map((p) => p[1]);
  const first = Math.max(0, Math.ceil(Math.min(...ys)));
  const last = Math.min(rows - 1, Math.floor(Math.max(...ys)));
  for (let row = first; row <= last; row++) {
    const crossings: number[] = [];
    for (let i = 0; i < polygon.length; i++) {
      const [x0, y0] = polygon[i]!;
      const [x1, y1] = polygon[(i + 1) % polygon.length]!;
      if (y0 > row === y1 > row) continue;
      crossings.push(x0 + ((row - y0) * (x1 - x0)) / (y1 - y0));
    }
    crossings.sort((a, b) => a - b);
    for (let k = 0; k + 1 < crossings.length; k += 2) {
      const to = Math.min(columns - 1, Math.ceil(crossings[k + 1]!) - 1);
      for (let column = Math.max(0, Math.ceil(crossings[k]!)); column <= to; column++) out.push(row * columns + column);
    }
  }
  return Int32Array.from(out);
}

export function findCentre(polygon: PixelPolygon): PixelPoint {
  const sum = polygon.reduce((s, p) => [s[0] + p[0], s[1] + p[1]], [0, 0]);
  return [sum[0]! / polygon.length, sum[1]! / polygon.length];
}

/** Area by the shoelace rule, px2. */
export function measurePolygonArea(polygon: PixelPolygon): number {
  let twice = 0;
  for (let i = 0; i < polygon.length; i++) {
    const [a, b] = [polygon[i]!, polygon[(i + 1) % polygon.length]!];
    twice += a[0] * b[1] - b[0] * a[1];
  }
  return Math.abs(twice) / 2;
}

export function movePolygon(polygon: PixelPolygon, [dc, dr]: PixelPoint): PixelPolygon {
  return polygon.map(([c, r]) => [c + dc, r + dr]);
}
/** Every side moved outward by about `byPx` (inward when negative). */
export function growPolygon(polygon: PixelPolygon, byPx: number): PixelPolygon {
  const [mc, mr] = findCentre(polygon);
  const size = Math.sqrt(measurePolygonArea(polygon));
  const scale = Math.max(0.2, 1 + (2 * byPx) / Math.max(1, size));
  return polygon.map(([c, r]) => [mc + (c - mc) * scale, mr + (r - mr) * scale]);
}
