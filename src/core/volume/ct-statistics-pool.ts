import type { CtVolume } from './volume-types.ts';

/** Side of a coarse voxel: several noise grains wide, a tenth of an aorta. */
const COARSE_MM = 3;
/** Neighbouring coarse voxels of blood differ by less: contrast mixes slowly. */
const SMOOTH_HU = 60;
/** An ascending aorta of 25 mm over 40 mm has a core of 13 mL. */
const POOL_ML = 10;
/** A body below this size must also be even: 16-84 % quantiles within a fifth of the median each way. */
const SURELY_BLOOD_ML = 60;
const EVEN_RATIO = 0.2;
/** Bodies of at least this share of the largest one are large. */
const LARGE_RATIO = 0.5;
/** Share of a body's rim behind which the picture gets brighter before it gets darker: a cortex. */
const BONE_RIM_RATIO = 0.4;

export interface CoarseGrid {
  readonly dims: readonly [number, number, number];
  readonly meansHu: Float32Array;
  readonly cellMl: number;
  /** Fine voxel at the centre of a coarse one. */
  centreOf(cell: number): [number, number, number];
}

/** Means of about 3 mm blocks; at most 18 samples of each block are read, enough to push noise of 40 HU below 10. */
export function makeCoarseGrid(volume: CtVolume): CoarseGrid {
  const { dims: [nx, ny, nz], samplesHu, spacingMm } = volume;
  const size = spacingMm.map((mm, a) => Math.max(1, Math.min(volume.dims[a]!, Math.round(COARSE_MM / mm)))) as [number, number, number];
  const [sx, sy, sz] = size;
  const dims: [number, number, number] = [Math.floor(nx / sx), Math.floor(ny / sy), Math.floor(nz / sz)];
  const offsets: number[] = [];
  for (const dk of pickOffsets(sz, 2)) for (const dj of pickOffsets(sy, 3)) for (const di of pickOffsets(sx, 3)) {
    offsets.push((dk * ny + dj) * nx + di);
  }
  const meansHu = new Float32Array(dims[0] * dims[1] * dims[2]);
  let cell = 0;
  for (let k = 0; k < dims[2]; k++) for (let j = 0; j < dims[1]; j++) for (let i = 0; i < dims[0]; i++) {
    const base = (k * sz * ny + j * sy) * nx + i * sx;
    let sum = 0;
    for (let o = 0; o < offsets.length; o++) sum += samplesHu[base + offsets[o]!]!;
    meansHu[cell++] = sum / offsets.length;
  }
  const cellMl = (sx * sy * sz * spacingMm[0] * spacingMm[1] * spacingMm[2]) / 1000;
  const centreOf = (at: number): [number, number, number] => {
    const i = at % dims[0];
    const j = Math.floor(at / dims[0]) % dims[1];
    const k = Math.floor(at / (dims[0] * dims[1]));
    return [i * sx + (sx >> 1), j * sy + (sy >> 1), k * sz + (sz >> 1)];
  };
  return { dims, meansHu, cellMl, centreOf };
}

function pickOffsets(size: number, most: number): number[] {
  const n = Math.min(size, most);
  return Array.from({ length: n }, (_, i) => Math.floor(((i + 0.5) * size) / n));
}

export interface BloodPool {
  readonly cells: readonly number[];
  readonly valuesHu: readonly number[];
  /** Of all bodies that would have qualified: the pool may be an atrium, and the aorta another one. */
  readonly allValuesHu: readonly number[];
  readonly volumeMl: number;
}

/**
 * The brightest large smooth body between two values that is not bone; null when none is large enough.
 * A core voxel has all its neighbours in the band and a small spread among them; cores that touch form a body.
 * With one slice, neighbours are counted in the plane, and the size limit is that of a disc of `POOL_ML` cut once.
 */
export function findBloodPool(grid: CoarseGrid, lowHu: number, highHu: number): BloodPool | null {
  const isCore = markCores(grid, lowHu, highHu);
  const leastMl = grid.dims[2] === 1 ? 300 * (grid.cellMl / (COARSE_MM * COARSE_MM)) : POOL_ML;
  const bodies: number[][] = [];
  for (const body of findBodies(grid.dims, isCore)) {
    if (body.length * grid.cellMl >= leastMl && isEven(grid, body) && !isBone(grid, body)) bodies.push(body);
  }
  const best = pickBrightest(grid, bodies);
  if (!best) return null;
  return {
    cells: best, valuesHu: best.map((cell) => grid.meansHu[cell]!), volumeMl: best.length * grid.cellMl,
    allValuesHu: bodies.flat().map((cell) => grid.meansHu[cell]!),
  };
}

