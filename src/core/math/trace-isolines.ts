/** A height field on a rectangular grid: values[row][column] at (xs[column], ys[row]); null where nothing is known. */
export interface ScalarGrid {
  readonly xs: readonly number[];
  readonly ys: readonly number[];
  readonly values: readonly (readonly (number | null)[])[];
}
export type PlanePoint = readonly [x: number, y: number];
export interface Isoline {
  readonly points: readonly PlanePoint[];
  /** The last point joins the first, which is not repeated. */
  readonly isClosed: boolean;
}

/**
 * Lines along which a field on a grid has one value (marching squares).
 *
 * Shape     each line starts in the first cell (row by row) that it crosses; order is deterministic
 * Equation  crossings by linear interpolation along cell edges; a saddle cell is decided by the mean of its corners
 * Fails     never; a cell with an unknown or non-finite corner holds no line
 * Source    docs/methods/pictures.md
 * Accuracy  exact on cell edges for a field that is linear along them; between, off by O(step^2)
 */
export function traceIsolines(grid: ScalarGrid, level: number): readonly Isoline[] {
  const links = new Map<string, { point: PlanePoint; next: string[] }>();
  const order: string[] = [];
  const join = (a: Crossing, b: Crossing): void => {
    for (const end of [a, b]) {
      if (!links.has(end.key)) {
        links.set(end.key, { point: end.point, next: [] });
        order.push(end.key);
      }
    }
    links.get(a.key)!.next.push(b.key);
    links.get(b.key)!.next.push(a.key);
  };
  forEachCell(grid, (row, column, corners) => {
    const edges = findCrossings(grid, row, column, corners, level);
    if (edges.length === 2) join(edges[0]!, edges[1]!);
    if (edges.length === 4) {
      const isMiddleHigh = (corners[0] + corners[1] + corners[2] + corners[3]) / 4 >= level;
      // Edges come in the order top, right, bottom, left; the pairs separate the corners the middle does not join.
      const isFirstCornerHigh = corners[0] >= level;
      const [a, b, c, d] = edges as [Crossing, Crossing, Crossing, Crossing];
      if (isMiddleHigh === isFirstCornerHigh) {
        join(a, b);
        join(c, d);
      } else {
        join(d, a);
        join(b, c);
      }
    }
  });
  return chainLinks(links, order);
}

/** Cells clipped to where the field is at or above a level: polygons that tile the region without gaps. */
export function fillIsoband(grid: ScalarGrid, level: number): readonly (readonly PlanePoint[])[] {
  const polygons: PlanePoint[][] = [];
  forEachCell(grid, (row, column, corners) => {
    const points = cornerPoints(grid, row, column);
    const polygon: PlanePoint[] = [];
    for (let i = 0; i < 4; i++) {
      const j = (i + 1) % 4;
      if (corners[i]! >= level) polygon.push(points[i]!);
      if (corners[i]! >= level !== corners[j]! >= level) {
        polygon.push(between(points[i]!, points[j]!, corners[i]!, corners[j]!, level));
      }
    }
    if (polygon.length >= 3) polygons.push(polygon);
  });
  return polygons;
}

type Corners = readonly [number, number, number, number];
interface Crossing {
  readonly key: string;
  readonly point: PlanePoint;
}

function forEachCell(grid: ScalarGrid, visit: (row: number, column: number, corners: Corners) => void): void {
  for (let row = 0; row + 1 < grid.ys.length; row++) {
    for (let column = 0; column + 1 < grid.xs.length; column++) {
      const corners = [
        grid.values[row]?.[column], grid.values[row]?.[column + 1],
        grid.values[row + 1]?.[column + 1], grid.values[row + 1]?.[column],
      ];
      if (corners.every((v) => typeof v === 'number' && Number.isFinite(v))) visit(row, column, corners as unknown as Corners);
    }
  }
}

function cornerPoints(grid: ScalarGrid, row: number, column: number): readonly PlanePoint[] {
  const [x0, x1] = [grid.xs[column]!, grid.xs[column + 1]!];
  const [y0, y1] = [grid.ys[row]!, grid.ys[row + 1]!];
  return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
}

function between(a: PlanePoint, b: PlanePoint, va: number, vb: number, level: number): PlanePoint {
  const t = (level - va) / (vb - va);
  return [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
}

/** Edges of one cell that the level crosses: keys name the shared edge, so that neighbours meet exactly. */
function findCrossings(
  grid: ScalarGrid, row: number, column: number, corners: Corners, level: number,
): readonly Crossing[] {
  const points = cornerPoints(grid, row, column);
  const keys = [`h${row}.${column}`, `v${row}.${column + 1}`, `h${row + 1}.${column}`, `v${row}.${column}`];
  const found: Crossing[] = [];
  for (let i = 0; i < 4; i++) {
    const j = (i + 1) % 4;
    if (corners[i]! >= level === corners[j]! >= level) continue;
    found.push({ key: keys[i]!, point: between(points[i]!, points[j]!, corners[i]!, corners[j]!, level) });
  }
  return found;
}

function chainLinks(
  links: ReadonlyMap<string, { readonly point: PlanePoint; readonly next: readonly string[] }>, order: readonly string[],
): readonly Isoline[] {
  const used = new Set<string>();
  const lines: Isoline[] = [];
  const walk = (start: string): void => {
    const points: PlanePoint[] = [];
    let at: string | undefined = start;
    let last = start;
    while (at !== undefined) {
      used.add(at);
      points.push(links.get(at)!.point);
      last = at;
      at = links.get(at)!.next.find((key) => !used.has(key));
    }
    lines.push({ points, isClosed: points.length > 2 && links.get(last)!.next.includes(start) });
  };
  for (const key of order) if (!used.has(key) && links.get(key)!.next.length === 1) walk(key);
  for (const key of order) if (!used.has(key)) walk(key);
  return lines;
}
