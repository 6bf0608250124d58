import { fail, succeed, type Result } from '../result.ts';

export type DistanceFailureCode = 'distance-grid-mismatch' | 'distance-spacing-invalid';

/**
 * Exact squared Euclidean distance from every voxel centre to the nearest target voxel centre.
 *
 * Shape     mask[(k * ny + j) * nx + i]; out has the same layout
 * Units     spacing mm; out mm2
 * Frame     grid axes at right angles; a sheared grid has to be resampled first
 * Equation  D(p) = min over targets q of |S (p - q)|^2, S = diag(spacing): one scan along x, then per line of y and of z
 *           the lower envelope of the parabolas w (p - q)^2 + D(q)
 * Target    'set': voxels with mask other than 0 (distance outside an object); 'clear': voxels with mask 0 (depth inside)
 * Fails     distance-grid-mismatch, distance-spacing-invalid; without any target every distance is Infinity
 * Source    docs/methods/distance-transform.md
 * Accuracy  float32 rounding once per axis: relative error below 2e-7
 */
export function computeSquaredDistanceMm2(
  mask: Uint8Array,
  dims: readonly [number, number, number],
  spacingMm: readonly [number, number, number],
  target: 'set' | 'clear' = 'set',
): Result<Float32Array<ArrayBuffer>, DistanceFailureCode> {
  const [nx, ny, nz] = dims;
  if (!(mask.length === nx * ny * nz)) {
    return fail(
      'distance-grid-mismatch',
      `${mask.length} mask values do not fill a grid of ${nx} x ${ny} x ${nz}.`,
      'Give the size that belongs to this mask.',
      { values: mask.length, nx, ny, nz },
    );
  }
  const [sx, sy, sz] = spacingMm;
  if (!(sx > 0 && sy > 0 && sz > 0 && Number.isFinite(sx + sy + sz))) {
    return fail(
      'distance-spacing-invalid',
      `A spacing of ${sx} x ${sy} x ${sz} mm has no distances.`,
      'Give three spacings above 0 mm.',
      { sx, sy, sz },
    );
  }
  const out = new Float32Array(mask.length);
  scanRows(mask, nx, ny * nz, sx * sx, target === 'set', out);
  const plane = nx * ny;
  if (ny > 1) for (let k = 0; k < nz; k++) lowerLines(out, k * plane, nx, nx, ny, sy * sy);
  if (nz > 1) for (let j = 0; j < ny; j++) lowerLines(out, j * nx, nx, plane, nz, sz * sz);
  return succeed(out);
}

/** Squared distance along the row only; `out` comes in as zeros, so targets need no writing. */
function scanRows(
  mask: Uint8Array,
  nx: number,
  rowCount: number,
  weight: number,
  isSetTarget: boolean,
  out: Float32Array,
): void {
  const squares = new Float32Array(nx + 1);
  for (let d = 0; d <= nx; d++) squares[d] = weight * d * d;
  for (let row = 0; row < rowCount; row++) scanRow(mask, row * nx, row * nx + nx, squares, isSetTarget, out);
}

function scanRow(
  mask: Uint8Array,
  from: number,
  stop: number,
  squares: Float32Array,
  isSetTarget: boolean,
  out: Float32Array,
): void {
  let at = from;
  while (at < stop) {
    while (at < stop && (mask[at] !== 0) === isSetTarget) at++;
    const start = at; // a gap between targets begins
    while (at < stop && (mask[at] !== 0) !== isSetTarget) at++;
    if (start === from && at === stop) out.fill(Infinity, from, stop);
    else {
      // The near half belongs to the target before the gap, the far half to the one behind it.
      const middle = start === from ? from : at === stop ? stop : (start + at) >> 1;
      for (let p = start; p < middle; p++) out[p] = squares[p - start + 1]!;
      for (let p = middle; p < at; p++) out[p] = squares[at - p]!;
    }
  }
}

/** Columns handled together: a cache line of 16 float32 values is used whole, and the tile stays in the first cache. */
const TILE = 16;

/**
 * Lower envelope along `count` lines that start at `from` + 0, 1, 2, ... and step by `stride`.
 * The column is gathered, transformed in float64 and written back.
 */
function lowerLines(
  values: Float32Array,
  from: number,
  lines: number,
  stride: number,
  count: number,
  weight: number,
): void {
  const tile = new Float64Array(TILE * count);
  const site = new Int32Array(count);
  const bound = new Float64Array(count + 1);
  const height = new Float64Array(count);
  const halfOver = new Float64Array(count + 1);
  for (let d = 1; d <= count; d++) halfOver[d] = 0.5 / d;
  for (let first = 0; first < lines; first += TILE) {
    const width = Math.min(TILE, lines - first);
    gatherTile(values, from + first, stride, count, width, tile);
    for (let c = 0; c < width; c++) lowerLine(tile, c * count, count, weight, site, bound, height, halfOver);
    scatterTile(values, from + first, stride, count, width, tile);
  }
}

function gatherTile(
  values: Float32Array,
  from: number,
  stride: number,
  count: number,
  width: number,
  tile: Float64Array,
): void {
  for (let q = 0, at = from; q < count; q++, at += stride) {
    for (let c = 0, to = q; c < width; c++, to += count) tile[to] = values[at + c]!;
  }
}

function scatterTile(
  values: Float32Array,
  from: number,
  stride: number,
  count: number,
  width: number,
  tile: Float64Array,
): void {
  for (let q = 0, at = from; q < count; q++, at += stride) {
    for (let c = 0, to = q; c < width; c++, to += count) values[at + c] = tile[to]!;
  }
}

/** In place on line[base .. base + n - 1]. In units of `weight` a parabola at q is (p - q)^2 + f; height = f + q^2. */
function lowerLine(
  line: Float64Array,
  base: number,
  n: number,
  weight: number,
  site: Int32Array,
  bound: Float64Array,
  height: Float64Array,
  halfOver: Float64Array,
): void {
  const inverse = 1 / weight;
  let top = -1;
  let largest = 0;
  for (let q = 0; q < n; q++) largest = Math.max(largest, line[base + q]!);
  if (largest === 0) return; // targets only
  for (let q = 0; q < n; q++) {
    const f = line[base + q]! * inverse;
    if (f === Infinity) continue;
    const h = f + q * q;
    let start = -Infinity;
    while (top >= 0) {
      // Where the new parabola crosses the top one; left of the top's own start the top is never lowest.
      start = (h - height[top]!) * halfOver[q - site[top]!]!;
      if (start > bound[top]!) break;
      top--;
      start = -Infinity;
    }
    top++;
    site[top] = q;
    height[top] = h;
    bound[top] = start;
  }
  if (top < 0) return;
  bound[top + 1] = Infinity;
  for (let p = 0, t = 0; p < n; p++) {
    while (bound[t + 1]! < p) t++;
    const q = site[t]!;
    // Not height - 2 p q + p^2, which would cancel.
    const d = p - q;
    line[base + p] = weight * (d * d + (height[t]! - q * q));
  }
}
