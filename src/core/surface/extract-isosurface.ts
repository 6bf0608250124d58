import { fail, succeed, type Result } from '../result.ts';
import type { Affine } from '../units/frames.ts';
import { determinant } from '../units/affine.ts';
import { CELL_CASES } from './cell-cases.ts';
import type { TriangleMesh } from './mesh-types.ts';

export type IsosurfaceFailureCode = 'isosurface-grid-mismatch' | 'isosurface-level-invalid' | 'isosurface-grid-singular';

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
  grid: SampleGrid, level: number, options: IsosurfaceOptions = { border: 'open' },
): Result<TriangleMesh, IsosurfaceFailureCode> {
  const [nx, ny, nz] = grid.dims;
  if (!(grid.samples.length > 0 && grid.samples.length === nx * ny * nz)) {
    return fail('isosurface-grid-mismatch', `${grid.samples.length} samples do not fill a grid of ${nx} x ${ny} x ${nz}.`,
      'Give the size that belongs to these samples.', { samples: grid.samples.length, nx, ny, nz });
  }
  if (!Number.isFinite(level)) {
    return fail('isosurface-level-invalid', 'The level of a surface has to be a finite number.', 'Give a level.', { level: String(level) });
  }
  const det = determinant(grid.lpsFromVoxel.rows);
  if (!(Math.abs(det) >= 1e-12)) {
    return fail('isosurface-grid-singular', 'The three axes of the grid do not span space.', 'Load the series again.', { det });
  }
  const walk = makeWalk(grid, level, options.border === 'closed' ? 1 : 0, det < 0 ? 1 : 0);
  walkSlices(walk);
  return succeed({
    verticesLpsMm: walk.vertices.slice(0, walk.vertexCount * 3),
    triangles: walk.triangles.slice(0, walk.indexCount),
  });
}

/** State of one extraction. Everything per slice fits the cache; the volume is read once, in order. */
interface Walk {
  readonly samples: Int16Array | Float32Array | Uint8Array;
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
  /** 32-bit words per row of bright bits, and one word of zeros behind them. */
  readonly words: number;
  /** Bits of the positions that have a neighbour to the right. */
  readonly hasRight: Int32Array;
  /** Bright bits of the slice below and above the cells. */
  bits: [Int32Array, Int32Array];
  /** Vertex number on each cut edge: five planes (x below, x above, y below, y above, z), parity swaps the first pairs. */
  readonly ids: Int32Array;
  vertices: Float32Array<ArrayBuffer>;
  vertexCount: number;
  triangles: Uint32Array<ArrayBuffer>;
  indexCount: number;
}

function makeWalk(grid: SampleGrid, level: number, frame: 0 | 1, turn: 0 | 1): Walk {
  const [nx, ny, nz] = grid.dims;
  const px = nx + 2 * frame;
  const py = ny + 2 * frame;
  const words = (px + 31) >> 5;
  const hasRight = new Int32Array(words);
  for (let i = 0; i + 1 < px; i++) hasRight[i >> 5]! |= 1 << (i & 31);
  const bitRows = py * (words + 1);
  return {
    samples: grid.samples, nx, ny, nz, frame, px, py, pz: nz + 2 * frame, level, rows: Float64Array.from(grid.lpsFromVoxel.rows),
    turn, words, hasRight, bits: [new Int32Array(bitRows), new Int32Array(bitRows)],
    ids: new Int32Array(5 * px * py), vertices: new Float32Array(3 * 4096), vertexCount: 0,
    triangles: new Uint32Array(3 * 8192), indexCount: 0,
  };
}

function walkSlices(w: Walk): void {
  for (let k = 0; k < w.pz; k++) {
    w.bits = [w.bits[1], w.bits[0]];
    classifySlice(w, k, w.bits[1]);
    cutSliceEdges(w, k, w.bits[1]);
    if (k === 0) continue;
    cutUprightEdges(w, k - 1);
    fillCells(w, k - 1);
  }
}

