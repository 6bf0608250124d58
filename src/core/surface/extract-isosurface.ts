import { fail, succeed, type Result } from '../result.ts';
import type { Affine } from '../units/frames.ts';
import { determinant } from '../units/affine.ts';
import { CELL_CASES } from './cell-cases.ts';
import { markPairRow, markRealRow, markWholeRow, viewPairs } from './mark-bright.ts';
import type { TriangleMesh } from './mesh-types.ts';

export type IsosurfaceFailureCode =
  'isosurface-grid-mismatch' | 'isosurface-level-invalid' | 'isosurface-grid-singular';

/** Samples on a grid; layout as in CtVolume. */
export interface SampleGrid {
  readonly samples: Int16Array | Float32Array | Uint8Array;
  readonly dims: readonly [number, number, number];
  readonly lpsFromVoxel: Affine<'lps', 'voxel'>;
}
export interface IsosurfaceOptions {
  /** 'open': the surface ends at the outermost voxel centres; 'closed': what is outside counts as dark, caps at the half voxel. */
  readonly border: 'open' | 'closed';
}

/**
 * Surface between samples at or above a level (bright) and samples below it (dark).
 *
 * Shape     one vertex per grid edge that is cut, in grid order; triangles in cell order: the same mesh every time
 * Units     mm out; level in the unit of the samples
 * Frame     LPS out through lpsFromVoxel; normals by the right-hand rule point from bright to dark on every grid
 * Equation  vertex at a + t (b - a), t = (level - A) / (B - A), along the edge (linear); cases: cell-cases.ts
 * Fails     isosurface-grid-mismatch, isosurface-level-invalid, isosurface-grid-singular
 * Source    docs/methods/isosurface.md
 * Accuracy  second order in the voxel size for a smooth field; vertices float32. A sample equal to the level gives
 *           triangles without area, a closed surface nevertheless. A sample that is not a number is dark and its
 *           vertices stand half way.
 */
export function extractIsosurface(
  grid: SampleGrid,
  level: number,
  options: IsosurfaceOptions = { border: 'open' },
): Result<TriangleMesh, IsosurfaceFailureCode> {
  const [nx, ny, nz] = grid.dims;
  if (!(grid.samples.length > 0 && grid.samples.length === nx * ny * nz)) {
    return fail(
      'isosurface-grid-mismatch',
      `${grid.samples.length} samples do not fill a grid of ${nx} x ${ny} x ${nz}.`,
      'Give the size that belongs to these samples.',
      { samples: grid.samples.length, nx, ny, nz },
    );
  }
  if (!Number.isFinite(level)) {
    return fail(
      'isosurface-level-invalid',
      'The level of a surface has to be a finite number.',
      'Give a level.',
      { level: String(level) },
    );
  }
  const det = determinant(grid.lpsFromVoxel.rows);
  if (!(Math.abs(det) >= 1e-12)) {
    return fail(
      'isosurface-grid-singular',
      'The three axes of the grid do not span space.',
      'Load the series again.',
      { det },
    );
  }
  const walk = makeWalk(grid, level, options.border === 'closed' ? 1 : 0, det < 0 ? 1 : 0);
  for (let k = 0; k < walk.pz; k++) classifySlice(walk, k);
  // Counted first, so that the arrays are made once in their final size: fresh memory costs more than counting.
  for (let k = 0; k < walk.pz; k++) countSlice(walk, k);
  const verticesLpsMm = new Float32Array(3 * walk.vertexCount);
  const triangles = new Uint32Array(walk.indexCount);
  walk.vertexCount = 0;
  walk.indexCount = 0;
  for (let k = 0; k < walk.pz; k++) {
    cutSliceEdges(walk, k, verticesLpsMm);
    if (k === 0) continue;
    cutUprightEdges(walk, k - 1, verticesLpsMm);
    fillCells(walk, k - 1, triangles);
  }
  return succeed({ verticesLpsMm, triangles });
}

