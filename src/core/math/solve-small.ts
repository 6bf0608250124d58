/** Solves the n x n system A x = b by Gaussian elimination with row pivots; null when singular. A and b are overwritten. */
export function solveSmall(a: Float64Array, b: Float64Array, n: number): Float64Array | null {
  for (let c = 0; c < n; c++) {
    let pivot = c;
    for (let r = c + 1; r < n; r++) if (Math.abs(a[r * n + c]!) > Math.abs(a[pivot * n + c]!)) pivot = r;
    if (!(Math.abs(a[pivot * n + c]!) > 1e-14)) return null;
    if (pivot !== c) {
      for (let k = 0; k < n; k++) {
        const t = a[c * n + k]!;
        a[c * n + k] = a[pivot * n + k]!;
        a[pivot * n + k] = t;
      }
      const t = b[c]!;
      b[c] = b[pivot]!;
      b[pivot] = t;
    }
    for (let r = c + 1; r < n; r++) {
      const q = a[r * n + c]! / a[c * n + c]!;
      if (q === 0) continue;
      for (let k = c; k < n; k++) a[r * n + k]! -= q * a[c * n + k]!;
      b[r]! -= q * b[c]!;
    }
  }
  const x = new Float64Array(n);
  for (let r = n - 1; r >= 0; r--) {
    let sum = b[r]!;
    for (let k = r + 1; k < n; k++) sum -= a[r * n + k]! * x[k]!;
    x[r] = sum / a[r * n + r]!;
  }
  return x;
}

export interface LeastSquaresFit {
  readonly parameters: Float64Array;
  /** Inverse of J'J at the end, row by row; times the residual variance it is the covariance. Null when singular. */
  readonly inverseNormal: Float64Array | null;
  readonly residualSum: number;
  readonly iterations: number;
}

/**
 * Levenberg-Marquardt for few parameters with forward-difference derivatives.
 * `residuals(p, out)` writes weighted residuals; priors are extra residual rows. `steps` are difference steps.
 * `low`/`high` clamp each parameter. Deterministic; stops after `maxIterations` or a relative gain below 1e-6.
 */
export function fitLeastSquares(
  residuals: (p: Float64Array, out: Float64Array) => void,
  start: ArrayLike<number>,
  rows: number,
  steps: ArrayLike<number>,
  low: ArrayLike<number>,
  high: ArrayLike<number>,
  maxIterations = 20,
): LeastSquaresFit {
  const n = start.length;
  const p = Float64Array.from(start);
  let r = new Float64Array(rows);
  let r2 = new Float64Array(rows);
  const q = new Float64Array(n);
  const work = new Float64Array(n * n);
  const right = new Float64Array(n);
  const jac = new Float64Array(rows * n);
  residuals(p, r);
  let sum = r.reduce((s, v) => s + v * v, 0);
  let lambda = 1e-2;
  let iterations = 0;
  const normal = new Float64Array(n * n);
  const gradient = new Float64Array(n);
  // One parameter's derivatives lie together, so that the sums below run along memory.
  const linearize = (): void => {
    for (let k = 0; k < n; k++) {
      q.set(p);
      const isHigh = q[k]! + steps[k]! > high[k]!;
      q[k]! += isHigh ? -steps[k]! : steps[k]!;
      residuals(q, r2);
      differ(r2, r, 1 / (q[k]! - p[k]!), jac, k * rows);
    }
    for (let k = 0; k < n; k++) {
      gradient[k] = multiplyRows(jac, k * rows, r, 0, rows);
      for (let l = k; l < n; l++) {
        const sum = multiplyRows(jac, k * rows, jac, l * rows, rows);
        normal[k * n + l] = sum;
        normal[l * n + k] = sum;
      }
    }
  };
  linearize();
  for (; iterations < maxIterations; iterations++) {
    let isBetter = false;
    let gain = 0;
    for (let attempt = 0; attempt < 6 && !isBetter; attempt++) {
      work.set(normal);
      for (let k = 0; k < n; k++) {
        work[k * n + k] = work[k * n + k]! * (1 + lambda) + 1e-12;
        right[k] = -gradient[k]!;
      }
      const d = solveSmall(work, right, n);
      if (d) {
        for (let k = 0; k < n; k++) q[k] = Math.max(low[k]!, Math.min(high[k]!, p[k]! + d[k]!));
        residuals(q, r2);
        let s = 0;
        for (let i = 0; i < rows; i++) s += r2[i]! * r2[i]!;
        if (s < sum) {
          gain = (sum - s) / Math.max(sum, 1e-300);
          sum = s;
          p.set(q);
          const t = r;
          r = r2;
          r2 = t;
          isBetter = true;
          lambda = Math.max(1e-6, lambda / 5);
        }
      }
      if (!isBetter) lambda *= 6;
    }
    if (!isBetter) break;
    linearize();
    if (gain < 1e-6) break;
  }
  return { parameters: p, inverseNormal: invertSmall(normal, n), residualSum: sum, iterations };
}

// Functions of their own, called often: compiled early, and once for all fits, while a closure is made anew for each.
function differ(after: Float64Array, before: Float64Array, inverseStep: number, out: Float64Array, to: number): void {
  for (let i = 0; i < before.length; i++) out[to + i] = (after[i]! - before[i]!) * inverseStep;
}
function multiplyRows(a: Float64Array, fromA: number, b: Float64Array, fromB: number, count: number): number {
  let sum = 0;
  for (let i = 0; i < count; i++) sum += a[fromA + i]! * b[fromB + i]!;
  return sum;
}

export function invertSmall(m: Float64Array, n: number): Float64Array | null {
  const out = new Float64Array(n * n);
  for (let c = 0; c < n; c++) {
    const e = new Float64Array(n);
    e[c] = 1;
    const x = solveSmall(Float64Array.from(m), e, n);
    if (!x) return null;
    for (let r = 0; r < n; r++) out[r * n + c] = x[r]!;
  }
  return out;
}
