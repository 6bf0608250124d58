import { bridgeMouth, type MouthWall } from './bridge-mouth.ts';
import { bloodShare } from './find-wall.ts';
import type { WallTable } from './find-junction.ts';
import type { PolarBlock } from './polar-block.ts';

/** An opening in the wall through which blood runs outward. */
export interface Opening {
  readonly azimuthRad: number;
  readonly heightMm: number;
  readonly radiusMm: number;
  /** Area of the opening on the wall. */
  readonly areaMm2: number;
  readonly lowerEdgeMm: number;
  /** Mean blood share along the first millimetres outside the wall, 0 to 1. */
  readonly strength: number;
}

/** Depths over which an artery must show, from just inside the wall outward. */
const FROM_MM = -0.3;
const THROUGH_MM = 3.2;
const DEPTH_STEP_MM = 0.35;
/** An artery leaves at up to 42 degrees off the wall's normal, along it and around it. */
const SLANTS = [-0.9, -0.45, 0, 0.45, 0.9];
/** Openness is the mean of the darkest samples on the way out, not the darkest one: noise must not close a thin artery. */
const DARKEST = 4;
/** Patch limits (the next one where a patch is too large), least peak, and least mean blood share beyond the wall, set on phantoms (docs/methods/root-survey.md, "Ostia"). */
const PATCH_SHARES = [0.4, 0.55, 0.7, 0.82] as const;
const PEAK_SHARE = 0.5;
const LEAST_AREA_MM2 = 1;
const MOST_AREA_MM2 = 60;
const OUTSIDE_SHARE = 0.35;
/** Where no neighbour shows this much blood outside the wall no way out is looked for. */
const LOOK_SHARE = 0.3;

/** Wall without its openings: at each height the running median over azimuth, so that an ostium does not dent it. */
function bridgeWall(table: WallTable): Float64Array {
  const { radiusMm, heights, azimuths } = table;
  const reach = Math.round(azimuths / 14);
  const out = new Float64Array(radiusMm.length);
  for (let h = 0; h < heights; h++) {
    const row = new Float64Array(azimuths);
    for (let a = 0; a < azimuths; a++) {
      // Median of the deviation from a smooth ring keeps lobes, drops dents narrower than the window.
      const near: number[] = [];
      for (let d = -reach; d <= reach; d++) near.push(radiusMm[h * azimuths + ((a + d + azimuths) % azimuths)]!);
      near.sort((x, y) => x - y);
      row[a] = Math.min(radiusMm[h * azimuths + a]!, near[reach]! + 0.4);
    }
    out.set(row, h * azimuths);
  }
  return out;
}

const MOUTH_REACH_MM = 3.5;
const NEAR_MM = 1;
const FAR_MM = 2.6;
/** A mouth farther than this from the middle of its patch belongs to something else that runs into it. */
const FARTHEST_MM = 2;

/**
 * Centre of the artery where it leaves the wall: its centres 1 and 2.6 mm outside the bridged wall, drawn back to it,
 * since an artery leaves at an angle. Null when either cut shows no blood.
 */
function traceMouth(block: PolarBlock, wall: MouthWall, rad: number, heightMm: number, radiusMm: number, bloodHu: number, tissueHu: number): { azimuthRad: number; heightMm: number; radiusMm: number } | null {
  const { heights, azimuths, radii, radiusStepMm: dr, heightStepMm: dh, lowMm, valuesHu } = block;
  const centreAt = (depthMm: number): { arc: number; height: number } | null => {
    let w = 0;
    let arcs = 0;
    let rows = 0;
    const reach = Math.ceil(MOUTH_REACH_MM / dh);
    const row = Math.round((heightMm - lowMm) / dh);
    for (let h = Math.max(0, row - reach); h <= Math.min(heights - 1, row + reach); h++) {
      for (let a = 0; a < azimuths; a++) {
        const turn = (2 * Math.PI * a) / azimuths - rad;
        const arc = radiusMm * Math.atan2(Math.sin(turn), Math.cos(turn));
        if (Math.hypot(arc, (h - row) * dh) > MOUTH_REACH_MM) continue;
        const k = Math.round((wall(arc, lowMm + h * dh - heightMm) + depthMm) / dr);
        if (!(k >= 0 && k < radii)) continue;
        const share = bloodShare(valuesHu[(h * azimuths + a) * radii + k]!, bloodHu, tissueHu) - 0.4;
        if (!(share > 0)) continue;
        w += share;
        arcs += share * arc;
        rows += share * (lowMm + h * dh);
      }
    }
    return w > 1 ? { arc: arcs / w, height: rows / w } : null;
  };
  const near = centreAt(NEAR_MM);
  const far = centreAt(FAR_MM);
  if (!near || !far) return null;
  const back = NEAR_MM / (FAR_MM - NEAR_MM);
  const limit = (v: number): number => Math.max(-1.2, Math.min(1.2, v));
  const arc = near.arc + limit(back * (near.arc - far.arc));
  const mouthMm = near.height + limit(back * (near.height - far.height));
  if (Math.hypot(arc, mouthMm - heightMm) > FARTHEST_MM) return null;
  return { azimuthRad: rad + arc / radiusMm, heightMm: mouthMm, radiusMm: wall(arc, mouthMm - heightMm) };
}

