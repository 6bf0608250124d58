import { quickNormalCdf } from '../math/normal-cdf.ts';
import { fitLeastSquares, type LeastSquaresFit } from '../math/solve-small.ts';
import { readCrown, type Crown, type CrownEvidence } from './find-crown.ts';
import type { PolarBlock } from './polar-block.ts';
import type { FineWall } from './refine-wall.ts';

/**
 * How much better the picture around (height, azimuth) is explained by a hinge standing exactly there – wall, leaflet
 * and the opening sinus – than by a smooth wall without any leaflet. Unlike a single fit, which always ends somewhere,
 * it tells places with a hinge from places without, so a crown can be sought where the first one was wrong.
 */
export interface HingeRange {
  readonly lowMm: number;
  readonly highMm: number;
  /** Above highMm, up to here, nothing is asked and nothing said: commissures stand there. */
  readonly topMm: number;
}
const NEAR: HingeRange = { lowMm: -8, highMm: 13, topMm: 34 };
/** The evidence of held hinges peaks this much above the fitted ones; mean over seeded phantoms. */
export const EVIDENCE_BIAS_MM = 0.6;
const STEP_MM = 1.5;
const AZIMUTHS = 24;

const BELOW_MM = 5;
const ABOVE_MM = 4.5;
const INSIDE_MM = 5;
const NEAR_OUTSIDE_MM = 2;
const FAR_OUTSIDE_MM = 4.4;
const RADIUS_STEP_MM = 0.6;
const HEIGHT_STEP_MM = 0.75;
const ITERATIONS = 4;
/** A gain above this says no more than this; one below says that the hinge is out of the question. */
const GAIN_CAP = 1.2;
const GAIN_FLOOR = -0.3;

interface Patch {
  readonly heights: Float64Array;
  readonly radii: Float64Array;
  readonly values: Float64Array;
}

const clamp = (v: number, low: number, high: number): number => Math.max(low, Math.min(high, v));
/** Beyond two SDs growth slows to the square root: calcium and vessels are not in the models. */
const tame = (e: number): number => {
  const m = Math.abs(e);
  return m <= 2 ? e : Math.sign(e) * Math.sqrt(4 * m - 4);
};

/** Mean of three neighbouring half-planes; radii run from `outsideMm` beyond the given edge inward. */
function cutPatch(block: PolarBlock, column: number, heightMm: number, edgeMm: (u: number) => number, outsideMm: number, low: number, high: number): Patch {
  const { azimuths, heights, radii, radiusStepMm: dr, heightStepMm: dh, lowMm, valuesHu } = block;
  const hs: number[] = [];
  const rs: number[] = [];
  const vs: number[] = [];
  for (let u = -BELOW_MM; u <= ABOVE_MM + 1e-9; u += HEIGHT_STEP_MM) {
    const row = (heightMm + u - lowMm) / dh;
    const i0 = Math.floor(row);
    if (i0 < 0 || i0 >= heights - 1) continue;
    const fh = row - i0;
    const edge = edgeMm(u);
    for (let x = -outsideMm; x <= INSIDE_MM; x += RADIUS_STEP_MM) {
      const q = (edge - x) / dr;
      const k0 = Math.floor(q);
      if (k0 < 2) break;
      if (k0 >= radii - 1) continue;
      const fr = q - k0;
      let sum = 0;
      for (let d = -1; d <= 1; d++) {
        const o = (i0 * azimuths + ((column + d + azimuths) % azimuths)) * radii + k0;
        const p = o + azimuths * radii;
        const v = (valuesHu[o]! * (1 - fr) + valuesHu[o + 1]! * fr) * (1 - fh) + (valuesHu[p]! * (1 - fr) + valuesHu[p + 1]! * fr) * fh;
        sum += v > high ? high : v < low ? low : v;
      }
      if (sum !== sum) continue;
      hs.push(u);
      rs.push(edge - x);
      vs.push(sum / 3);
    }
  }
  return { heights: Float64Array.from(hs), radii: Float64Array.from(rs), values: Float64Array.from(vs) };
}

