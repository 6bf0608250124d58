import { blurBox, placeOf, type CalciumGrid, type DrawBox } from './calcium-zone.ts';

/** An ellipsoid x' spread^-1 x = 1 about its centre, root frame, mm; `spread` symmetric, row by row. */
export interface Ellipsoid3 {
  readonly centre: readonly [number, number, number];
  readonly spread: Float64Array;
}

/** Eigenvalues and eigenvectors (columns) of a symmetric 3 x 3 matrix by Jacobi rotations. */
export function splitSymmetric(matrix: Float64Array): { readonly values: [number, number, number]; readonly vectors: Float64Array } {
  const a = Float64Array.from(matrix);
  const v = Float64Array.of(1, 0, 0, 0, 1, 0, 0, 0, 1);
  for (let sweep = 0; sweep < 12; sweep++) {
    for (const [p, q] of [[0, 1], [0, 2], [1, 2]] as const) {
      const off = a[p * 3 + q]!;
      if (Math.abs(off) < 1e-14) continue;
      const theta = (a[q * 3 + q]! - a[p * 3 + p]!) / (2 * off);
      const t = (theta >= 0 ? 1 : -1) / (Math.abs(theta) + Math.sqrt(theta * theta + 1));
      const c = 1 / Math.sqrt(t * t + 1);
      const s = t * c;
      for (let r = 0; r < 3; r++) {
        const [x, y] = [a[r * 3 + p]!, a[r * 3 + q]!];
        a[r * 3 + p] = c * x - s * y;
        a[r * 3 + q] = s * x + c * y;
      }
      for (let r = 0; r < 3; r++) {
        const [x, y] = [a[p * 3 + r]!, a[q * 3 + r]!];
        a[p * 3 + r] = c * x - s * y;
        a[q * 3 + r] = s * x + c * y;
        const [e, f] = [v[r * 3 + p]!, v[r * 3 + q]!];
        v[r * 3 + p] = c * e - s * f;
        v[r * 3 + q] = s * e + c * f;
      }
    }
  }
  return { values: [a[0]!, a[4]!, a[8]!], vectors: v };
}

/** Same matrix with every eigenvalue within [low, high]. */
export function limitSpread(spread: Float64Array, low: number, high: number): Float64Array {
  const { values, vectors } = splitSymmetric(spread);
  return joinSymmetric(values.map((e) => Math.min(high, Math.max(low, e))), vectors);
}

function joinSymmetric(values: readonly number[], vectors: Float64Array): Float64Array {
  const out = new Float64Array(9);
  for (let r = 0; r < 3; r++) {
    for (let c = 0; c < 3; c++) for (let e = 0; e < 3; e++) out[r * 3 + c] = out[r * 3 + c]! + values[e]! * vectors[r * 3 + e]! * vectors[c * 3 + e]!;
  }
  return out;
}

export function ellipsoidVolume(spread: Float64Array): number {
  const { values } = splitSymmetric(spread);
  return (4 / 3) * Math.PI * Math.sqrt(Math.max(0, values[0] * values[1] * values[2]));
}

/**
 * An ellipsoid of height 1 as the scanner shows it: a ramp of a voxel's width at its border, then the rest of the blur.
 *
 * Shape     `out` fills the draw box, index (k * ny + j) * nx + i
 * Units     mm; blurMm is the standard deviation of the point spread
 * Equation  the ramp's variance w^2 / 12 is taken off the Gaussian's, so that a flat edge has the stated spread
 */
export function drawBlurredEllipsoid(g: CalciumGrid, box: DrawBox, e: Ellipsoid3, blurMm: number, out: Float32Array): void {
  const { values, vectors } = splitSymmetric(e.spread);
  const q = joinSymmetric(values.map((v) => 1 / Math.max(1e-4, v)), vectors);
  const m = g.rootFromBox;
  const rampMm = Math.sqrt((g.stepsMm[0] ** 2 + g.stepsMm[1] ** 2 + g.stepsMm[2] ** 2) / 3);
  const smallest = Math.sqrt(Math.max(1e-4, Math.min(...values)));
  const [nx, ny, nz] = box.dims;
  let o = 0;
  for (let k = 0; k < nz; k++) {
    for (let j = 0; j < ny; j++) {
      const start = placeOf(g, box.from[0], box.from[1] + j, box.from[2] + k);
      let x = start[0] - e.centre[0];
      let y = start[1] - e.centre[1];
      let z = start[2] - e.centre[2];
      for (let i = 0; i < nx; i++, o++, x += m[0]!, y += m[4]!, z += m[8]!) {
        const gx = q[0]! * x + q[1]! * y + q[2]! * z;
        const gy = q[3]! * x + q[4]! * y + q[5]! * z;
        const gz = q[6]! * x + q[7]! * y + q[8]! * z;
        const k2 = gx * x + gy * y + gz * z;
        if (k2 > 9) {
          out[o] = 0;
          continue;
        }
        const k0 = Math.sqrt(k2);
        const d = k0 < 0.05 ? -smallest : (k0 * (k0 - 1)) / Math.sqrt(gx * gx + gy * gy + gz * gz);
        out[o] = d >= rampMm / 2 ? 0 : d <= -rampMm / 2 ? 1 : 0.5 - d / rampMm;
      }
    }
  }
  const left = Math.sqrt(Math.max(0, blurMm * blurMm - (rampMm * rampMm) / 12));
  blurBox(out, box.dims, g.stepsMm.map((s) => left / s));
}
