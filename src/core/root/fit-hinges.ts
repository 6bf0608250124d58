import { quickNormalCdf } from '../math/normal-cdf.ts';
import { fitLeastSquares, type LeastSquaresFit } from '../math/solve-small.ts';
import type { PolarBlock } from './polar-block.ts';
import { readCrown, type Crown } from './find-crown.ts';
import type { FineWall } from './refine-wall.ts';

/** Where one leaflet leaves the wall at one azimuth, from a fit to the picture in that half-plane. */
export interface Hinge {
  readonly azimuthRad: number;
  readonly heightMm: number;
  readonly radiusMm: number;
  /** Standard deviation of the height, scaled by how well the model explains the picture. */
  readonly heightSdMm: number;
  readonly radiusSdMm: number;
  /** Leaflet from the upward direction toward the axis, deg. */
  readonly leafletAngleDeg: number;
  readonly leafletMm: number;
  /** The wall above the hinge: angle outward from the upward direction, and bend inward per mm along it. */
  readonly upperAngleRad: number;
  readonly upperBendPerMm: number;
  /** Rms misfit over the contrast between blood and tissue. */
  readonly misfit: number;
  /** Share of the picture within 2 mm of the hinge that calcium hides. */
  readonly hiddenRatio: number;
}

const BELOW_MM = 5;
const ABOVE_MM = 4.5;
const INSIDE_MM = 5;
const OUTSIDE_MM = 2;
const RADIUS_STEP_MM = 0.4;
const HEIGHT_STEP_MM = 0.5;

interface Patch {
  readonly heights: Float64Array;
  readonly radii: Float64Array;
  readonly values: Float64Array;
  readonly n: number;
  /** What calcium hides. */
  readonly hiddenHeights: Float64Array;
  readonly hiddenRadii: Float64Array;
}

/** Calcium and its rim are neither blood nor leaflet: samples this far above blood, and what lies within two samples of them, are left out. */
const CALCIUM_OVER_BLOOD_HU = 140;
const RIM_SAMPLES = 2;

/** Mean of three neighbouring half-planes, each shifted along the crown so that the attachment stays in place. */
function cutPatch(block: PolarBlock, wall: FineWall, crown: Crown, a: number, height0: number, bloodHu: number): Patch {
  const { azimuths, heights, radii, radiusStepMm: dr, heightStepMm: dh, lowMm, valuesHu } = block;
  const rowsOf = Math.round((BELOW_MM + ABOVE_MM) / HEIGHT_STEP_MM) + 1;
  const columnsOf = Math.round((INSIDE_MM + OUTSIDE_MM) / RADIUS_STEP_MM) + 4;
  const rad = (i: number): number => (2 * Math.PI * i) / azimuths;
  const means = new Float64Array(rowsOf * columnsOf).fill(NaN);
  const edges = new Float64Array(rowsOf);
  const isHidden = new Uint8Array(rowsOf * columnsOf);
  const columns = [-1, 0, 1].map((d) => {
    const b = (a + d + azimuths) % azimuths;
    return { b, shift: clamp(readCrown(crown, rad(b)) - readCrown(crown, rad(a)), -2, 2) / dh };
  });
  for (let i = 0; i < rowsOf; i++) {
    const row = (height0 - BELOW_MM + i * HEIGHT_STEP_MM - lowMm) / dh;
    if (row < 1 || row > heights - 2) continue;
    edges[i] = wall.radiusMm[Math.round(row) * azimuths + a]!;
    for (let k = 0; k < columnsOf; k++) {
      const radius = edges[i]! + OUTSIDE_MM - k * RADIUS_STEP_MM;
      if (radius < 1) break;
      let sum = 0;
      let n = 0;
      let peak = -Infinity;
      for (const { b, shift } of columns) {
        const rr = row + shift;
        const i0 = Math.floor(rr);
        if (i0 < 0 || i0 >= heights - 1) continue;
        const q = radius / dr;
        const k0 = Math.floor(q);
        if (k0 >= radii - 1) continue;
        const fh = rr - i0;
        const fr = q - k0;
        const o = (i0 * azimuths + b) * radii + k0;
        const p = o + azimuths * radii;
        const value =
          (valuesHu[o]! * (1 - fr) + valuesHu[o + 1]! * fr) * (1 - fh) +
          (valuesHu[p]! * (1 - fr) + valuesHu[p + 1]! * fr) * fh;
        if (value > peak) peak = value;
        sum += value > bloodHu ? bloodHu : value;
        n++;
      }
      if (n === 0 || sum !== sum) continue;
      means[i * columnsOf + k] = sum / n;
      if (peak > bloodHu + CALCIUM_OVER_BLOOD_HU) hideAround(isHidden, i, k, rowsOf, columnsOf);
    }
  }
  const h: number[] = [];
  const r: number[] = [];
  const v: number[] = [];
  const hiddenH: number[] = [];
  const hiddenR: number[] = [];
  for (let i = 0; i < rowsOf; i++) {
    for (let k = 0; k < columnsOf; k++) {
      const at = i * columnsOf + k;
      if (means[at] !== means[at]) continue;
      if (isHidden[at]) {
        hiddenH.push(-BELOW_MM + i * HEIGHT_STEP_MM);
        hiddenR.push(edges[i]! + OUTSIDE_MM - k * RADIUS_STEP_MM);
        continue;
      }
      h.push(-BELOW_MM + i * HEIGHT_STEP_MM);
      r.push(edges[i]! + OUTSIDE_MM - k * RADIUS_STEP_MM);
      v.push(means[at]!);
    }
  }
  return { heights: Float64Array.from(h), radii: Float64Array.from(r), values: Float64Array.from(v), n: v.length, hiddenHeights: Float64Array.from(hiddenH), hiddenRadii: Float64Array.from(hiddenR) };
}

