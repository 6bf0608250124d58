import { fail, succeed, type Result } from '../result.ts';

export type LabelFailureCode = 'label-grid-mismatch';

export interface ComponentLabels {
  /** 0 = background, 1 .. count. Layout of the mask. */
  readonly labels: Int32Array;
  readonly count: number;
  /** sizes[label] in voxels; sizes[0] is the background. */
  readonly sizes: Float64Array;
}

/**
 * Connected components of the set voxels (mask value other than 0).
 *
 * Shape     mask[(k * ny + j) * nx + i]
 * Equation  runs along x are joined with the runs they touch in the rows before (union-find by lowest run, path
 *           halving); 6: faces touch, 26: faces, edges or corners touch
 * Order     'first': by the first voxel in memory order; 'size': largest first, equals by first voxel
 * Fails     label-grid-mismatch
 * Source    docs/methods/connected-components.md
 */
export function labelComponents(
  mask: Uint8Array,
  dims: readonly [number, number, number],
  options: { readonly connectivity: 6 | 26; readonly order: 'first' | 'size' },
): Result<ComponentLabels, LabelFailureCode> {
  const [nx, ny, nz] = dims;
  if (!(mask.length === nx * ny * nz)) {
    return fail(
      'label-grid-mismatch',
      `${mask.length} mask values do not fill a grid of ${nx} x ${ny} x ${nz}.`,
      'Give the size that belongs to this mask.',
      { values: mask.length, nx, ny, nz },
    );
  }
  const runs = findRuns(mask, nx, ny * nz);
  const parent = joinRuns(runs, ny, nz, options.connectivity);

  // Roots are the lowest run of their component, so numbering roots in run order is the order of first voxels.
  const runCount = runs.count;
  const labelOfRun = new Int32Array(runCount);
  const firstSizes: number[] = [0];
  let set = 0;
  for (let r = 0; r < runCount; r++) {
    const root = parent[r]!;
    const length = runs.end[r]! - runs.start[r]!;
    set += length;
    if (root === r) {
      labelOfRun[r] = firstSizes.length;
      firstSizes.push(length);
    } else {
      // A parent comes before its child, and parent[] was flattened in that order.
      const label = labelOfRun[root]!;
      labelOfRun[r] = label;
      firstSizes[label] = firstSizes[label]! + length;
    }
  }
  const count = firstSizes.length - 1;
  const sizes = new Float64Array(count + 1);
  sizes[0] = mask.length - set;
  const rank = new Int32Array(count + 1);
  const order = Int32Array.from({ length: count }, (_, at) => at + 1);
  if (options.order === 'size') order.sort((a, b) => firstSizes[b]! - firstSizes[a]! || a - b);
  for (let at = 0; at < count; at++) {
    rank[order[at]!] = at + 1;
    sizes[at + 1] = firstSizes[order[at]!]!;
  }
  const labels = new Int32Array(mask.length);
  for (let r = 0; r < runCount; r++) {
    const label = rank[labelOfRun[r]!]!;
    for (let at = runs.start[r]!; at < runs.end[r]!; at++) labels[at] = label;
  }
  return succeed({ labels, count, sizes });
}

interface Runs {
  /** Mask index of the first voxel and one past the last. */
  readonly start: Int32Array;
  readonly end: Int32Array;
  /** Runs of row y are firstOfRow[y] .. firstOfRow[y + 1] - 1. */
  readonly firstOfRow: Int32Array;
  readonly count: number;
  readonly nx: number;
}

function findRuns(mask: Uint8Array, nx: number, rowCount: number): Runs {
  let start = new Int32Array(1024);
  let end = new Int32Array(1024);
  const firstOfRow = new Int32Array(rowCount + 1);
  let count = 0;
  for (let row = 0, at = 0; row < rowCount; row++) {
    firstOfRow[row] = count;
    if (count + nx > start.length) {
      // room for the most runs one row can hold
      start = grow(start, nx);
      end = grow(end, nx);
    }
    const stop = at + nx;
    while (at < stop) {
      while (at < stop && mask[at] === 0) at++;
      if (at === stop) break;
      start[count] = at;
      while (at < stop && mask[at] !== 0) at++;
      end[count++] = at;
    }
  }
  firstOfRow[rowCount] = count;
  return { start, end, firstOfRow, count, nx };
}

function grow(old: Int32Array<ArrayBuffer>, room: number): Int32Array<ArrayBuffer> {
  const larger = new Int32Array(old.length * 2 + room);
  larger.set(old);
  return larger;
}

/** Lowest run of each run's component. */
function joinRuns(runs: Runs, ny: number, nz: number, connectivity: 6 | 26): Int32Array {
  const parent = new Int32Array(runs.count);
  for (let r = 0; r < runs.count; r++) parent[r] = r;
  const reach = connectivity === 26 ? 1 : 0;
  for (let k = 0, row = 0; k < nz; k++) {
    for (let j = 0; j < ny; j++, row++) {
      if (runs.firstOfRow[row] === runs.firstOfRow[row + 1]) continue;
      if (j > 0) joinRows(runs, parent, row, row - 1, reach);
      if (k === 0) continue;
      joinRows(runs, parent, row, row - ny, reach);
      if (reach === 0) continue;
      if (j > 0) joinRows(runs, parent, row, row - ny - 1, reach);
      if (j + 1 < ny) joinRows(runs, parent, row, row - ny + 1, reach);
    }
  }
  for (let r = 0; r < runs.count; r++) parent[r] = parent[parent[r]!]!;
  return parent;
}

/** Joins the runs of two rows that overlap, or with reach 1 touch at a corner; both lists are sorted. */
function joinRows(runs: Runs, parent: Int32Array, row: number, other: number, reach: number): void {
  const { start, end, firstOfRow } = runs;
  const shift = (row - other) * runs.nx;
  let a = firstOfRow[row]!;
  let b = firstOfRow[other]!;
  const aEnd = firstOfRow[row + 1]!;
  const bEnd = firstOfRow[other + 1]!;
  while (a < aEnd && b < bEnd) {
    const bStart = start[b]! + shift;
    const bStop = end[b]! + shift;
    if (start[a]! < bStop + reach && bStart < end[a]! + reach) join(parent, a, b);
    if (end[a]! < bStop) a++;
    else b++;
  }
}

function join(parent: Int32Array, a: number, b: number): void {
  while (parent[a] !== a) {
    parent[a] = parent[parent[a]!]!;
    a = parent[a]!;
  }
  while (parent[b] !== b) {
    parent[b] = parent[parent[b]!]!;
    b = parent[b]!;
  }
  if (a < b) parent[b] = a;
  else parent[a] = b;
}