/** A smooth wall between blood and tissue: radius, slope, bend. */
function fitSmoothWall(patch: Patch, radiusMm: number, slope: number, bloodHu: number, tissueHu: number, blurMm: number): LeastSquaresFit {
  const n = patch.values.length;
  const inv = 1 / (0.08 * (bloodHu - tissueHu));
  return fitLeastSquares(
    (p, out) => {
      const sharp = 1 / (blurMm * Math.sqrt(1 + p[1]! * p[1]!));
      for (let i = 0; i < n; i++) {
        const u = patch.heights[i]!;
        const wall = p[0]! + p[1]! * u + p[2]! * u * u;
        out[i] = tame((patch.values[i]! - tissueHu - (bloodHu - tissueHu) * quickNormalCdf((wall - patch.radii[i]!) * sharp)) * inv);
      }
      out[n] = p[2]! / 0.05;
    },
    [radiusMm, slope, 0],
    n + 1,
    [0.02, 0.01, 0.002],
    [radiusMm - 4, -2, -0.2],
    [radiusMm + 4, 2, 0.2],
    ITERATIONS,
  );
}

/** The picture of `fit-hinges.ts` with the hinge's height held: radius, lower slope, upper angle and bend, leaflet angle and thickness. */
function fitHeldHinge(patch: Patch, radiusMm: number, slope: number, bloodHu: number, tissueHu: number, leafletHu: number, blurMm: number): LeastSquaresFit {
  const n = patch.values.length;
  const weight = 1 / (0.08 * (bloodHu - tissueHu));
  const inv = 1 / blurMm;
  return fitLeastSquares(
    (p, out) => {
      const sin = Math.sin(p[4]!);
      const cos = Math.cos(p[4]!);
      const half = p[5]! / 2;
      const lower = 1 / Math.sqrt(1 + p[1]! * p[1]!);
      const sinUp = Math.sin(p[2]!);
      const cosUp = Math.cos(p[2]!);
      const isOpening = Math.tan(p[2]!) > p[1]!;
      for (let i = 0; i < n; i++) {
        const u = patch.heights[i]!;
        const x = p[0]! - patch.radii[i]!;
        const below = (x + p[1]! * u) * lower;
        const s = u * cosUp - x * sinUp;
        const above = x * cosUp + u * sinUp - (s > 0 ? p[3]! * s * s : 0);
        const inside = quickNormalCdf((isOpening ? Math.max(below, above) : Math.min(below, above)) * inv);
        const along = u * cos + x * sin;
        const across = u * sin - x * cos + (along > 0 ? 0.03 * along * along : 0);
        let sheet = 0;
        if (along > -3 * blurMm && Math.abs(across) < half + 3 * blurMm) {
          sheet = (quickNormalCdf((across + half) * inv) - quickNormalCdf((across - half) * inv)) * quickNormalCdf(along * inv);
        }
        const model = tissueHu + (bloodHu - tissueHu) * inside - (bloodHu - leafletHu) * sheet * inside;
        out[i] = tame((patch.values[i]! - model) * weight);
      }
      out[n] = (p[1]! - slope) / 0.25;
      out[n + 1] = (p[2]! - 0.8) / 0.5;
      out[n + 2] = (p[3]! - 0.04) / 0.02;
      out[n + 3] = (p[5]! - 1.1) / 0.4;
      out[n + 4] = (p[4]! - 0.8) / 0.5;
    },
    [radiusMm, slope, 0.8, 0.04, 0.8, 1.1],
    n + 5,
    [0.02, 0.01, 0.01, 0.004, 0.02, 0.03],
    [radiusMm - 2, -0.8, -0.7, -0.1, -0.2, 0.3],
    [radiusMm + 2, 0.8, 1.5, 0.3, 2, 2.5],
    ITERATIONS,
  );
}