const AROUND_LOW_MM = 3.5;
const AROUND_HIGH_MM = 5.5;
const LEAST_LEAD = 0.25;

/** Mean blood share outside the wall in a ring around a place on it. */
function meanAround(mean: Float64Array, table: WallTable, block: PolarBlock, rad: number, heightMm: number, radiusMm: number, first: number, last: number): number {
  const reachRows = Math.ceil(AROUND_HIGH_MM / block.heightStepMm);
  const row = Math.round((heightMm - block.lowMm) / block.heightStepMm);
  let sum = 0;
  let n = 0;
  for (let h = Math.max(first, row - reachRows); h <= Math.min(last, row + reachRows); h++) {
    for (let a = 0; a < table.azimuths; a++) {
      const turn = (2 * Math.PI * a) / table.azimuths - rad;
      const arc = radiusMm * Math.atan2(Math.sin(turn), Math.cos(turn));
      const d = Math.hypot(arc, (h - row) * block.heightStepMm);
      if (d < AROUND_LOW_MM || d > AROUND_HIGH_MM) continue;
      sum += mean[h * table.azimuths + a]!;
      n++;
    }
  }
  return n > 0 ? sum / n : 0;
}

/** Mean blood share straight outward from 1 mm beyond the wall to THROUGH_MM, per column between two rows. */
function meanOutside(block: PolarBlock, bridged: Float64Array, bloodHu: number, tissueHu: number, first: number, last: number): Float64Array {
  const { azimuths, radii, radiusStepMm: dr, valuesHu } = block;
  const mean = new Float64Array(bridged.length);
  for (let c = first * azimuths; c < (last + 1) * azimuths; c++) {
    const from = Math.round((bridged[c]! + NEAR_MM) / dr);
    const to = Math.round((bridged[c]! + THROUGH_MM) / dr);
    let sum = 0;
    for (let r = from; r <= Math.min(to, radii - 1); r++) sum += bloodShare(valuesHu[c * radii + r]!, bloodHu, tissueHu);
    mean[c] = sum / (to - from + 1);
  }
  return mean;
}

/** Sum of the smallest DARKEST entries of a short list, which is sorted in place as far as needed. */
function meanOfDarkest(shares: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < DARKEST; i++) {
    let least = i;
    for (let k = i + 1; k < shares.length; k++) if (shares[k]! < shares[least]!) least = k;
    const v = shares[least]!;
    shares[least] = shares[i]!;
    shares[i] = v;
    sum += v;
  }
  return sum / DARKEST;
}

/** How open the best slanted way out is at each place of the wall, 0 to 1, smoothed over 3 x 3 places. */
function findOpenness(block: PolarBlock, bridged: Float64Array, mean: Float64Array, bloodHu: number, tissueHu: number, first: number, last: number): Float64Array {
  const { heights, azimuths, radii, radiusStepMm: dr, heightStepMm: dh, valuesHu } = block;
  const open = new Float64Array(bridged.length);
  const steps = Math.floor((THROUGH_MM - FROM_MM) / DEPTH_STEP_MM) + 1;
  const shares = new Float64Array(steps);
  const isWorth = (h: number, a: number): boolean => {
    for (let g = Math.max(first, h - 2); g <= Math.min(last, h + 2); g++) {
      for (let e = -1; e <= 1; e++) if (mean[g * azimuths + ((a + e + azimuths) % azimuths)]! >= LOOK_SHARE) return true;
    }
    return false;
  };
  for (let h = first; h <= last; h++) {
    for (let a = 0; a < azimuths; a++) {
      if (!isWorth(h, a)) continue;
      const wall = bridged[h * azimuths + a]!;
      const perMm = azimuths / (2 * Math.PI * wall);
      let best = 0;
      for (const up of SLANTS) {
        for (const around of SLANTS) {
          for (let i = 0; i < steps; i++) {
            const d = FROM_MM + i * DEPTH_STEP_MM;
            const g = Math.round(h + (up * d) / dh);
            const k = Math.round((wall + d) / dr);
            const column = (((Math.round(a + around * d * perMm) % azimuths) + azimuths) % azimuths);
            shares[i] = g < 0 || g >= heights || k >= radii ? 0 : bloodShare(valuesHu[(g * azimuths + column) * radii + k]!, bloodHu, tissueHu);
          }
          best = Math.max(best, meanOfDarkest(shares));
        }
      }
      open[h * azimuths + a] = best;
    }
  }
  const smooth = new Float64Array(open.length);
  for (let h = first; h <= last; h++) {
    for (let a = 0; a < azimuths; a++) {
      let sum = 0;
      let w = 0;
      for (let d = -1; d <= 1; d++) {
        for (let e = -1; e <= 1; e++) {
          const g = Math.max(first, Math.min(last, h + d));
          const q = (2 - Math.abs(d)) * (2 - Math.abs(e));
          sum += q * open[g * azimuths + ((a + e + azimuths) % azimuths)]!;
          w += q;
        }
      }
      smooth[h * azimuths + a] = sum / w;
    }
  }
  return smooth;
}

