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

const THROUGH_MM = 3.2;
const SHARE = 0.5;

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

/**
 * Centre of the artery where it leaves the wall: its centres 1 and 2.6 mm outside, drawn back to the wall, since an
 * artery leaves at an angle. Null when either cut shows no blood.
 */
function traceMouth(block: PolarBlock, bridged: Float64Array, rad: number, heightMm: number, radiusMm: number, bloodHu: number, tissueHu: number): { azimuthRad: number; heightMm: number } | null {
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
        const k = Math.round((bridged[h * azimuths + a]! + depthMm) / dr);
        if (k >= radii) continue;
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
  return {
    azimuthRad: rad + (near.arc + limit(back * (near.arc - far.arc))) / radiusMm,
    heightMm: near.height + limit(back * (near.height - far.height)),
  };
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

/**
 * Openings between two heights: places where blood continues through the wall for THROUGH_MM without a dark wall between,
 * as connected patches of 1 to 60 mm2 on the wall. A chamber lying against the wall is parted from it by the wall.
 * Shape     strongest first
 * Accuracy  docs/methods/root-survey.md, "Ostia"
 */
export function findOpenings(block: PolarBlock, table: WallTable, bloodHu: number, tissueHu: number, lowMm: number, highMm: number): Opening[] {
  const { heights, azimuths, radii, radiusStepMm: dr, heightStepMm: dh, valuesHu } = block;
  const bridged = bridgeWall(table);
  const through = new Float64Array(heights * azimuths);
  const mean = new Float64Array(heights * azimuths);
  const first = Math.max(0, Math.round((lowMm - block.lowMm) / dh));
  const last = Math.min(heights - 1, Math.round((highMm - block.lowMm) / dh));
  for (let h = first; h <= last; h++) {
    for (let a = 0; a < azimuths; a++) {
      const c = h * azimuths + a;
      const from = Math.round((bridged[c]! - 0.3) / dr);
      const to = Math.round((bridged[c]! + THROUGH_MM) / dr);
      let least = 1;
      let sum = 0;
      for (let r = from; r <= to; r++) {
        const b = r < radii ? bloodShare(valuesHu[c * radii + r]!, bloodHu, tissueHu) : 0;
        least = Math.min(least, b);
        sum += b / (to - from + 1);
      }
      through[c] = least;
      mean[c] = sum;
    }
  }
  const smooth = new Float64Array(through.length);
  for (let h = first; h <= last; h++) {
    for (let a = 0; a < azimuths; a++) {
      let sum = 0;
      let w = 0;
      for (let d = -1; d <= 1; d++) {
        for (let e = -1; e <= 1; e++) {
          const g = Math.max(first, Math.min(last, h + d));
          const q = (2 - Math.abs(d)) * (2 - Math.abs(e));
          sum += q * through[g * azimuths + ((a + e + azimuths) % azimuths)]!;
          w += q;
        }
      }
      smooth[h * azimuths + a] = sum / w;
    }
  }
  const seen = new Uint8Array(smooth.length);
  const found: Opening[] = [];
  for (let h = first; h <= last; h++) {
    for (let a = 0; a < azimuths; a++) {
      const seed = h * azimuths + a;
      if (seen[seed] || smooth[seed]! < SHARE * 0.7) continue;
      const stack = [seed];
      seen[seed] = 1;
      const members: number[] = [];
      while (stack.length > 0) {
        const c = stack.pop()!;
        members.push(c);
        const ch = Math.floor(c / azimuths);
        const ca = c % azimuths;
        for (const [d, e] of [[1, 0], [-1, 0], [0, 1], [0, -1]] as const) {
          const g = ch + d;
          if (g < first || g > last) continue;
          const n = g * azimuths + ((ca + e + azimuths) % azimuths);
          if (!seen[n] && smooth[n]! >= SHARE * 0.7) {
            seen[n] = 1;
            stack.push(n);
          }
        }
      }
      let w = 0;
      let x = 0;
      let y = 0;
      let z = 0;
      let r = 0;
      let strength = 0;
      let area = 0;
      let low = Infinity;
      let peak = 0;
      for (const c of members) {
        const share = smooth[c]! - SHARE * 0.6;
        const t = (2 * Math.PI * (c % azimuths)) / azimuths;
        const height = block.lowMm + Math.floor(c / azimuths) * dh;
        w += share;
        x += share * Math.cos(t);
        y += share * Math.sin(t);
        z += share * height;
        r += share * bridged[c]!;
        strength += share * mean[c]!;
        peak = Math.max(peak, smooth[c]!);
        area += ((2 * Math.PI * bridged[c]!) / azimuths) * dh;
        if (smooth[c]! >= SHARE * 0.8) low = Math.min(low, height);
      }
      if (area < 1 || area > 60 || peak < SHARE || !(w > 0)) continue;
      // An artery lies in fat: around the opening there is no blood outside the wall. Beside a chamber there is.
      const around = meanAround(mean, table, block, Math.atan2(y, x), z / w, r / w, first, last);
      if (strength / w - around < LEAST_LEAD) continue;
      const mouth = traceMouth(block, bridged, Math.atan2(y, x), z / w, r / w, bloodHu, tissueHu);
      found.push({
        azimuthRad: mouth?.azimuthRad ?? Math.atan2(y, x),
        heightMm: mouth?.heightMm ?? z / w,
        radiusMm: r / w,
        areaMm2: area,
        lowerEdgeMm: Number.isFinite(low) ? low : z / w,
        strength: strength / w,
      });
    }
  }
  return found.sort((p, q) => q.strength * Math.min(q.areaMm2, 12) - p.strength * Math.min(p.areaMm2, 12));
}

