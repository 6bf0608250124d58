import { makePoint, makeVector, type Affine, type Frame, type Point, type Vector } from './frames.ts';

/** 3 x 4 product: inner frames must meet (annulusFromVoxel = annulusFromLps x lpsFromVoxel). */
export function composeAffine<To extends Frame, Mid extends Frame, From extends Frame>(
  a: Affine<To, Mid>,
  b: Affine<NoInfer<Mid>, From>,
): Affine<To, From> {
  const rows: number[] = [];
  for (let r = 0; r < 3; r++) {
    for (let c = 0; c < 4; c++) {
      let sum = c === 3 ? a.rows[r * 4 + 3]! : 0;
      for (let k = 0; k < 3; k++) sum += a.rows[r * 4 + k]! * b.rows[k * 4 + c]!;
      rows.push(sum);
    }
  }
  return { to: a.to, from: b.from, rows };
}

export function applyToPoint<To extends Frame, From extends Frame>(
  m: Affine<To, From>,
  p: Point<NoInfer<From>>,
): Point<To> {
  const r = m.rows;
  return makePoint<To>(
    r[0]! * p[0] + r[1]! * p[1] + r[2]! * p[2] + r[3]!,
    r[4]! * p[0] + r[5]! * p[1] + r[6]! * p[2] + r[7]!,
    r[8]! * p[0] + r[9]! * p[1] + r[10]! * p[2] + r[11]!,
  );
}

/** Directions feel the linear part only. */
export function applyToVector<To extends Frame, From extends Frame>(
  m: Affine<To, From>,
  v: Vector<NoInfer<From>>,
): Vector<To> {
  const r = m.rows;
  return makeVector<To>(
    r[0]! * v[0] + r[1]! * v[1] + r[2]! * v[2],
    r[4]! * v[0] + r[5]! * v[1] + r[6]! * v[2],
    r[8]! * v[0] + r[9]! * v[1] + r[10]! * v[2],
  );
}

/** Determinant of the linear part (mm3 per voxel for lpsFromVoxel; negative for a left-handed grid). */
export function determinant(rows: readonly number[]): number {
  const [a, b, c, , d, e, f, , g, h, i] = rows as [number, number, number, number, number, number, number, number, number, number, number];
  return a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g);
}

/** Inverse; null when the three columns do not span space (|det| < 1e-12). */
export function invertAffine<To extends Frame, From extends Frame>(m: Affine<To, From>): Affine<From, To> | null {
  const r = m.rows;
  const det = determinant(r);
  if (!(Math.abs(det) >= 1e-12)) return null;
  const [a, b, c, tx, d, e, f, ty, g, h, i, tz] = r as unknown as number[] & { length: 12 };
  const inv = [
    (e! * i! - f! * h!) / det, (c! * h! - b! * i!) / det, (b! * f! - c! * e!) / det,
    (f! * g! - d! * i!) / det, (a! * i! - c! * g!) / det, (c! * d! - a! * f!) / det,
    (d! * h! - e! * g!) / det, (b! * g! - a! * h!) / det, (a! * e! - b! * d!) / det,
  ];
  const rows: number[] = [];
  for (let k = 0; k < 3; k++) {
    const [x, y, z] = [inv[k * 3]!, inv[k * 3 + 1]!, inv[k * 3 + 2]!];
    rows.push(x, y, z, -(x * tx! + y * ty! + z * tz!));
  }
  return { to: m.from, from: m.to, rows };
}
