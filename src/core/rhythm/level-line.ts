/** Less its straight line of least squares. */
export function level(x: Float64Array): Float64Array {
  const n = x.length;
  const mean = x.reduce((sum, v) => sum + v, 0) / n;
  let [up, down] = [0, 0];
  for (let i = 0; i < n; i++) {
    up += (i - (n - 1) / 2) * x[i]!;
    down += (i - (n - 1) / 2) ** 2;
  }
  return x.map((v, i) => v - mean - (up / down) * (i - (n - 1) / 2));
}
