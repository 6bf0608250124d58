import { normalCdf } from '../math/normal-cdf.ts';
import { solveSmall } from '../math/solve-small.ts';

/**
 * How well a corner of the wall at each supposed height explains one column of radii.
 * Equation  r(h) = c0 + c1 (h - t) + c2 (h - t)+^2 + c3 (t - h)+ + c4 (t - h)+^2 + c5 (t - h)+^3, each power blurred by
 *           a Gaussian of BLUR_MM, which is what the wall's own window leaves of a corner
 * Source    docs/methods/root-survey.md, "Junction"
 */
export interface CornerFit {
  /** Least sum of squares with the corner at each height of `cornersMm`, mm2. */
  readonly costMm2: Float64Array;
}

/** The wall is a mean over seven rows of 0.5 mm: an SD of 1 mm along the wall. */
const BLUR_MM = 1;
/** Scatter of a column's radius that sets priors against data, mm. */
const SCATTER_MM = 0.1;
/** Mean and SD of c0 to c5, in powers of mm: a tube that widens gently above, a sinus that falls toward it from below. */
const PRIORS = [[0, 50], [0.03, 0.06], [0.004, 0.006], [0.1, 0.15], [0.04, 0.05], [0, 0.004]] as const;
const TERMS = PRIORS.length;

const density = (x: number): number => Math.exp(-0.5 * x * x) / Math.sqrt(2 * Math.PI);

/** Mean of ((u + z)+)^n over a Gaussian z of SD s; n = 1, 2, 3. */
export function blurredPower(u: number, n: 1 | 2 | 3, s: number): number {
  const p = normalCdf(u / s);
  const d = s * density(u / s);
  if (n === 1) return u * p + d;
  if (n === 2) return (u * u + s * s) * p + u * d;
  return (u * u * u + 3 * u * s * s) * p + (u * u + 2 * s * s) * d;
}

/** Prepared once for all columns of a wall: the same heights, the same supposed corners. */
export function makeCornerFitter(heightsMm: readonly number[], cornersMm: readonly number[]): (radiusMm: readonly number[]) => CornerFit {
  const n = heightsMm.length;
  const weights = PRIORS.map(([, sd]) => (SCATTER_MM / sd) ** 2);
  const designs = cornersMm.map((t) => {
    const rows = Float64Array.from({ length: n * TERMS }, (_, i) => {
      const u = t - heightsMm[Math.floor(i / TERMS)]!;
      switch (i % TERMS) {
        case 0: return 1;
        case 1: return -u;
        case 2: return blurredPower(-u, 2, BLUR_MM);
        case 3: return blurredPower(u, 1, BLUR_MM);
        case 4: return blurredPower(u, 2, BLUR_MM);
        default: return blurredPower(u, 3, BLUR_MM);
      }
    });
    const normal = new Float64Array(TERMS * TERMS);
    for (let k = 0; k < n; k++) {
      for (let i = 0; i < TERMS; i++) for (let j = 0; j < TERMS; j++) normal[i * TERMS + j]! += rows[k * TERMS + i]! * rows[k * TERMS + j]!;
    }
    for (let i = 0; i < TERMS; i++) normal[i * TERMS + i]! += weights[i]!;
    return { rows, normal };
  });
  return (radiusMm) => {
    const mean = radiusMm.reduce((a, b) => a + b, 0) / n;
    const costMm2 = Float64Array.from(designs, ({ rows, normal }) => {
      const right = Float64Array.from(PRIORS, ([middle], i) => middle * weights[i]!);
      for (let k = 0; k < n; k++) for (let i = 0; i < TERMS; i++) right[i]! += rows[k * TERMS + i]! * (radiusMm[k]! - mean);
      const c = solveSmall(normal.slice(), right, TERMS);
      if (!c) return Infinity;
      let sum = 0;
      for (let k = 0; k < n; k++) {
        let model = mean;
        for (let i = 0; i < TERMS; i++) model += rows[k * TERMS + i]! * c[i]!;
        sum += (radiusMm[k]! - model) ** 2;
      }
      PRIORS.forEach(([middle], i) => (sum += weights[i]! * (c[i]! - middle) ** 2));
      return sum;
    });
    return { costMm2 };
  };
}
