/**
 * Quantile of Student's t distribution: the value below which a share p of it lies.
 *
 * Equation  F(t) = 1 - I(x; v/2, 1/2) / 2 for t >= 0, x = v / (v + t^2), I the regularised incomplete beta function by
 *           its continued fraction (Lentz); the quantile by halving an interval
 * Source    Abramowitz and Stegun 1964, 26.5.8 and 26.7.1 [M]; checked against scipy.stats.t in the test
 * Fails     NaN unless 0 < p < 1 and degrees >= 1
 * Accuracy  1e-9 relative
 */
export function studentQuantile(p: number, degrees: number): number {
  if (!(p > 0 && p < 1 && degrees >= 1 && Number.isFinite(degrees))) return NaN;
  if (p === 0.5) return 0;
  if (p < 0.5) return -studentQuantile(1 - p, degrees);
  let [low, high] = [0, 1];
  while (studentCdf(high, degrees) < p && high < 1e12) high *= 2;
  for (let i = 0; i < 200 && high - low > 1e-12 * high; i++) {
    const middle = (low + high) / 2;
    if (studentCdf(middle, degrees) < p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Share of Student's t distribution below t. */
export function studentCdf(t: number, degrees: number): number {
  const half = computeBetaShare(degrees / (degrees + t * t), degrees / 2, 0.5) / 2;
  return t >= 0 ? 1 - half : half;
}

/** Regularised incomplete beta function I(x; a, b). */
function computeBetaShare(x: number, a: number, b: number): number {
  if (!(x > 0)) return 0;
  if (x >= 1) return 1;
  const front = Math.exp(logGamma(a + b) - logGamma(a) - logGamma(b) + a * Math.log(x) + b * Math.log1p(-x));
  // The fraction converges fast on this side of the middle; the other side by symmetry.
  return x < (a + 1) / (a + b + 2) ? (front * expandBeta(x, a, b)) / a : 1 - (front * expandBeta(1 - x, b, a)) / b;
}

function expandBeta(x: number, a: number, b: number): number {
  const guard = (v: number): number => (Math.abs(v) < 1e-300 ? 1e-300 : v);
  let c = 1;
  let d = 1 / guard(1 - ((a + b) * x) / (a + 1));
  let h = d;
  for (let m = 1; m <= 500; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 / guard(1 + even * d);
    c = guard(1 + even / c);
    h *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / guard(1 + odd * d);
    c = guard(1 + odd / c);
    h *= d * c;
    if (Math.abs(d * c - 1) < 1e-15) break;
  }
  return h;
}

/** Stirling's series after stepping up to 10. Accuracy 1e-13 relative for x > 0. */
function logGamma(x: number): number {
  let shift = 0;
  let y = x;
  while (y < 10) shift += Math.log(y++);
  const r = 1 / (y * y);
  return (y - 0.5) * Math.log(y) - y + 0.5 * Math.log(2 * Math.PI) + (1 / 12 - r * (1 / 360 - r * (1 / 1260 - r * (1 / 1680 - r / 1188)))) / y - shift;
}
