/** Polygons on a picture that a person moves, in pixels of it. */
export type Point = readonly [column: number, row: number];
export type Polygon = readonly Point[];
export interface Size {
  readonly columns: number;
  readonly rows: number;
}
const clamp = (v: number, most: number): number => Math.max(0, Math.min(most, v));
const round = (v: number): number => Math.round(v * 10) / 10;

/** The whole region by a distance; it stops at the edge of the picture and keeps its shape. */
export function moveRegion(region: Polygon, by: Point, { columns, rows }: Size): Polygon {
  if (region.length === 0) return region;
  const [cs, rs] = [region.map((p) => p[0]), region.map((p) => p[1])];
  const dc = Math.max(-Math.min(...cs), Math.min(columns - 1 - Math.max(...cs), by[0]));
  const dr = Math.max(-Math.min(...rs), Math.min(rows - 1 - Math.max(...rs), by[1]));
  return region.map(([c, r]) => [round(c + dc), round(r + dr)] as const);
}
/** One point to a place; outside of the picture it stops at its edge. */
export function putPoint(region: Polygon, index: number, to: Point, { columns, rows }: Size): Polygon {
  return region.map((p, i) => (i === index ? ([round(clamp(to[0], columns - 1)), round(clamp(to[1], rows - 1))] as const) : p));
}
/** A further point where it lengthens the outline least. */
export function addPoint(region: Polygon, at: Point): Polygon {
  const point: Point = [round(at[0]), round(at[1])];
  if (region.length < 3) return [...region, point];
  const far = (a: Point, b: Point): number => Math.hypot(a[0] - b[0], a[1] - b[1]);
  let [best, least] = [0, Infinity];
  region.forEach((p, i) => {
    const next = region[(i + 1) % region.length]!;
    const longer = far(p, point) + far(point, next) - far(p, next);
    if (longer < least) [best, least] = [i, longer];
  });
  return [...region.slice(0, best + 1), point, ...region.slice(best + 1)];
}
export const dropPoint = (region: Polygon, index: number): Polygon => region.filter((_, i) => i !== index);
export function findMiddle(region: Polygon): Point {
  const n = Math.max(1, region.length);
  return [region.reduce((s, p) => s + p[0], 0) / n, region.reduce((s, p) => s + p[1], 0) / n];
}
