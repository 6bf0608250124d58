import { normalQuantile, uniformAt } from '../math/random.ts';
import { mixContrast, SYSTOLE_SHARE, type ContrastMix, type MixInput } from './mix-contrast.ts';

type Px = readonly [number, number];
/** A drawn angiogram of the root. All sizes in shares of the picture's width unless named. */
export interface ContrastShape extends MixInput {
  readonly columns: number;
  readonly rows: number;
  readonly frames: number;
  readonly framesPerS: number;
  readonly seed: number;
  /** Middle of the valve and how far the aorta leans from upright, deg. */
  readonly valve: Px;
  readonly leanDeg: number;
  readonly rootWidth: number;
  /** Attenuation of pure contrast, per mm; the root is 32 mm wide. */
  readonly contrastPerMm: number;
  /** Quanta in a pixel of the bare beam; 0: no noise. */
  readonly quanta: number;
  /** Share of the beam that is scattered. */
  readonly scatterRatio: number;
  /** Grey of the bare beam, of 4095; black is subtracted. */
  readonly white: number;
  readonly black: number;
  /** Of edge and valve with the beat. */
  readonly beatMotion: number;
  readonly breathing: number;
  readonly tableMove: { readonly atS: number; readonly by: Px } | null;
  readonly gainJump: { readonly atS: number; readonly ratio: number } | null;
  readonly hasDescendingAorta: boolean;
  readonly hasProbe: boolean;
  readonly hasCatheter: boolean;
}
export const PLAIN_CONTRAST: ContrastShape = {
  columns: 192, rows: 192, frames: 75, framesPerS: 15, seed: 1, valve: [0.46, 0.5], leanDeg: 18, rootWidth: 0.2, contrastPerMm: 0.075, quanta: 3000, scatterRatio: 0.15, white: 3600, black: 0,
  beatMotion: 0.008, breathing: 0, tableMove: null, gainJump: null, hasDescendingAorta: false, hasProbe: false, hasCatheter: true,
  ratePerMin: 72, regurgitantFraction: 0.2, strokeMl: 80, endSystolicMl: 50, injectedMl: 20, injectAtS: 1.2, injectRiseS: 0.5, phase: 0.4,
};

export interface DrawnContrastRun {
  readonly pixels: readonly Uint16Array[];
  readonly bits: 12;
  readonly frameTimesMs: readonly number[];
  readonly truth: {
    readonly regurgitantFraction: number;
    readonly cycleMs: number;
    readonly injectAtMs: number;
    readonly regions: { readonly aorta: readonly Px[]; readonly outflow: readonly Px[] };
    readonly marks: { readonly inflow: readonly [Px, Px]; readonly axis: readonly [Px, Px] };
    /** Mean of contrast path x attenuation over each region, without noise and scatter. */
    readonly aorta: readonly number[];
    readonly outflow: readonly number[];
  };
}

const ROOT_MM = 32;
/** Along the axis from the valve, in widths of the root. */
const AORTA_LONG = 2.7;
const OUTFLOW_LONG = 0.85;
const VENTRICLE = { at: -1.5, long: 0.85, wide: 0.85 };

/**
 * Chest with spine, ribs, diaphragm and a beating heart; contrast in root, aorta, outflow tract and ventricle as mixed; scattered
 * beam, quantum noise and 12 bit greys. Same seed, same run.
 * Truth     exact curves of both regions, and the fraction that leaked
 */
export function drawContrastRun(shape: ContrastShape): DrawnContrastRun {
  const { columns: W, rows: H, frames, framesPerS } = shape;
  const timesS = Array.from({ length: frames }, (_, i) => i / framesPerS);
  const mix = mixContrast(shape, timesS);
  const body = drawBody(shape);
  const { regions, marks } = placeTruth(shape);
  const inside = { aorta: listInside(regions.aorta, W, H), outflow: listInside(regions.outflow, W, H) };
  const truth = { aorta: [] as number[], outflow: [] as number[] };
  const normals = makeNormals();
  let scattered = 0;
  const pixels = timesS.map((t, k) => {
    const path = drawFrame(shape, body, mix, t, k);
    for (const name of ['aorta', 'outflow'] as const) truth[name].push(inside[name].reduce((s, p) => s + path.contrast[p]!, 0) / inside[name].length);
    const moved = shiftOf(shape, t);
    const seen = moved ? moveField(path.all, W, H, moved) : path.all;
    const beam = Float32Array.from(seen, (a) => Math.exp(-a));
    if (k === 0) scattered = beam.reduce((s, v) => s + v, 0) / beam.length;
    return expose(shape, beam, scattered, normals, t, k);
  });
  return {
    pixels, bits: 12, frameTimesMs: timesS.map((t) => t * 1000),
    truth: { regurgitantFraction: shape.regurgitantFraction, cycleMs: 60_000 / shape.ratePerMin, injectAtMs: shape.injectAtS * 1000, regions, marks, ...truth },
  };
}