function classifySlice(w: Walk, k: number, bits: Int32Array): void {
  const { samples, nx, ny, frame, words } = w;
  const slice = k - frame;
  if (slice < 0 || slice >= w.nz) {
    bits.fill(0);
    return;
  }
  // A whole number is at or above the level when it is above the whole number before the level. Clamped it stays 32 bit;
  // "| 0" tells the compiler so, which halves the time.
  const below = Math.max(-40000, Math.min(40000, Math.ceil(w.level) - 1)) | 0;
  for (let j = 0; j < ny; j++) {
    const from = (slice * ny + j) * nx;
    const row = (j + frame) * (words + 1);
    if (samples instanceof Int16Array) classifyWholeRow(samples, from, nx, frame, below, bits, row);
    else classifyRealRow(samples, from, nx, frame, w.level, bits, row);
  }
}

/** Bit i + frame of the row = sample i is bright. Without a branch: the sign of below - sample is the answer. */
function classifyWholeRow(
  samples: Int16Array, from: number, nx: number, frame: number, below: number, bits: Int32Array, row: number,
): void {
  let word = 0;
  let shift = frame;
  let i = from;
  const stop = from + nx;
  for (; i + 8 <= stop; i += 8) {
    const eight = ((below - samples[i]!) >>> 31) | (((below - samples[i + 1]!) >>> 31) << 1) |
      (((below - samples[i + 2]!) >>> 31) << 2) | (((below - samples[i + 3]!) >>> 31) << 3) |
      (((below - samples[i + 4]!) >>> 31) << 4) | (((below - samples[i + 5]!) >>> 31) << 5) |
      (((below - samples[i + 6]!) >>> 31) << 6) | (((below - samples[i + 7]!) >>> 31) << 7);
    word |= eight << shift;
    shift += 8;
    if (shift < 32) continue;
    bits[row++] = word;
    shift -= 32;
    word = eight >>> (8 - shift);
  }
  for (; i < stop; i++) {
    word |= ((below - samples[i]!) >>> 31) << shift++;
    if (shift < 32) continue;
    bits[row++] = word;
    word = 0;
    shift = 0;
  }
  if (shift > 0) bits[row] = word;
}

function classifyRealRow(
  samples: Float32Array | Int16Array | Uint8Array, from: number, nx: number, frame: number, level: number, bits: Int32Array, row: number,
): void {
  let word = 0;
  let shift = frame;
  for (let i = from; i < from + nx; i++) {
    if (samples[i]! >= level) word |= 1 << shift;
    if (++shift < 32) continue;
    bits[row++] = word;
    word = 0;
    shift = 0;
  }
  if (shift > 0) bits[row] = word;
}

/** Vertices on the x and y edges of slice k, row by row. */
function cutSliceEdges(w: Walk, k: number, bits: Int32Array): void {
  const { words, px, py } = w;
  const xIds = (k & 1) * px * py;
  const yIds = (2 + (k & 1)) * px * py;
  for (let j = 0; j < py; j++) {
    cutRowAlong(w, j, k, bits, j * (words + 1), xIds + j * px);
    if (j + 1 < py) cutRowAcross(w, j, k, 1, bits, bits, j * (words + 1), (j + 1) * (words + 1), yIds + j * px);
  }
}

/** Vertices on the z edges from slice k to k + 1. */
function cutUprightEdges(w: Walk, k: number): void {
  const { words, px, py } = w;
  for (let j = 0; j < py; j++) {
    cutRowAcross(w, j, k, 2, w.bits[0], w.bits[1], j * (words + 1), j * (words + 1), (4 * py + j) * px);
  }
}

function cutRowAlong(w: Walk, j: number, k: number, bits: Int32Array, row: number, to: number): void {
  const { words, hasRight, ids } = w;
  for (let word = 0; word < words; word++) {
    const here = bits[row + word]!;
    let cut = (here ^ ((here >>> 1) | (bits[row + word + 1]! << 31))) & hasRight[word]!;
    while (cut !== 0) {
      const i = (word << 5) + 31 - Math.clz32(cut & -cut);
      cut &= cut - 1;
      ids[to + i] = addVertex(w, i, j, k, 0);
    }
  }
}