function hideAround(isHidden: Uint8Array, row: number, column: number, rows: number, columns: number): void {
  for (let i = Math.max(0, row - RIM_SAMPLES); i <= Math.min(rows - 1, row + RIM_SAMPLES); i++) {
    for (let k = Math.max(0, column - RIM_SAMPLES); k <= Math.min(columns - 1, column + RIM_SAMPLES); k++) isHidden[i * columns + k] = 1;
  }
}

/** What is known of the leaflets' thickness: at first a guess, then what the other azimuths of the same valve say. */
interface Thickness {
  readonly mm: number;
  readonly sdMm: number;
}
const THICKNESS_GUESS: Thickness = { mm: 0.9, sdMm: 0.5 };
const THICKNESS_SCATTER_MM = 0.15;
/** Thinner than this share of the others is no leaflet: the fit explains the picture by a bent wall alone. */
const LEAST_THICKNESS_RATIO = 0.5;

function learnThickness(before: readonly Hinge[]): Thickness {
  const seen = before.filter((h) => h.misfit < 0.12 && h.leafletMm > 0.35 && h.leafletMm < 2.5).map((h) => h.leafletMm).sort((a, b) => a - b);
  return seen.length < 8 ? THICKNESS_GUESS : { mm: seen[seen.length >> 1]!, sdMm: THICKNESS_SCATTER_MM };
}

/**
 * Straight wall below, curved wall above (at an angle, since the floor of a sinus may lie flat), one straight sheet
 * leaving at the hinge, all blurred alike. Parameters: height, radius, lower slope, upper angle, upper bend, leaflet
 * angle, leaflet thickness, leaflet bend.
 */
function fitPatch(patch: Patch, start: number[], bloodHu: number, tissueHu: number, blurMm: number, leafletHu: number, thickness: Thickness, iterations: number): LeastSquaresFit {
  const sd = 0.08 * (bloodHu - tissueHu);
  const { n } = patch;
  const prior = start.slice();
  return fitLeastSquares(
    (p, out) => {
      const a = p[0]!;
      const radius = p[1]!;
      const sin = Math.sin(p[5]!);
      const cos = Math.cos(p[5]!);
      const half = p[6]! / 2;
      const inv = 1 / blurMm;
      const lower = 1 / Math.sqrt(1 + p[2]! * p[2]!);
      const sinUp = Math.sin(p[3]!);
      const cosUp = Math.cos(p[3]!);
      // A sinus opens outward: the lumen is the union of the two sides; a wall that narrows upward is their overlap.
      const isOpening = Math.tan(p[3]!) > p[2]!;
      for (let i = 0; i < n; i++) {
        const u = patch.heights[i]! - a;
        const x = radius - patch.radii[i]!;
        const below = (x + p[2]! * u) * lower;
        const s = u * cosUp - x * sinUp;
        const above = x * cosUp + u * sinUp - (s > 0 ? p[4]! * s * s : 0);
        const off = isOpening ? Math.max(below, above) : Math.min(below, above);
        const inside = quickNormalCdf(off * inv);
        const along = u * cos + x * sin;
        // A leaflet bends toward the axis on its way: the sheet's middle is a parabola.
        const across = u * sin - x * cos + (along > 0 ? p[7]! * along * along : 0);
        let sheet = 0;
        if (along > -3 * blurMm) {
          sheet =
            (quickNormalCdf((across + half) * inv) - quickNormalCdf((across - half) * inv)) * quickNormalCdf(along * inv);
        }
        const model = tissueHu + (bloodHu - tissueHu) * inside - (bloodHu - leafletHu) * sheet * inside;
        const e = (patch.values[i]! - model) / sd;
        // Beyond two SDs growth slows to the square root: calcium and vessels are not in the model.
        const m = Math.abs(e);
        out[i] = m <= 2 ? e : Math.sign(e) * Math.sqrt(4 * m - 4);
      }
      out[n] = (p[2]! - prior[2]!) / 0.25;
      out[n + 1] = (p[3]! - prior[3]!) / 0.5;
      // A sinus bulges: its floor bends inward with a radius of 10 to 17 mm.
      out[n + 2] = (p[4]! - 0.04) / 0.01;
      out[n + 3] = (p[6]! - thickness.mm) / thickness.sdMm;
      out[n + 4] = (p[5]! - prior[5]!) / 0.6;
      out[n + 5] = (p[0]! - prior[0]!) / 2;
      out[n + 6] = (p[7]! - 0.03) / 0.04;
    },
    start,
    n + 7,
    [0.05, 0.02, 0.01, 0.01, 0.004, 0.02, 0.03, 0.004],
    [-3.5, start[1]! - 3, -0.8, -0.7, -0.1, -0.2, 0.05, -0.1],
    [3.5, start[1]! + 3, 0.8, 1.5, 0.3, 2, 3, 0.2],
    iterations,
  );
}

