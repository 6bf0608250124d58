import { bloodShare } from './find-wall.ts';
import type { WallTable } from './find-junction.ts';
import { readTable } from './map-wall.ts';
import type { PolarBlock } from './polar-block.ts';

export interface LeafletTrace {
  readonly lengthMm: number;
  readonly lengthSdMm: number;
  /** Mean darkness (or calcium) along the trace, 0 to 1. */
  readonly clearness: number;
}

/** The edge of a leaflet stands below the junction. */
const HIGHEST_MM = 22;
const SHORTEST_MM = 6;
/** Longer traces have run on into another leaflet or the wall. */
const LONGEST_MM = 24;
/** No leaflet ends below this: the foot of the wall is dark anyhow. */
const LEAST_HEIGHT_MM = 3;
const CALCIUM_HU = 120;
/** Darkness that a step must show to be worth going on. */
const LEAST_SIGN = 0.22;
/** A sheet is darker than what lies this far on either side; this share of the sides' darkness is taken off. */
const SIDE_MM = 1.5;
const SIDE_SHARE = 0.3;
/** Cost of a change of the slope, per step of radius squared. */
const BEND_COST = 0.0125;
/** Steps of radius per height step: a leaflet leans by up to 60 degrees. */
const MOST_STEPS = 3;
const INWARD_COST = 0.02;
/** The trace keeps this far off the wall, from 3 mm above the hinge on. */
const OFF_WALL_MM = 0.6;
/** How much evidence (mean darkness times steps) halves the odds of an end, and what is left where the end is clear. */
const EVIDENCE_SCALE = 0.25;
const CLEAR_SD_MM = 0.6;
const LEAST_SCORE = 0.5;
/** Nearer the axis a leaflet touches its neighbours, and which edge is seen there is not known. */
const AXIS_MM = 1.8;
const UNREACHED = -1e9;

/**
 * Follows one leaflet in the half-plane of its nadir, from the hinge upward along the dark (or calcified) sheet: the best
 * path of one radius per height by dynamic programming. Each height where it may end has a score; the length is the mean
 * over these ends, weighted by the exponent of their scores, so a faint end widens the interval. Null when none is seen.
 * Units     mm along the sheet, from the hinge to the free edge
 * Accuracy  docs/methods/root-survey.md, "Leaflets"
 */
export function traceLeaflet(block: PolarBlock, wall: WallTable, azimuthRad: number, hingeRadiusMm: number, bloodHu: number, tissueHu: number): LeafletTrace | null {
  const { azimuths, radii, radiusStepMm: dr, heightStepMm: dh } = block;
  const column = Math.round((azimuthRad / (2 * Math.PI)) * azimuths + azimuths) % azimuths;
  const top = Math.min(wall.lowMm + (wall.heights - 2) * wall.stepMm, HIGHEST_MM);
  const steps = Math.floor(top / dh) + 1;
  const first = Math.round(-block.lowMm / dh);
  const least = Math.round(LEAST_HEIGHT_MM / dh);
  if (first < 0 || first + steps > block.heights || steps <= least) return null;
  const signs = Array.from({ length: steps }, (_, n) => readSigns(block, first + n, column, bloodHu, tissueHu));
  const hinge = Math.round(hingeRadiusMm / dr);
  const score = [Float64Array.from({ length: radii }, (_, k) => (Math.abs(k - hinge) <= 2 ? 0 : UNREACHED))];
  const back = [new Int8Array(radii)];
  const side = Math.round(SIDE_MM / dr);
  for (let n = 1; n < steps; n++) {
    const wallMm = readTable(wall, column, n * dh);
    const limit = wallMm - OFF_WALL_MM * Math.min(1, (n * dh) / LEAST_HEIGHT_MM);
    const [before, beforeBack, sign] = [score[n - 1]!, back[n - 1]!, signs[n]!];
    const here = new Float64Array(radii).fill(UNREACHED);
    const from = new Int8Array(radii);
    for (let k = side; k < radii - MOST_STEPS && k * dr <= limit; k++) {
      // Beside the wall the outer side is dark for another reason.
      const outer = (k + side) * dr > wallMm - 0.5 ? Math.min(0.2, sign[k + side] ?? 0) : sign[k + side] ?? 0;
      let best = -Infinity;
      for (let d = -MOST_STEPS; d <= MOST_STEPS; d++) {
        const q = k + d;
        const bend = n > 1 ? d - beforeBack[q]! : d - 1;
        const value = before[q]! - BEND_COST * bend * bend - INWARD_COST * Math.max(0, -d);
        if (value > best) {
          best = value;
          from[k] = d;
        }
      }
      here[k] = best + sign[k]! - SIDE_SHARE * (sign[k - side]! + outer) - LEAST_SIGN;
    }
    score.push(here);
    back.push(from);
  }
  return weighEnds(score, back, signs, least, dr, dh);
}