/** State of one extraction: the bright bits of the whole grid (an eighth of a byte per voxel) and vertex numbers of two slices. */
interface Walk {
  readonly samples: Int16Array | Float32Array | Uint8Array;
  readonly pairs: Int32Array | null;
  readonly nx: number;
  readonly ny: number;
  readonly nz: number;
  /** Width of the dark frame, 0 or 1, and the grid with it. */
  readonly frame: number;
  readonly px: number;
  readonly py: number;
  readonly pz: number;
  readonly level: number;
  readonly rows: Float64Array;
  /** 1 on a left-handed grid: the second and third corner change places. */
  readonly turn: 0 | 1;
  /** 32-bit words per row of bright bits, and one word of zeros behind them: rows are words + 1 apart. */
  readonly words: number;
  /** Bits of the positions that have a neighbour to the right. */
  readonly hasRight: Int32Array;
  readonly bits: Int32Array;
  /** Rows with a bright sample; between rows without one there is nothing to look for, and that is most of a CT. */
  readonly hasBright: Uint8Array;
  /** Cells of one row that are cut. */
  readonly active: Int32Array;
  /** Vertex number on each cut edge: five planes (x even slice, x odd, y even, y odd, z). */
  readonly ids: Int32Array;
  vertexCount: number;
  indexCount: number;
}

function makeWalk(grid: SampleGrid, level: number, frame: 0 | 1, turn: 0 | 1): Walk {
  const [nx, ny, nz] = grid.dims;
  const px = nx + 2 * frame;
  const py = ny + 2 * frame;
  const pz = nz + 2 * frame;
  const words = (px + 31) >> 5;
  const hasRight = new Int32Array(words);
  for (let i = 0; i + 1 < px; i++) hasRight[i >> 5]! |= 1 << (i & 31);
  return {
    samples: grid.samples,
    pairs: viewPairs(grid.samples, nx),
    nx,
    ny,
    nz,
    frame,
    px,
    py,
    pz,
    level,
    rows: Float64Array.from(grid.lpsFromVoxel.rows),
    turn,
    words,
    hasRight,
    bits: new Int32Array(pz * py * (words + 1)),
    hasBright: new Uint8Array(pz * py),
    active: new Int32Array(words),
    ids: new Int32Array(5 * px * py),
    vertexCount: 0,
    indexCount: 0,
  };
}

/** Where the bits of a row begin. */
const rowAt = (w: Walk, j: number, k: number): number => (k * w.py + j) * (w.words + 1);

function classifySlice(w: Walk, k: number): void {
  const { samples, nx, ny, frame, bits } = w;
  const slice = k - frame;
  if (slice < 0 || slice >= w.nz) return; // bits come as zeros
  // A whole number is at or above the level when it is at or above the next whole number. Clamped it stays 32 bit;
  // "| 0" tells the compiler so, which halves the time.
  const least = Math.max(-40000, Math.min(40000, Math.ceil(w.level))) | 0;
  for (let j = 0; j < ny; j++) {
    const from = (slice * ny + j) * nx;
    const row = rowAt(w, j + frame, k);
    const at = k * w.py + j + frame;
    if (w.pairs !== null) {
      w.hasBright[at] = markPairRow(w.pairs, from >> 1, nx >> 1, frame, least, bits, row);
      continue;
    }
    if (samples instanceof Int16Array) markWholeRow(samples, from, nx, frame, least - 1, bits, row);
    else markRealRow(samples, from, nx, frame, w.level, bits, row);
    let some = 0;
    for (let word = 0; word < w.words; word++) some |= bits[row + word]!;
    w.hasBright[at] = some === 0 ? 0 : 1;
  }
}

/** Adds the vertices on the edges that begin in slice k and the triangles of the cells below it. */
function countSlice(w: Walk, k: number): void {
  const { hasBright, py } = w;
  for (let j = 0, at = k * py; j < py; j++, at++) {
    const isBright = hasBright[at] === 1 || (j + 1 < py && hasBright[at + 1] === 1);
    const isBrightAbove = k + 1 < w.pz && hasBright[at + py] === 1;
    const isBrightBelow = k > 0 && (hasBright[at - py] === 1 || (j + 1 < py && hasBright[at - py + 1] === 1));
    const row = rowAt(w, j, k);
    if (isBright || isBrightAbove)
      countRow(w, row, j + 1 < w.py ? rowAt(w, j + 1, k) : row, k + 1 < w.pz ? rowAt(w, j, k + 1) : row);
    if (j + 1 < py && k > 0 && (isBright || isBrightBelow)) countCells(w, rowAt(w, j, k - 1), row);
  }
}

/** A neighbour row that does not exist is the row itself: nothing is cut. */
function countRow(w: Walk, row: number, beside: number, above: number): void {
  const { words, hasRight, bits } = w;
  let count = 0;
  for (let word = 0; word < words; word++) {
    const here = bits[row + word]!;
    const along = (here ^ ((here >>> 1) | (bits[row + word + 1]! << 31))) & hasRight[word]!;
    count +=
      countBits(along) + countBits(here ^ bits[beside + word]!) + countBits(here ^ bits[above + word]!);
  }
  w.vertexCount += count;
}

