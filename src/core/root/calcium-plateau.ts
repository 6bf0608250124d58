/**
 * Greatest value within a box about each place: how bright a deposit is right there.
 * Shape     index (k * ny + j) * nx + i; `reach` in places to either side, axis by axis; values are overwritten
 * Equation  the greatest over a box is the greatest over x of the greatest over y of the greatest over z
 */
export function widenPeaks(values: Float32Array, dims: readonly [number, number, number], reach: readonly number[]): void {
  const before = new Float32Array(values.length);
  let stride = 1;
  for (let axis = 0; axis < 3; axis++) {
    const n = dims[axis]!;
    const r = reach[axis]!;
    before.set(values);
    for (let p = 0; p < values.length; p++) {
      const at = Math.floor(p / stride) % n;
      let most = before[p]!;
      for (let d = Math.max(-r, -at); d <= Math.min(r, n - 1 - at); d++) {
        const v = before[p + d * stride]!;
        if (v > most) most = v;
      }
      values[p] = most;
    }
    stride *= n;
  }
}
