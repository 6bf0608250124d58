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
  const walk = makeWalk(grid, level, options.border === 'closed' ? 1 : 0, det < 0);
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
  readonly isLeftHanded: boolean;
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

function makeWalk(grid: SampleGrid, level: number, frame: number, isLeftHanded: boolean): Walk {
  const [nx, ny, nz] = grid.dims;
  const px = nx + 2 * frame;
  const py = ny + 2 * frame;
  const words = (px + 31) >> 5;
  const hasRight = new Int32Array(words);
  for (let i = 0; i + 1 < px; i++) hasRight[i >> 5]! |= 1 << (i & 31);
  const bitRows = py * (words + 1);
  return {
    samples: grid.samples, nx, ny, nz, frame, px, py, pz: nz + 2 * frame, level, rows: Float64Array.from(grid.lpsFromVoxel.rows),
    isLeftHanded, words, hasRight, bits: [new Int32Array(bitRows), new Int32Array(bitRows)],
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
  const { samples, nx, ny, frame, level, words } = w;
  const slice = k - frame;
  if (slice < 0 || slice >= w.nz) {
    bits.fill(0);
    return;
  }
  for (let j = 0; j < ny; j++) {
    const from = (slice * ny + j) * nx;
    const row = (j + frame) * (words + 1);
    // Whole words first: bit b of the word is sample i + b - frame.
    for (let word = 0; word < words; word++) {
      const first = word * 32 - frame;
      const lo = first < 0 ? 0 : first;
      const hi = first + 32 < nx ? first + 32 : nx;
      let mask = 0;
      let bit = 1 << (lo - first);
      for (let i = lo; i < hi; i++) {
        if (samples[from + i]! >= level) mask |= bit;
        bit <<= 1;
      }
      bits[row + word] = mask;
    }
  }
}

/** Vertices on the x and y edges of a slice, row by row. */
function cutSliceEdges(w: Walk, k: number, bits: Int32Array): void {
  const { words, px, py, hasRight, ids } = w;
  const plane = px * py;
  const xIds = (k & 1) * plane;
  const yIds = (2 + (k & 1)) * plane;
  for (let j = 0, row = 0; j < py; j++, row += words + 1) {
    for (let word = 0; word < words; word++) {
      const here = bits[row + word]!;
      let cut = (here ^ ((here >>> 1) | (bits[row + word + 1]! << 31))) & hasRight[word]!;
      while (cut !== 0) {
        const i = (word << 5) + 31 - Math.clz32(cut & -cut);
        cut &= cut - 1;
        ids[xIds + j * px + i] = addVertex(w, i, j, k, 0);
      }
      if (j + 1 === py) continue;
      cut = here ^ bits[row + words + 1 + word]!;
      while (cut !== 0) {
        const i = (word << 5) + 31 - Math.clz32(cut & -cut);
        cut &= cut - 1;
        ids[yIds + j * px + i] = addVertex(w, i, j, k, 1);
      }
    }
  }
}

/** Vertices on the z edges from slice k to k + 1. */
function cutUprightEdges(w: Walk, k: number): void {
  const { words, px, py, ids } = w;
  const [below, above] = w.bits;
  const zIds = 4 * px * py;
  for (let j = 0, row = 0; j < py; j++, row += words + 1) {
    for (let word = 0; word < words; word++) {
      let cut = below[row + word]! ^ above[row + word]!;
      while (cut !== 0) {
        const i = (word << 5) + 31 - Math.clz32(cut & -cut);
        cut &= cut - 1;
        ids[zIds + j * px + i] = addVertex(w, i, j, k, 2);
      }
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
  const { words, px, py, hasRight, ids } = w;
  const [below, above] = w.bits;
  const { edges, start } = CELL_CASES;
  const edgeAt = placeEdges(px, py, k);
  const order = w.isLeftHanded ? 1 : 0;
  for (let j = 0, row = 0; j + 1 < py; j++, row += words + 1) {
    const next = row + words + 1;
    for (let word = 0; word < words; word++) {
      const a = below[row + word]!, b = below[next + word]!, c = above[row + word]!, d = above[next + word]!;
      // The word after a row is zero for the last word of the row; hasRight hides what that pretends.
      const a1 = below[row + word + 1]!, b1 = below[next + word + 1]!, c1 = above[row + word + 1]!, d1 = above[next + word + 1]!;
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
        const cell = j * px + (word << 5) + bit;
        const stop = start[corners + 1]!;
        if (w.indexCount + 64 > w.triangles.length) growTriangles(w);
        const out = w.triangles;
        let to = w.indexCount;
        for (let e = start[corners]!; e < stop; e += 3, to += 3) {
          out[to] = ids[cell + edgeAt[edges[e]!]!]!;
          out[to + 1 + order] = ids[cell + edgeAt[edges[e + 1]!]!]!;
          out[to + 2 - order] = ids[cell + edgeAt[edges[e + 2]!]!]!;
        }
        w.indexCount = to;
      }
    }
  }
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
