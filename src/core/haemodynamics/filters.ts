/** Filters of sampled signals. Checked against SciPy (docs/methods/pressure.md). NaN spreads over the width of a filter. */

/** Weights of the straight mean of a parabola fitted to 2 h + 1 samples: its middle value, and its slope there per sample. */
function weighQuadratic(half: number): { readonly value: Float64Array; readonly slope: Float64Array } {
  const n = 2 * half + 1;
  const value = new Float64Array(n);
  const slope = new Float64Array(n);
  const s2 = (half * (half + 1) * n) / 3;
  const s4 = (s2 * (3 * half * half + 3 * half - 1)) / 5;
  for (let i = -half; i <= half; i++) {
    value[i + half] = half === 0 ? 1 : (s4 - s2 * i * i) / (n * s4 - s2 * s2);
    slope[i + half] = half === 0 ? 0 : i / s2;
  }
  return { value, slope };
}

/** Odd-length weights over x; the ends repeat the first and the last sample. */
function convolve(x: Float64Array, weights: Float64Array): Float64Array {
  const half = (weights.length - 1) / 2;
  const n = x.length;
  const y = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    let sum = 0;
    if (i >= half && i < n - half) for (let j = 0, at = i - half; j < weights.length; j++) sum += weights[j]! * x[at + j]!;
    else for (let j = 0; j < weights.length; j++) sum += weights[j]! * x[Math.min(n - 1, Math.max(0, i + j - half))]!;
    y[i] = sum;
  }
  return y;
}

/** Savitzky-Golay, order 2: keeps parabolas, takes noise. */
export function smoothQuadratic(x: Float64Array, half: number): Float64Array {
  return half < 1 ? x.slice() : convolve(x, weighQuadratic(half).value);
}
/** Both of one parabola in one pass over x: the same values as the two below, for half the reading. */
export function fitQuadratic(x: Float64Array, half: number): { readonly value: Float64Array; readonly slope: Float64Array } {
  const weights = weighQuadratic(half);
  const n = x.length;
  const width = 2 * half + 1;
  const value = new Float64Array(n);
  const slope = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    let [v, s] = [0, 0];
    if (i >= half && i < n - half) {
      for (let j = 0, at = i - half; j < width; j++, at++) {
        const p = x[at]!;
        v += weights.value[j]! * p;
        s += weights.slope[j]! * p;
      }
    } else {
      for (let j = 0; j < width; j++) {
        const p = x[Math.min(n - 1, Math.max(0, i + j - half))]!;
        v += weights.value[j]! * p;
        s += weights.slope[j]! * p;
      }
    }
    value[i] = v;
    slope[i] = s;
  }
  return { value, slope };
}
/** Slope of the same parabola, in units of x per sample. */
export function differentiateQuadratic(x: Float64Array, half: number): Float64Array {
  return convolve(x, weighQuadratic(Math.max(1, half)).slope);
}

export interface Biquad {
  readonly b: readonly [number, number, number];
  /** a0 is 1. */
  readonly a: readonly [number, number];
}
/** Butterworth, order 2, by the bilinear rule with prewarping. */
export function makeButterworth(kind: 'low' | 'high', cutHz: number, samplesPerS: number): Biquad {
  const k = Math.tan((Math.PI * Math.min(cutHz, 0.49 * samplesPerS)) / samplesPerS);
  const norm = 1 / (1 + Math.SQRT2 * k + k * k);
  const g = kind === 'low' ? k * k * norm : norm;
  return { b: [g, kind === 'low' ? 2 * g : -2 * g, g], a: [2 * (k * k - 1) * norm, (1 - Math.SQRT2 * k + k * k) * norm] };
}
/** Forward, starting at rest in the first sample. */
export function filterForward(x: Float64Array, { b, a }: Biquad): Float64Array {
  const y = new Float64Array(x.length);
  const first = x[0] ?? 0;
  const rest = (first * (b[0] + b[1] + b[2])) / (1 + a[0] + a[1]);
  let [x1, x2, y1, y2] = [first, first, rest, rest];
  for (let i = 0; i < x.length; i++) {
    const now = b[0] * x[i]! + b[1] * x1 + b[2] * x2 - a[0] * y1 - a[1] * y2;
    x2 = x1;
    x1 = x[i]!;
    y2 = y1;
    y1 = now;
    y[i] = now;
  }
  return y;
}
/** Forward and back: no delay, the order doubled. */
export function filterBothWays(x: Float64Array, biquad: Biquad): Float64Array {
  return filterForward(filterForward(x, biquad).reverse(), biquad).reverse();
}

/** Amplitude of one frequency in x (Goertzel). Whole periods give the exact value for a pure tone. */
export function measureTone(x: Float64Array, hz: number, samplesPerS: number): number {
  const w = (2 * Math.PI * hz) / samplesPerS;
  const c = 2 * Math.cos(w);
  let [s1, s2] = [0, 0];
  for (const v of x) {
    const s0 = v + c * s1 - s2;
    s2 = s1;
    s1 = s0;
  }
  return (2 * Math.sqrt(Math.max(0, s1 * s1 + s2 * s2 - c * s1 * s2))) / x.length;
}

/** Mean over `width` samples around each; the ends have fewer. */
export function smoothMoving(x: Float64Array, width: number): Float64Array {
  const half = Math.floor(width / 2);
  const y = new Float64Array(x.length);
  let [sum, from, to] = [0, 0, 0];
  const n = x.length;
  for (let i = 0; i < n; i++) {
    // In the middle one sample comes and one goes.
    if (i > half && i + half < n) {
      sum += x[to++]!;
      sum -= x[from++]!;
    } else {
      while (to < n && to <= i + half) sum += x[to++]!;
      while (from < i - half) sum -= x[from++]!;
    }
    y[i] = sum / (to - from);
  }
  return y;
}

/** Without NaN: a gap is bridged by a straight line, an end by the nearest sample. All NaN gives zeros; without a NaN x itself. */
export function bridgeGaps(x: Float64Array): Float64Array {
  let first = 0;
  while (first < x.length && x[first]! === x[first]!) first++;
  if (first === x.length) return x;
  const y = x.slice();
  let last = -1;
  for (let i = 0; i < y.length; i++) {
    if (Number.isNaN(y[i]!)) continue;
    if (last < i - 1) for (let j = last + 1; j < i; j++) y[j] = last < 0 ? y[i]! : y[last]! + ((y[i]! - y[last]!) * (j - last)) / (i - last);
    last = i;
  }
  for (let j = last + 1; j < y.length; j++) y[j] = last < 0 ? 0 : y[last]!;
  return y;
}

/** Value below which a share of the numbers lies; NaN of none. */
export function findQuantile(values: ArrayLike<number>, share: number): number {
  const finite = new Float64Array(values.length);
  let count = 0;
  for (let i = 0; i < values.length; i++) if (Number.isFinite(values[i]!)) finite[count++] = values[i]!;
  const sorted = finite.subarray(0, count).sort();
  if (sorted.length === 0) return NaN;
  const at = share * (sorted.length - 1);
  const low = Math.floor(at);
  return sorted[low]! + (at - low) * ((sorted[low + 1] ?? sorted[low]!) - sorted[low]!);
}
