import { normalQuantile, uniformAt } from '../math/random.ts';

/** Tiles of correlated noise with mean 0 and standard deviation 1, periodic in both directions. */
export interface NoiseTiles {
  readonly sizes: readonly number[];
  readonly tiles: readonly Float32Array[];
}
const SIZES = [317, 331, 347];
/** Weight of the next slice's noise in a slice; gives neighbouring slices a correlation of 0.4. */
const NEXT = 0.5;
const PER_SLICE = 1 / Math.sqrt(1 + NEXT * NEXT);

function blurRing(data: Float32Array, n: number, sigma: number): Float32Array {
  const reach = Math.max(1, Math.ceil(3 * sigma));
  const kernel = Float64Array.from({ length: reach + 1 }, (_, i) => Math.exp((-0.5 * i * i) / (sigma * sigma)));
  const pass = (from: Float32Array, stride: number, other: number): Float32Array => {
    const out = new Float32Array(n * n);
    for (let a = 0; a < n; a++) {
      for (let b = 0; b < n; b++) {
        let sum = kernel[0]! * from[a * other + b * stride]!;
        for (let j = 1; j <= reach; j++) sum += kernel[j]! * (from[a * other + ((b + j) % n) * stride]! + from[a * other + ((b - j + n) % n) * stride]!);
        out[a * other + b * stride] = sum;
      }
    }
    return out;
  };
  return pass(pass(data, 1, n), n, 1);
}

/** Unit standard deviation; a table gives the normals, 2^14 quantiles are plenty for 12 bit data. */
function normalize(data: Float32Array): Float32Array {
  let sum = 0;
  let squares = 0;
  for (const v of data) { sum += v; squares += v * v; }
  const mean = sum / data.length;
  const sd = Math.sqrt(squares / data.length - mean * mean);
  return data.map((v) => (v - mean) / sd);
}

/**
 * Band-limited noise as filtered back-projection leaves it: white noise through a Gaussian, minus a part of a three
 * times wider one (little power at low frequency).
 * Source    docs/methods/phantom.md; the difference of Gaussians stands for the ramp filter with a soft kernel
 */
export function makeNoiseTiles(seed: number, correlationPixels: number): NoiseTiles {
  const quantiles = Float32Array.from({ length: 16384 }, (_, i) => normalQuantile((i + 0.5) / 16384));
  const tiles = SIZES.map((n, t) => {
    const white = new Float32Array(n * n);
    for (let i = 0; i < white.length; i++) white[i] = quantiles[Math.floor(uniformAt(seed, i, 900 + t) * 16384)]!;
    if (correlationPixels < 0.2) return normalize(white);
    const narrow = normalize(blurRing(white, n, correlationPixels));
    const wide = normalize(blurRing(white, n, 3 * correlationPixels));
    return normalize(narrow.map((v, i) => v - 0.45 * wide[i]!));
  });
  return { sizes: SIZES, tiles };
}

/** Adds one slice's noise. Depends on (seed, slice) only, never on the order of drawing. */
export function addNoise(out: Float32Array, nx: number, ny: number, slice: number, sdHu: number, seed: number, noise: NoiseTiles): void {
  for (const [k, weight] of [[slice, 1], [slice + 1, NEXT]] as const) {
    const t = ((k % 3) + 3) % 3;
    const n = noise.sizes[t]!;
    const tile = noise.tiles[t]!;
    const dx = Math.floor(uniformAt(seed, k, 910) * n);
    const dy = Math.floor(uniformAt(seed, k, 911) * n);
    const gain = sdHu * weight * PER_SLICE;
    for (let y = 0; y < ny; y++) {
      const row = ((y + dy) % n) * n;
      let x = 0;
      let column = dx;
      while (x < nx) {
        const run = Math.min(nx - x, n - column);
        const o = y * nx + x;
        const p = row + column;
        for (let i = 0; i < run; i++) out[o + i] = out[o + i]! + gain * tile[p + i]!;
        x += run;
        column = 0;
      }
    }
  }
}
