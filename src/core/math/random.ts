/**
 * Counter-based random numbers: the value depends on (seed, index, variable) only, never on order,
 * so any number of workers draws the same sample. Mixer and test vectors: docs/methods/random-numbers.md.
 */
function mix(x: number): number {
  x ^= x >>> 16;
  x = Math.imul(x, 0x85ebca6b);
  x ^= x >>> 13;
  x = Math.imul(x, 0xc2b2ae35);
  x ^= x >>> 16;
  return x >>> 0;
}

/** Uniform in (0, 1), 32 bit resolution. */
export function uniformAt(seed: number, index: number, variable: number): number {
  let h = mix((seed + 0x9e3779b9) >>> 0);
  h = mix((h ^ Math.imul(index, 0x85ebca77)) >>> 0);
  h = mix((h ^ Math.imul(variable, 0xc2b2ae3d)) >>> 0);
  return (h + 0.5) / 4294967296;
}

const A = [-3.969683028665376e1, 2.209460984245205e2, -2.759285104469687e2, 1.38357751867269e2, -3.066479806614716e1, 2.506628277459239];
const B = [-5.447609879822406e1, 1.615858368580409e2, -1.556989798598866e2, 6.680131188771972e1, -1.328068155288572e1];
const C = [-7.784894002430293e-3, -3.223964580411365e-1, -2.400758277161838, -2.549732539343734, 4.374664141464968, 2.938163982698783];
const D = [7.784695709041462e-3, 3.224671290700398e-1, 2.445134137142996, 3.754408661907416];

/** Inverse of the standard normal distribution (rational approximation of P. J. Acklam, relative error 1.15e-9). */
export function normalQuantile(p: number): number {
  if (!(p > 0 && p < 1)) return p === 0 ? -Infinity : p === 1 ? Infinity : NaN;
  if (p < 0.02425) {
    const q = Math.sqrt(-2 * Math.log(p));
    return (
      (((((C[0]! * q + C[1]!) * q + C[2]!) * q + C[3]!) * q + C[4]!) * q + C[5]!) /
      ((((D[0]! * q + D[1]!) * q + D[2]!) * q + D[3]!) * q + 1)
    );
  }
  if (p > 1 - 0.02425) return -normalQuantile(1 - p);
  const q = p - 0.5;
  const r = q * q;
  return (
    ((((((A[0]! * r + A[1]!) * r + A[2]!) * r + A[3]!) * r + A[4]!) * r + A[5]!) * q) /
    (((((B[0]! * r + B[1]!) * r + B[2]!) * r + B[3]!) * r + B[4]!) * r + 1)
  );
}

/** Standard normal, clipped at +-limit (2.5 in the release model). */
export function normalAt(seed: number, index: number, variable: number, limit = Infinity): number {
  const z = normalQuantile(uniformAt(seed, index, variable));
  return Math.max(-limit, Math.min(limit, z));
}