/** Connected places at or above the lowest patch limit that keeps them from running together into more than an artery. */
function listPatches(smooth: Float64Array, areaOf: (cell: number) => number, azimuths: number, first: number, last: number): number[][] {
  const patches: number[][] = [];
  let isLeft = new Uint8Array(smooth.length).fill(1);
  for (const limit of PATCH_SHARES) {
    const isTooLarge = new Uint8Array(smooth.length);
    for (let seed = first * azimuths; seed < (last + 1) * azimuths; seed++) {
      if (!isLeft[seed] || smooth[seed]! < limit) continue;
      const stack = [seed];
      isLeft[seed] = 0;
      const members: number[] = [];
      let area = 0;
      while (stack.length > 0) {
        const c = stack.pop()!;
        members.push(c);
        area += areaOf(c);
        const h = Math.floor(c / azimuths);
        const a = c % azimuths;
        for (const [d, e] of [[1, 0], [-1, 0], [0, 1], [0, -1]] as const) {
          const g = h + d;
          if (g < first || g > last) continue;
          const n = g * azimuths + ((a + e + azimuths) % azimuths);
          if (!isLeft[n] || smooth[n]! < limit) continue;
          isLeft[n] = 0;
          stack.push(n);
        }
      }
      if (area <= MOST_AREA_MM2) patches.push(members);
      else for (const c of members) isTooLarge[c] = 1;
    }
    isLeft = isTooLarge;
  }
  return patches;
}

/**
 * Openings between two heights: places where blood continues through the wall for THROUGH_MM, straight or slanted,
 * as connected patches of 1 to 60 mm2 on the wall. A chamber lying against the wall is parted from it by the wall.
 * Shape     strongest first
 * Accuracy  docs/methods/root-survey.md, "Ostia"
 */
export function findOpenings(block: PolarBlock, table: WallTable, bloodHu: number, tissueHu: number, lowMm: number, highMm: number): Opening[] {
  const { heights, azimuths, heightStepMm: dh } = block;
  const bridged = bridgeWall(table);
  const first = Math.max(0, Math.round((lowMm - block.lowMm) / dh));
  const last = Math.min(heights - 1, table.heights - 1, Math.round((highMm - block.lowMm) / dh));
  const mean = meanOutside(block, bridged, bloodHu, tissueHu, first, last);
  const smooth = findOpenness(block, bridged, mean, bloodHu, tissueHu, first, last);
  const areaOf = (c: number): number => ((2 * Math.PI * bridged[c]!) / azimuths) * dh;
  const found: Opening[] = [];
  for (const members of listPatches(smooth, areaOf, azimuths, first, last)) {
    let w = 0;
    let x = 0;
    let y = 0;
    let z = 0;
    let r = 0;
    let strength = 0;
    let area = 0;
    let low = Infinity;
    let peak = 0;
    let brightest = 0;
    for (const c of members) brightest = Math.max(brightest, mean[c]!);
    for (const c of members) {
      const share = (smooth[c]! - 0.8 * PATCH_SHARES[0]) * mean[c]!;
      const t = (2 * Math.PI * (c % azimuths)) / azimuths;
      const height = block.lowMm + Math.floor(c / azimuths) * dh;
      w += share;
      x += share * Math.cos(t);
      y += share * Math.sin(t);
      z += share * height;
      r += share * bridged[c]!;
      strength += share * mean[c]!;
      peak = Math.max(peak, smooth[c]!);
      // Slanted ways out widen the patch: the opening itself is where blood runs straight out at half strength.
      if (mean[c]! < 0.5 * brightest) continue;
      area += areaOf(c);
      low = Math.min(low, height);
    }
    if (area < LEAST_AREA_MM2 || peak < PEAK_SHARE || !(w > 0)) continue;
    // An artery lies in fat: around the opening there is no blood outside the wall. Beside a chamber there is.
    if (strength / w < OUTSIDE_SHARE) continue;
    const around = meanAround(mean, table, block, Math.atan2(y, x), z / w, r / w, first, last);
    if (strength / w - around < LEAST_LEAD) continue;
    const middle = { azimuthRad: Math.atan2(y, x), heightMm: z / w, radiusMm: r / w };
    const wall = bridgeMouth(table, members.filter((c) => mean[c]! >= 0.5 * brightest), middle);
    const mouth = wall && traceMouth(block, wall, middle.azimuthRad, middle.heightMm, middle.radiusMm, bloodHu, tissueHu);
    found.push({
      azimuthRad: mouth?.azimuthRad ?? middle.azimuthRad,
      heightMm: mouth?.heightMm ?? middle.heightMm,
      radiusMm: mouth?.radiusMm ?? middle.radiusMm,
      areaMm2: area,
      lowerEdgeMm: Number.isFinite(low) ? low : z / w,
      strength: strength / w,
    });
  }
  return found.sort((p, q) => q.strength * Math.min(q.areaMm2, 12) - p.strength * Math.min(p.areaMm2, 12));
}

