import { forEachInBox, SEARCH_SMOOTH_MM, type CalciumGrid } from './calcium-zone.ts';
import { drawBlurredEllipsoid } from './calcium-ellipsoid.ts';
import type { CalciumBackground, DepositFit } from './calcium-types.ts';
import type { FoundDeposit } from './find-deposits.ts';

const SWEEPS = 30;
const RELAXATION = 1.6;

/**
 * Fills the surroundings of the deposits from beyond the reach of their blur.
 *
 * Units     HU; reach in mm
 * Equation  Laplace's equation on the touched voxels, the smoothed image outside as its border (successive
 *           over-relaxation, weights 1 / step^2), so that a deposit between blood and wall gets a mix of both
 * Source    docs/methods/calcium.md, "Background"
 */
export function fillBackground(g: CalciumGrid, deposits: readonly FoundDeposit[], reachMm: number): CalciumBackground {
  const [nx, ny, nz] = g.dims;
  const owner = new Int16Array(nx * ny * nz);
  const away = new Float32Array(nx * ny * nz).fill(Infinity);
  const ball = makeBall(g, reachMm);
  deposits.forEach((deposit, d) => {
    for (const v of deposit.voxels) {
      if (away[v] === 0) continue;
      away[v] = 0;
      owner[v] = d + 1;
    }
  });
  deposits.forEach((deposit, d) => {
    for (const v of deposit.voxels) {
      const i = v % nx;
      const j = Math.floor(v / nx) % ny;
      const k = Math.floor(v / (nx * ny));
      const isEdge = owner[v - 1] !== d + 1 || owner[v + 1] !== d + 1 || owner[v - nx] !== d + 1 || owner[v + nx] !== d + 1
        || owner[v - nx * ny] !== d + 1 || owner[v + nx * ny] !== d + 1;
      if (!isEdge) continue;
      const isNearBorder = i <= ball.reach[0]! || j <= ball.reach[1]! || k <= ball.reach[2]!
        || i >= nx - 1 - ball.reach[0]! || j >= ny - 1 - ball.reach[1]! || k >= nz - 1 - ball.reach[2]!;
      for (let b = 0; b < ball.count; b++) {
        if (isNearBorder) {
          const [a, c, e] = [i + ball.di[b]!, j + ball.dj[b]!, k + ball.dk[b]!];
          // The outermost layer of the box stays known: it is the border of the equation.
          if (a < 1 || c < 1 || e < 1 || a >= nx - 1 || c >= ny - 1 || e >= nz - 1) continue;
        }
        const w = v + ball.by[b]!;
        if (ball.mm[b]! < away[w]!) {
          away[w] = ball.mm[b]!;
          owner[w] = d + 1;
        }
      }
    }
  });
  const lists: number[][] = deposits.map(() => []);
  for (let v = 0; v < owner.length; v++) if (owner[v] !== 0) lists[owner[v]! - 1]!.push(v);
  const levelHu = g.smoothHu.slice();
  const all = Int32Array.from(lists.flat()).sort();
  startInward(levelHu, owner, away, all, g.dims);
  relax(levelHu, all, g);
  return { levelHu, owner, touched: lists.map((l) => Int32Array.from(l)) };
}

interface Ball {
  readonly count: number;
  readonly reach: readonly number[];
  readonly di: Int16Array;
  readonly dj: Int16Array;
  readonly dk: Int16Array;
  /** Offsets in memory and their lengths. */
  readonly by: Int32Array;
  readonly mm: Float32Array;
}

/** Above this share of calcium a voxel tells nothing of its background. */
const HIDDEN_SHARE = 0.1;

/**
 * The same once the deposits are known roughly: the drawn light is taken off where it is faint, and only what the
 * calcium really covers is filled. The first fill keeps a wide distance and so mixes leaflet into the blood beside it.
 */