const NEAR_MM = 2;
/** Share of the samples near a fitted hinge that calcium hides. */
function measureHidden(patch: Patch, liftMm: number, radiusMm: number): number {
  const countNear = (heights: Float64Array, radii: Float64Array): number => {
    let n = 0;
    for (let i = 0; i < heights.length; i++) if (Math.hypot(heights[i]! - liftMm, radii[i]! - radiusMm) < NEAR_MM) n++;
    return n;
  };
  const hidden = countNear(patch.hiddenHeights, patch.hiddenRadii);
  return hidden === 0 ? 0 : hidden / (hidden + countNear(patch.heights, patch.radii));
}

const START_ANGLES_RAD = [0.25, 0.8, 1.3];
const START_LIFTS_MM = [0, -1.2];

/** A hinge per second azimuth of the block, starting from the `before` fit of the same azimuth where there is one; azimuths where the patch leaves the scan are left out. */
export function fitHinges(
  block: PolarBlock,
  wall: FineWall,
  crown: Crown,
  bloodHu: number,
  tissueHu: number,
  leafletHu: number,
  before: readonly Hinge[] = [],
): Hinge[] {
  const { azimuths, heights, heightStepMm: dh, lowMm } = block;
  const hinges: Hinge[] = [];
  const thickness = learnThickness(before);
  const readRadius = (height: number, a: number): number => {
    const row = Math.max(0, Math.min(heights - 1, Math.round((height - lowMm) / dh)));
    return wall.radiusMm[row * azimuths + a]!;
  };
  for (let a = 0; a < azimuths; a += 2) {
    const azimuthRad = (2 * Math.PI * a) / azimuths;
    const height0 = readCrown(crown, azimuthRad);
    const patch = cutPatch(block, wall, crown, a, height0, bloodHu);
    if (patch.n < 150) continue;
    const row = Math.max(0, Math.min(heights - 1, Math.round((height0 - lowMm) / dh)));
    const localTissue = wall.tissueHu[row * azimuths + a] ?? tissueHu;
    const radius0 = readRadius(height0, a);
    const below = (radius0 - readRadius(height0 - 4, a)) / 4;
    const above = (readRadius(height0 + 2.5, a) - radius0) / 2.5;
    const known = before.find((h) => h.azimuthRad === azimuthRad);
    const isLeaflet = known && known.leafletMm > LEAST_THICKNESS_RATIO * thickness.mm && known.leafletMm < 2 * thickness.mm;
    const angles = isLeaflet ? [(known.leafletAngleDeg * Math.PI) / 180] : START_ANGLES_RAD;
    const thick = isLeaflet ? known.leafletMm : thickness.mm;
    let best: LeastSquaresFit | null = null;
    for (const lift of isLeaflet || !known ? [0] : START_LIFTS_MM) {
      for (const angle of angles) {
        const start = [lift, radius0, clamp(below, -0.6, 0.6), Math.atan(clamp(above, -0.6, 4)), 0, angle, thick, 0.03];
        const fit = fitPatch(patch, start, bloodHu, localTissue, wall.blurMm, leafletHu, thickness, isLeaflet ? 10 : 5);
        if (!best || fit.residualSum < best.residualSum) best = fit;
      }
    }
    if (!isLeaflet) best = fitPatch(patch, [...best!.parameters], bloodHu, localTissue, wall.blurMm, leafletHu, thickness, 8);
    const p = best!.parameters;
    // Samples 0.4 x 0.5 mm apart share voxels and blur: about one in four is independent.
    const variance = (4 * best!.residualSum) / Math.max(1, patch.n - 8);
    const cov = best!.inverseNormal;
    hinges.push({
      azimuthRad,
      heightMm: height0 + p[0]!,
      radiusMm: p[1]!,
      heightSdMm: cov ? Math.sqrt(Math.max(1e-4, cov[0]! * variance)) : 2,
      radiusSdMm: cov ? Math.sqrt(Math.max(1e-4, cov[9]! * variance)) : 1,
      leafletAngleDeg: (p[5]! * 180) / Math.PI,
      leafletMm: p[6]!,
      upperAngleRad: p[3]!,
      upperBendPerMm: p[4]!,
      misfit: Math.sqrt(best!.residualSum / patch.n) * 0.08,
      hiddenRatio: measureHidden(patch, p[0]!, p[1]!),
    });
  }
  return hinges;
}

const clamp = (v: number, low: number, high: number): number => Math.max(low, Math.min(high, v));