/** Vertical axis of the aorta and the place of pixels along and across it. */
function axisOf({ leanDeg }: ContrastShape): Px {
  const a = (leanDeg * Math.PI) / 180;
  return [Math.sin(a), -Math.cos(a)];
}

function placeTruth(shape: ContrastShape): { readonly regions: DrawnContrastRun['truth']['regions']; readonly marks: DrawnContrastRun['truth']['marks'] } {
  const [u, v] = axisOf(shape);
  const width = shape.rootWidth * shape.columns;
  const [c0, r0] = [shape.valve[0] * shape.columns, shape.valve[1] * shape.columns];
  const at = (along: number, across: number): Px => [c0 + width * (along * u - across * v), r0 + width * (along * v + across * u)];
  const box = (from: number, to: number, half: number): Px[] => [at(from, -half), at(from, half), at(to, half), at(to, -half)];
  return {
    regions: { aorta: box(0.15, 0.95, 0.36), outflow: box(-0.1, -0.65, 0.32) },
    marks: { inflow: [at(0, -0.5), at(0, 0.5)], axis: [at(0, 0), at(0.9, 0)] },
  };
}

/** What stands still: attenuation of chest, spine and ribs; heart and diaphragm apart. */
function drawBody({ columns: W, rows: H, hasProbe, valve }: ContrastShape): Float32Array {
  const out = new Float32Array(W * H);
  for (let r = 0; r < H; r++) {
    for (let c = 0; c < W; c++) {
      const [x, y] = [c / W, r / W];
      let a = 0.55 + 0.35 * (x - 0.5) ** 2 + 0.1 * y;
      // Vertebrae: a band with darker discs; edges soft over a hundredth.
      const band = 1 / (1 + Math.exp((Math.abs(x - 0.66) - 0.075) / 0.008));
      a += band * (0.32 + 0.12 * Math.tanh(6 * Math.sin((2 * Math.PI * (y + 0.03)) / 0.21)));
      // Ribs: bows over the picture.
      const rib = Math.sin((2 * Math.PI * (y + 0.45 * (x - 0.5) ** 2 + 0.12 * x)) / 0.16);
      a += 0.09 / (1 + Math.exp(-(rib - 0.75) / 0.05));
      if (hasProbe && Math.abs(x - valve[0] + 0.02 - 0.06 * (y - 0.5)) < 0.035) a += 1.3;
      out[r * W + c] = a;
    }
  }
  return out;
}

function drawFrame(shape: ContrastShape, body: Float32Array, mix: ContrastMix, t: number, k: number): { readonly all: Float32Array; readonly contrast: Float32Array } {
  const { columns: W, rows: H, contrastPerMm } = shape;
  const cycleS = 60 / shape.ratePerMin;
  const within = (((t + shape.phase * cycleS) % cycleS) + cycleS) % cycleS / cycleS;
  // 1 at the end of systole: the ventricle is small and the valve has come down.
  const squeeze = within < SYSTOLE_SHARE ? Math.sin((Math.PI / 2) * (within / SYSTOLE_SHARE)) : Math.cos((Math.PI / 2) * Math.min(1, (within - SYSTOLE_SHARE) / (0.6 * (1 - SYSTOLE_SHARE))));
  const [u, v] = axisOf(shape);
  const width = shape.rootWidth * W;
  const sink = shape.beatMotion * W * squeeze;
  const [c0, r0] = [shape.valve[0] * W - sink * u, shape.valve[1] * W - sink * v];
  const diaphragm = 0.93 + shape.breathing * Math.sin((2 * Math.PI * t) / 4);
  const all = new Float32Array(W * H);
  const contrast = new Float32Array(W * H);
  const perUnit = ROOT_MM * contrastPerMm; // path in widths of the root
  for (let r = 0; r < H; r++) {
    for (let c = 0; c < W; c++) {
      const i = r * W + c;
      const [x, y] = [c / W, r / W];
      const [dc, dr] = [(c - c0) / width, (r - r0) / width];
      const [s, q] = [dc * u + dr * v, -dc * v + dr * u];
      const thick = measureThickness(s, q, squeeze);
      let d = thick > 0 ? thick * perUnit * concentrationAt(s, mix, k) : 0;
      if (shape.hasDescendingAorta) {
        const across = (x - shape.valve[0] + 0.055) / (0.3 * shape.rootWidth);
        if (Math.abs(across) < 1) d += 0.6 * Math.sqrt(1 - across * across) * perUnit * mix.descending[k]! * 1.3;
      }
      contrast[i] = d;
      // Heart: an ellipse of water that shrinks with the beat.
      const heart = Math.sqrt(((x - 0.47) / (0.36 - 0.02 * squeeze)) ** 2 + ((y - 0.68) / (0.33 - 0.015 * squeeze)) ** 2);
      let a = body[i]! + 0.3 * ramp((1 - heart) / 0.03) + 0.5 * ramp((y - diaphragm + 0.25 * (x - 0.4) ** 2) / 0.006);
      if (shape.hasCatheter && s > 0.1 && Math.abs(q - 0.12 * Math.sin(1.2 * s)) < 0.035) a += 0.3;
      all[i] = a + d;
    }
  }
  return { all, contrast };
}