export function refillBackground(g: CalciumGrid, before: CalciumBackground, fits: readonly DepositFit[], blurMm: number): CalciumBackground {
  const levelHu = before.levelHu.slice();
  const seenMm = Math.hypot(blurMm, SEARCH_SMOOTH_MM);
  const cover = new Float32Array(levelHu.length);
  const light = new Float32Array(levelHu.length);
  for (const fit of fits) {
    const drawn = new Float32Array(fit.box.dims[0] * fit.box.dims[1] * fit.box.dims[2]);
    drawBlurredEllipsoid(g, fit.box, fit.ellipsoid, seenMm, drawn);
    forEachInBox(g, fit.box, (v, b) => {
      cover[v] = cover[v]! + drawn[b]!;
      light[v] = light[v]! + drawn[b]! * (fit.plateauHu - before.levelHu[v]!);
    });
  }
  const hidden: number[] = [];
  for (const list of before.touched) {
    for (const v of list) {
      if (cover[v]! < HIDDEN_SHARE) levelHu[v] = g.smoothHu[v]! - light[v]!;
      else hidden.push(v);
    }
  }
  relax(levelHu, Int32Array.from(hidden).sort(), g);
  return { ...before, levelHu };
}

function makeBall(g: CalciumGrid, reachMm: number): Ball {
  const m = g.rootFromBox;
  const list: (readonly [number, number, number, number])[] = [];
  const reach = g.stepsMm.map((s) => Math.ceil((1.3 * reachMm) / s));
  for (let c = -reach[2]!; c <= reach[2]!; c++) {
    for (let b = -reach[1]!; b <= reach[1]!; b++) {
      for (let a = -reach[0]!; a <= reach[0]!; a++) {
        const mm = Math.hypot(m[0]! * a + m[1]! * b + m[2]! * c, m[4]! * a + m[5]! * b + m[6]! * c, m[8]! * a + m[9]! * b + m[10]! * c);
        if (mm <= reachMm && mm > 0) list.push([a, b, c, mm]);
      }
    }
  }
  return {
    count: list.length, reach, by: Int32Array.from(list, (e) => (e[2] * g.dims[1] + e[1]) * g.dims[0] + e[0]), di: Int16Array.from(list, (e) => e[0]), dj: Int16Array.from(list, (e) => e[1]),
    dk: Int16Array.from(list, (e) => e[2]), mm: Float32Array.from(list, (e) => e[3]),
  };
}

/** First guess: from the outside inward, each voxel the mean of its neighbours already filled. */
function startInward(levelHu: Float32Array, owner: Int16Array, away: Float32Array, all: Int32Array, dims: readonly [number, number, number]): void {
  const strides = [1, dims[0], dims[0] * dims[1]];
  const isOpen = new Uint8Array(owner.length);
  for (const v of all) isOpen[v] = 1;
  // Farthest from calcium first, in classes of a quarter of a millimetre: an order that no rounding can turn.
  const classes: number[][] = [];
  for (const v of all) (classes[Math.floor(4 * away[v]!)] ??= []).push(v);
  let open: number[] = classes.reverse().flat();
  while (open.length > 0) {
    const left: number[] = [];
    for (const v of open) {
      let sum = 0;
      let count = 0;
      for (const s of strides) {
        if (isOpen[v - s] === 0) { sum += levelHu[v - s]!; count++; }
        if (isOpen[v + s] === 0) { sum += levelHu[v + s]!; count++; }
      }
      if (count === 0) left.push(v);
      else {
        levelHu[v] = sum / count;
        isOpen[v] = 0;
      }
    }
    if (left.length === open.length) break;
    open = left;
  }
}

function relax(levelHu: Float32Array, all: Int32Array, g: CalciumGrid): void {
  const [sx, sy, sz] = [1, g.dims[0], g.dims[0] * g.dims[1]];
  const [wx, wy, wz] = g.stepsMm.map((s) => 1 / (s * s)) as [number, number, number];
  const share = RELAXATION / (2 * (wx + wy + wz));
  for (let n = 0; n < SWEEPS; n++) {
    for (let t = 0; t < all.length; t++) {
      const v = all[t]!;
      const mean =
        wx * (levelHu[v - sx]! + levelHu[v + sx]!) + wy * (levelHu[v - sy]! + levelHu[v + sy]!) + wz * (levelHu[v - sz]! + levelHu[v + sz]!);
      levelHu[v] = (1 - RELAXATION) * levelHu[v]! + share * mean;
    }
  }
}