function countBits(x: number): number {
  if (x === 0) return 0;
  x -= (x >>> 1) & 0x55555555;
  x = (x & 0x33333333) + ((x >>> 2) & 0x33333333);
  return Math.imul((x + (x >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}

function countCells(w: Walk, below: number, above: number): void {
  const { words, bits, active } = w;
  const { start } = CELL_CASES;
  const pitch = words + 1;
  markRow(w, below, above);
  let count = 0;
  for (let word = 0; word < words; word++) {
    for (let open = active[word]!; open !== 0; open &= open - 1) {
      const corners = cornersOf(bits, below + word, above + word, pitch, 31 - Math.clz32(open & -open));
      count += start[corners + 1]! - start[corners]!;
    }
  }
  w.indexCount += count;
}

/** Marks the cells between rows j and j + 1 of two slices that are neither all bright nor all dark. */
function markRow(w: Walk, below: number, above: number): void {
  const { words, hasRight, bits, active } = w;
  const pitch = words + 1;
  let some = bits[below]! | bits[below + pitch]! | bits[above]! | bits[above + pitch]!;
  let every = bits[below]! & bits[below + pitch]! & bits[above]! & bits[above + pitch]!;
  for (let word = 0; word < words; word++) {
    // The word behind a row is zero; hasRight hides what that pretends.
    const next = word + 1;
    const a = bits[below + next]!,
      b = bits[below + pitch + next]!,
      c = bits[above + next]!,
      d = bits[above + pitch + next]!;
    const someNext = a | b | c | d;
    const everyNext = a & b & c & d;
    active[word] =
      (some | (some >>> 1) | (someNext << 31)) &
      ~(every & ((every >>> 1) | (everyNext << 31))) &
      hasRight[word]!;
    some = someNext;
    every = everyNext;
  }
}

/** Corner bits of the cell at `bit` of the words at `below` and `above` (rows `pitch` apart). */
function cornersOf(bits: Int32Array, below: number, above: number, pitch: number, bit: number): number {
  const a = bits[below]!,
    b = bits[below + pitch]!,
    c = bits[above]!,
    d = bits[above + pitch]!;
  if (bit < 31)
    return ((a >>> bit) & 3) | (((b >>> bit) & 3) << 2) | (((c >>> bit) & 3) << 4) | (((d >>> bit) & 3) << 6);
  return (
    (a >>> 31) |
    ((bits[below + 1]! & 1) << 1) |
    ((b >>> 31) << 2) |
    ((bits[below + pitch + 1]! & 1) << 3) |
    ((c >>> 31) << 4) |
    ((bits[above + 1]! & 1) << 5) |
    ((d >>> 31) << 6) |
    ((bits[above + pitch + 1]! & 1) << 7)
  );
}

/** Vertices on the x and y edges of slice k, row by row. */
function cutSliceEdges(w: Walk, k: number, out: Float32Array): void {
  const { px, py, hasBright } = w;
  const xIds = (k & 1) * px * py;
  const yIds = (2 + (k & 1)) * px * py;
  for (let j = 0, at = k * py; j < py; j++, at++) {
    if (hasBright[at] === 1) cutRowAlong(w, j, k, rowAt(w, j, k), xIds + j * px, out);
    if (j + 1 < py && (hasBright[at]! | hasBright[at + 1]!) !== 0)
      cutRowAcross(w, j, k, 1, rowAt(w, j, k), rowAt(w, j + 1, k), yIds + j * px, out);
  }
}

/** Vertices on the z edges from slice k to k + 1. */
function cutUprightEdges(w: Walk, k: number, out: Float32Array): void {
  const { px, py, hasBright } = w;
  for (let j = 0, at = k * py; j < py; j++, at++) {
    if ((hasBright[at]! | hasBright[at + py]!) === 0) continue;
    cutRowAcross(w, j, k, 2, rowAt(w, j, k), rowAt(w, j, k + 1), (4 * py + j) * px, out);
  }
}

function cutRowAlong(w: Walk, j: number, k: number, row: number, to: number, out: Float32Array): void {
  const { words, hasRight, ids, bits } = w;
  for (let word = 0; word < words; word++) {
    const here = bits[row + word]!;
    let cut = (here ^ ((here >>> 1) | (bits[row + word + 1]! << 31))) & hasRight[word]!;
    for (; cut !== 0; cut &= cut - 1) {
      const i = (word << 5) + 31 - Math.clz32(cut & -cut);
      ids[to + i] = addVertex(w, i, j, k, 0, out);
    }
  }
}

function cutRowAcross(
  w: Walk,
  j: number,
  k: number,
  axis: 1 | 2,
  row: number,
  other: number,
  to: number,
  out: Float32Array,
): void {
  const { words, ids, bits } = w;
  for (let word = 0; word < words; word++) {
    for (let cut = bits[row + word]! ^ bits[other + word]!; cut !== 0; cut &= cut - 1) {
      const i = (word << 5) + 31 - Math.clz32(cut & -cut);
      ids[to + i] = addVertex(w, i, j, k, axis, out);
    }
  }
}

/** Vertex on the edge from framed position (i, j, k) along an axis. */
function addVertex(w: Walk, i: number, j: number, k: number, axis: 0 | 1 | 2, out: Float32Array): number {
  const { samples, nx, ny, nz, frame, rows } = w;
  let x = i - frame;
  let y = j - frame;
  let z = k - frame;
  const step = axis === 0 ? 1 : axis === 1 ? nx : nx * ny;
  let t = 0.5; // an edge that leaves the volume is cut at the outer face of its voxel
  if (x >= 0 && y >= 0 && z >= 0 && (axis === 0 ? x + 1 < nx : axis === 1 ? y + 1 < ny : z + 1 < nz)) {
    const at = (z * ny + y) * nx + x;
    const a = samples[at]!;
    const b = samples[at + step]!;
    const cut = (w.level - a) / (b - a);
    if (cut >= 0 && cut <= 1) t = cut;
  }
  if (axis === 0) x += t;
  else if (axis === 1) y += t;
  else z += t;
  const to = w.vertexCount * 3;
  out[to] = rows[0]! * x + rows[1]! * y + rows[2]! * z + rows[3]!;
  out[to + 1] = rows[4]! * x + rows[5]! * y + rows[6]! * z + rows[7]!;
  out[to + 2] = rows[8]! * x + rows[9]! * y + rows[10]! * z + rows[11]!;
  return w.vertexCount++;
}

/** Triangles of the cells between slice k (below) and k + 1 (above). */
function fillCells(w: Walk, k: number, out: Uint32Array): void {
  const edgeAt = placeEdges(w.px, w.py, k);
  const { py, hasBright } = w;
  for (let j = 0, at = k * py; j + 1 < py; j++, at++) {
    if ((hasBright[at]! | hasBright[at + 1]! | hasBright[at + py]! | hasBright[at + py + 1]!) === 0) continue;
    fillRow(w, rowAt(w, j, k), rowAt(w, j, k + 1), j * w.px, edgeAt, out);
  }
}

function fillRow(
  w: Walk,
  below: number,
  above: number,
  firstCell: number,
  edgeAt: Int32Array,
  out: Uint32Array,
): void {
  const { words, bits, active } = w;
  const pitch = words + 1;
  markRow(w, below, above);
  for (let word = 0; word < words; word++) {
    for (let open = active[word]!; open !== 0; open &= open - 1) {
      const bit = 31 - Math.clz32(open & -open);
      fillCell(
        w,
        cornersOf(bits, below + word, above + word, pitch, bit),
        firstCell + (word << 5) + bit,
        edgeAt,
        out,
      );
    }
  }
}

function fillCell(w: Walk, corners: number, cell: number, edgeAt: Int32Array, out: Uint32Array): void {
  const { edges, start } = CELL_CASES;
  const { ids, turn } = w;
  const stop = start[corners + 1]!;
  let to = w.indexCount;
  for (let e = start[corners]!; e < stop; e += 3, to += 3) {
    out[to] = ids[cell + edgeAt[edges[e]!]!]!;
    out[to + 1 + turn] = ids[cell + edgeAt[edges[e + 1]!]!]!;
    out[to + 2 - turn] = ids[cell + edgeAt[edges[e + 2]!]!]!;
  }
  w.indexCount = to;
}

/** Where the vertex number of each of the twelve edges stands in `ids`, relative to the cell. */
function placeEdges(px: number, py: number, k: number): Int32Array {
  const plane = px * py;
  const at = new Int32Array(12);
  for (let e = 0; e < 4; e++) {
    const first = e & 1;
    const second = e >> 1;
    const parity = (k + second) & 1;
    at[e] = parity * plane + first * px;
    at[4 + e] = (2 + parity) * plane + first;
    at[8 + e] = 4 * plane + first + second * px;
  }
  return at;
}