/** From 0 to 1 over a soft edge. */
const ramp = (z: number): number => (z > 7 ? 1 : z < -7 ? 0 : 1 / (1 + Math.exp(-z)));

/** Path through aorta, outflow tract or ventricle, in widths of the root. */
function measureThickness(s: number, q: number, squeeze: number): number {
  if (s >= 0) {
    if (s > AORTA_LONG || Math.abs(q) >= 0.5) return 0;
    return 2 * Math.sqrt(0.25 - q * q);
  }
  const tube = s > -OUTFLOW_LONG && Math.abs(q) < 0.5 ? 2 * Math.sqrt(0.25 - q * q) : 0;
  const e = ((s - VENTRICLE.at) / VENTRICLE.long) ** 2 + (q / (VENTRICLE.wide * (1 - 0.2 * squeeze))) ** 2;
  return Math.max(tube, e < 1 && s <= -OUTFLOW_LONG / 2 ? 1.3 * Math.sqrt(1 - e) : 0);
}

function concentrationAt(s: number, { root, aorta, ventricle }: ContrastMix, k: number): number {
  if (s < 0) return ventricle[k]!;
  if (s < 1) return root[k]!;
  const at = Math.min(aorta.length - 1, ((s - 1) / (AORTA_LONG - 1)) * aorta.length);
  const low = Math.floor(at);
  const from = low === 0 ? root[k]! : aorta[low - 1]![k]!;
  return from + (at - low) * (aorta[low]![k]! - from);
}

function shiftOf({ tableMove, columns }: ContrastShape, t: number): Px | null {
  if (!tableMove || t <= tableMove.atS) return null;
  const share = Math.min(1, (t - tableMove.atS) / 0.4);
  return [tableMove.by[0] * columns * share, tableMove.by[1] * columns * share];
}
function moveField(field: Float32Array, W: number, H: number, [dc, dr]: Px): Float32Array {
  const out = new Float32Array(field.length);
  for (let r = 0; r < H; r++) {
    for (let c = 0; c < W; c++) {
      const [x, y] = [Math.min(W - 1.001, Math.max(0, c - dc)), Math.min(H - 1.001, Math.max(0, r - dr))];
      const [i, u, v] = [Math.floor(y) * W + Math.floor(x), x % 1, y % 1];
      out[r * W + c] = (1 - v) * ((1 - u) * field[i]! + u * field[i + 1]!) + v * ((1 - u) * field[i + W]! + u * field[i + W + 1]!);
    }
  }
  return out;
}

const NORMALS = 4096;
const makeNormals = (): Float32Array => Float32Array.from({ length: NORMALS }, (_, k) => normalQuantile((k + 0.5) / NORMALS));

function expose(shape: ContrastShape, beam: Float32Array, scattered: number, normals: Float32Array, t: number, k: number): Uint16Array {
  const { quanta, scatterRatio, white, black, gainJump, seed } = shape;
  const gain = gainJump && t >= gainJump.atS ? gainJump.ratio : 1;
  let state = Math.floor(uniformAt(seed, k, 77) * 4294967296) >>> 0 || 1;
  return Uint16Array.from(beam, (p) => {
    const level = (1 - scatterRatio) * p + scatterRatio * scattered;
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    const noise = quanta > 0 ? Math.sqrt(level / quanta) * normals[state >>> 20]! : 0;
    return Math.min(4095, Math.max(0, Math.round(gain * white * (level + noise) - black)));
  });
}

/** Pixels whose centre lies inside, even-odd; written apart from the measuring code, which this checks. */
function listInside(polygon: readonly Px[], W: number, H: number): number[] {
  const out: number[] = [];
  for (let i = 0; i < W * H; i++) {
    const [c, r] = [i % W, Math.floor(i / W)];
    let isInside = false;
    for (let a = 0, b = polygon.length - 1; a < polygon.length; b = a++) {
      const [p, q] = [polygon[a]!, polygon[b]!];
      if (p[1] > r !== q[1] > r && c < ((q[0] - p[0]) * (r - p[1])) / (q[1] - p[1]) + p[0]) isInside = !isInside;
    }
    if (isInside) out.push(i);
  }
  return out;
}