/** How little each sample of one row is blood; calcium counts as leaflet. Mean of five columns. */
function readSigns(block: PolarBlock, row: number, column: number, bloodHu: number, tissueHu: number): Float64Array {
  const { azimuths, radii, valuesHu } = block;
  return Float64Array.from({ length: radii }, (_, k) => {
    let v = 0;
    for (let d = -2; d <= 2; d++) v += valuesHu[(row * azimuths + ((column + d + azimuths) % azimuths)) * radii + k]! / 5;
    if (v !== v) return 0;
    return v > bloodHu + CALCIUM_HU ? 1 : 1 - bloodShare(v, bloodHu, tissueHu);
  });
}

function weighEnds(score: readonly Float64Array[], back: readonly Int8Array[], signs: readonly Float64Array[], least: number, dr: number, dh: number): LeafletTrace | null {
  const ends = score.map((row) => row.indexOf(Math.max(...row)));
  const best = Math.max(...score.slice(least).map((row, i) => row[ends[i + least]!]!));
  const bestEnd = score.findIndex((row, n) => n >= least && row[ends[n]!]! === best);
  if (!(best > LEAST_SCORE) || ends[bestEnd]! * dr < AXIS_MM) return null;
  let weights = 0;
  let mean = 0;
  let square = 0;
  let clearness = 0;
  for (let n = least; n < score.length; n++) {
    const weight = Math.exp((score[n]![ends[n]!]! - best) / EVIDENCE_SCALE);
    if (weight < 1e-3) continue;
    const path: number[] = [];
    for (let m = n, k = ends[n]!; m >= 0; m--) {
      path[m] = k;
      k += back[m]![k]!;
    }
    const lengthMm = measurePath(path, dr, dh);
    weights += weight;
    mean += weight * lengthMm;
    square += weight * lengthMm * lengthMm;
    // Within 2 mm of the hinge the wall itself is dark.
    const beyond = path.slice(Math.round(2 / dh));
    clearness += (weight * beyond.reduce((sum, k, i) => sum + signs[i + Math.round(2 / dh)]![k]!, 0)) / beyond.length;
  }
  mean /= weights;
  if (!(mean >= SHORTEST_MM && mean <= LONGEST_MM)) return null;
  return { lengthMm: mean, lengthSdMm: Math.hypot(CLEAR_SD_MM, Math.sqrt(Math.max(0, square / weights - mean * mean))), clearness: clearness / weights };
}

/** Length of a path of whole radius steps, smoothed over five heights so that its stairs add nothing. */
function measurePath(path: readonly number[], dr: number, dh: number): number {
  const smooth = path.map((_, i) => {
    const near = path.slice(Math.max(0, i - 2), i + 3);
    return (dr * near.reduce((a, b) => a + b, 0)) / near.length;
  });
  let lengthMm = 0;
  for (let i = 1; i < smooth.length; i++) lengthMm += Math.hypot(dh, smooth[i]! - smooth[i - 1]!);
  return lengthMm;
}