/** Evidence on a grid of 24 azimuths (entry 2 k of 48 lies at azimuth k; odd entries are empty) over the range asked; nothing above. */
export function gatherHingeEvidence(block: PolarBlock, wall: FineWall, bloodHu: number, tissueHu: number, range: HingeRange = NEAR): CrownEvidence {
  const heights = Math.round((range.topMm - range.lowMm) / STEP_MM) + 1;
  const asked = Math.round((range.highMm - range.lowMm) / STEP_MM) + 1;
  const values = new Float32Array(heights * AZIMUTHS * 2);
  for (let k = 0; k < AZIMUTHS; k++) {
    const column = Math.round((k * block.azimuths) / AZIMUTHS);
    for (let h = 0; h < asked; h++) values[h * AZIMUTHS * 2 + 2 * k] = gainAt(block, wall, column, range.lowMm + h * STEP_MM, bloodHu, tissueHu);
  }
  return { values, heights, azimuths: 2 * AZIMUTHS, lowMm: range.lowMm, heightStepMm: STEP_MM };
}

/** Fall of the mean squared residual from the smooth wall to the hinge, kept within -0.3 to 2.5; 0 where too little is seen. */
function gainAt(block: PolarBlock, wall: FineWall, column: number, heightMm: number, bloodHu: number, tissueHu: number): number {
  const { azimuths, heights, lowMm, heightStepMm: dh } = block;
  const cell = (mm: number): number => clamp(Math.round((mm - lowMm) / dh), 0, heights - 1) * azimuths + column;
  const read = (mm: number): number => wall.radiusMm[cell(mm)]!;
  const tissue = Math.min(wall.tissueHu[cell(heightMm)] ?? tissueHu, 0.5 * (bloodHu + tissueHu));
  const radius = read(heightMm);
  const below = clamp((radius - read(heightMm - 4)) / 4, -0.5, 0.5);
  // Where the wall below stands before tissue, the straight line on from it is looked at farther outward: the pocket
  // behind a leaflet that was taken for the wall lies there. Before another chamber the found wall is all there is.
  let patch = cutPatch(block, column, heightMm, (u) => radius + below * u, FAR_OUTSIDE_MM, tissue, bloodHu);
  if (!isBackedByTissue(patch, radius, below, 0.5 * (bloodHu + tissue))) {
    patch = cutPatch(block, column, heightMm, (u) => radius + below * u, NEAR_OUTSIDE_MM, tissue, bloodHu);
  }
  if (patch.values.length < 60) return 0;
  const smooth = fitSmoothWall(patch, radius, (read(heightMm + 3) - read(heightMm - 3)) / 6, bloodHu, tissue, wall.blurMm);
  const hinge = fitHeldHinge(patch, radius, below, bloodHu, tissue, tissueHu + 30, wall.blurMm);
  return clamp((smooth.residualSum - hinge.residualSum) / patch.values.length, GAIN_FLOOR, GAIN_CAP);
}

/** Whether nothing bright lies 1.5 mm and more behind the wall below the hinge. */
function isBackedByTissue(patch: Patch, radiusMm: number, slope: number, halfHu: number): boolean {
  let bright = 0;
  let n = 0;
  for (let i = 0; i < patch.values.length; i++) {
    const u = patch.heights[i]!;
    if (u > -1 || patch.radii[i]! < radiusMm + slope * u + 1.5) continue;
    n++;
    if (patch.values[i]! > halfHu) bright++;
  }
  return n > 0 && bright < 0.1 * n;
}

/** Mean evidence along a crown; places above the grid count as nothing, below it as impossible. */
export function scoreHinges(e: CrownEvidence, crown: Crown): number {
  let sum = 0;
  let n = 0;
  for (let a = 0; a < e.azimuths; a += 2) {
    const f = (readCrown(crown, (2 * Math.PI * a) / e.azimuths) - e.lowMm) / e.heightStepMm;
    const h = Math.floor(f);
    n++;
    if (h < 0) sum += GAIN_FLOOR;
    else if (h < e.heights - 1) sum += e.values[h * e.azimuths + a]! * (1 - f + h) + e.values[(h + 1) * e.azimuths + a]! * (f - h);
  }
  return sum / n;
}