/** The brightest of the large bodies: in an arterial scan the left heart and aorta outshine the right heart. */
function pickBrightest(grid: CoarseGrid, bodies: readonly number[][]): number[] | null {
  const largest = bodies.reduce((most, body) => Math.max(most, body.length), 0);
  let best: number[] | null = null;
  let bestHu = -Infinity;
  for (const body of bodies) {
    if (body.length < LARGE_RATIO * largest) continue;
    const sorted = body.map((cell) => grid.meansHu[cell]!).sort((a, b) => a - b);
    const medianHu = sorted[sorted.length >> 1]!;
    if (medianHu > bestHu) [best, bestHu] = [body, medianHu];
  }
  return best;
}

function markCores(grid: CoarseGrid, lowHu: number, highHu: number): Uint8Array {
  const { dims: [nx, ny, nz], meansHu } = grid;
  const isCore = new Uint8Array(meansHu.length);
  const depth = nz === 1 ? 0 : 1;
  for (let k = depth; k < nz - depth; k++) for (let j = 1; j < ny - 1; j++) for (let i = 1; i < nx - 1; i++) {
    const cell = (k * ny + j) * nx + i;
    if (!(meansHu[cell]! >= lowHu && meansHu[cell]! < highHu)) continue;
    let n = 0, sum = 0, sumSq = 0;
    let isInside = true;
    for (let dk = -depth; dk <= depth && isInside; dk++) for (let dj = -1; dj <= 1 && isInside; dj++) {
      const row = ((k + dk) * ny + j + dj) * nx + i;
      for (let di = -1; di <= 1; di++) {
        const hu = meansHu[row + di]!;
        if (!(hu >= lowHu && hu < highHu)) { isInside = false; break; }
        n++; sum += hu; sumSq += hu * hu;
      }
    }
    if (isInside && sumSq / n - (sum / n) ** 2 < SMOOTH_HU * SMOOTH_HU) isCore[cell] = 1;
  }
  return isCore;
}

/** Face-connected bodies, in order of their first voxel. */
function* findBodies(dims: readonly [number, number, number], mask: Uint8Array): Generator<number[]> {
  const [nx, ny, nz] = dims;
  for (let start = 0; start < mask.length; start++) {
    if (mask[start] !== 1) continue;
    const body = [start];
    mask[start] = 2;
    for (let read = 0; read < body.length; read++) {
      const cell = body[read]!;
      const i = cell % nx, j = Math.floor(cell / nx) % ny, k = Math.floor(cell / (nx * ny));
      const visit = (isInside: boolean, next: number): void => {
        if (isInside && mask[next] === 1) { mask[next] = 2; body.push(next); }
      };
      visit(i > 0, cell - 1); visit(i < nx - 1, cell + 1);
      visit(j > 0, cell - nx); visit(j < ny - 1, cell + nx);
      visit(k > 0, cell - nx * ny); visit(k < nz - 1, cell + nx * ny);
    }
    yield body;
  }
}

/** Marrow and bowel vary within a small body; blood does not. A large one may join the two sides of the heart. */
function isEven(grid: CoarseGrid, body: readonly number[]): boolean {
  if (body.length * grid.cellMl >= SURELY_BLOOD_ML) return true;
  const sorted = body.map((cell) => grid.meansHu[cell]!).sort((a, b) => a - b);
  const at = (q: number): number => sorted[Math.floor(q * (sorted.length - 1))]!;
  return at(0.84) - at(0.16) <= 2 * EVEN_RATIO * Math.abs(at(0.5)) + 20; // 20 HU: noise left in the means
}

/**
 * Marrow lies behind a cortex: going outward in the plane from the body, values rise before they fall. Blood is
 * bounded by darker wall and muscle nearly everywhere.
 */
function isBone(grid: CoarseGrid, body: readonly number[]): boolean {
  const { dims: [nx, ny], meansHu } = grid;
  const inBody = new Set(body);
  let rims = 0, rising = 0;
  for (const cell of body) {
    const i = cell % nx, j = Math.floor(cell / nx) % ny;
    for (const [di, dj] of [[1, 0], [-1, 0], [0, 1], [0, -1]] as const) {
      if (inBody.has(cell + di + dj * nx)) continue;
      let highest = -Infinity;
      for (let s = 1; s <= 3; s++) {
        const [x, y] = [i + s * di, j + s * dj];
        if (x < 0 || y < 0 || x >= nx || y >= ny) break;
        highest = Math.max(highest, meansHu[cell + s * (di + dj * nx)]!);
      }
      if (highest === -Infinity) continue;
      rims++;
      if (highest > meansHu[cell]! + 80) rising++;
    }
  }
  return rims > 0 && rising / rims > BONE_RIM_RATIO;
}