function cutRowAcross(
  w: Walk, j: number, k: number, axis: 1 | 2, a: Int32Array, b: Int32Array, rowA: number, rowB: number, to: number,
): void {
  const { words, ids } = w;
  for (let word = 0; word < words; word++) {
    let cut = a[rowA + word]! ^ b[rowB + word]!;
    while (cut !== 0) {
      const i = (word << 5) + 31 - Math.clz32(cut & -cut);
      cut &= cut - 1;
      ids[to + i] = addVertex(w, i, j, k, axis);
    }
  }
}

/** Vertex on the edge from framed position (i, j, k) along an axis. */
function addVertex(w: Walk, i: number, j: number, k: number, axis: 0 | 1 | 2): number {
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
  if (w.vertexCount * 3 === w.vertices.length) {
    const larger = new Float32Array(w.vertices.length * 2);
    larger.set(w.vertices);
    w.vertices = larger;
  }
  const out = w.vertices;
  const to = w.vertexCount * 3;
  out[to] = rows[0]! * x + rows[1]! * y + rows[2]! * z + rows[3]!;
  out[to + 1] = rows[4]! * x + rows[5]! * y + rows[6]! * z + rows[7]!;
  out[to + 2] = rows[8]! * x + rows[9]! * y + rows[10]! * z + rows[11]!;
  return w.vertexCount++;
}

/** Triangles of the cells between slice k (below) and k + 1 (above). */
function fillCells(w: Walk, k: number): void {
  const edgeAt = placeEdges(w.px, w.py, k);
  for (let j = 0; j + 1 < w.py; j++) fillRow(w, j * (w.words + 1), j * w.px, edgeAt);
}

function fillRow(w: Walk, row: number, firstCell: number, edgeAt: Int32Array): void {
  const { words, hasRight } = w;
  const [below, above] = w.bits;
  const next = row + words + 1;
  let a = 0, b = 0, c = 0, d = 0;
  let a1 = below[row]!, b1 = below[next]!, c1 = above[row]!, d1 = above[next]!;
  for (let word = 0; word < words; word++) {
    a = a1;
    b = b1;
    c = c1;
    d = d1;
    // The word after a row is zero for the last word of the row; hasRight hides what that pretends.
    a1 = below[row + word + 1]!;
    b1 = below[next + word + 1]!;
    c1 = above[row + word + 1]!;
    d1 = above[next + word + 1]!;
    const some = a | b | c | d;
    const every = a & b & c & d;
    const someRight = (some >>> 1) | ((a1 | b1 | c1 | d1) << 31);
    const everyRight = (every >>> 1) | ((a1 & b1 & c1 & d1) << 31);
    let active = (some | someRight) & ~(every & everyRight) & hasRight[word]!;
    while (active !== 0) {
      const bit = 31 - Math.clz32(active & -active);
      active &= active - 1;
      const corners = bit < 31
        ? ((a >>> bit) & 3) | (((b >>> bit) & 3) << 2) | (((c >>> bit) & 3) << 4) | (((d >>> bit) & 3) << 6)
        : (a >>> 31) | ((a1 & 1) << 1) | ((b >>> 31) << 2) | ((b1 & 1) << 3) |
          ((c >>> 31) << 4) | ((c1 & 1) << 5) | ((d >>> 31) << 6) | ((d1 & 1) << 7);
      fillCell(w, corners, firstCell + (word << 5) + bit, edgeAt);
    }
  }
}

function fillCell(w: Walk, corners: number, cell: number, edgeAt: Int32Array): void {
  const { edges, start } = CELL_CASES;
  const { ids, turn } = w;
  if (w.indexCount + 64 > w.triangles.length) growTriangles(w);
  const out = w.triangles;
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

function growTriangles(w: Walk): void {
  const larger = new Uint32Array(w.triangles.length * 2);
  larger.set(w.triangles);
  w.triangles = larger;
}
