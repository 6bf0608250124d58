import { bloodShare, type WallMap } from './find-wall.ts';
import type { PolarBlock } from './polar-block.ts';

/**
 * Crown: the curve on the wall along which the leaflets are attached. One low point (nadir) per cusp, one high point
 * (commissure) between cusps; between them height rises with the square of the way (docs/methods/root-survey.md, "Crown").
 * Angles rad in the frame of the block, heights mm. Three entries, counter-clockwise; commissure i follows nadir i.
 */
export interface Crown {
  readonly nadirRad: readonly number[];
  readonly nadirMm: readonly number[];
  readonly commissureRad: readonly number[];
  readonly commissureMm: readonly number[];
}

const TURN = 2 * Math.PI;
const wrap = (a: number): number => a - TURN * Math.floor(a / TURN);

/** Height of the crown at an azimuth. */
export function readCrown(crown: Crown, azimuthRad: number): number {
  for (let i = 0; i < 3; i++) {
    const fromNadir = wrap(azimuthRad - crown.nadirRad[i]!);
    const toCommissure = wrap(crown.commissureRad[i]! - crown.nadirRad[i]!);
    if (fromNadir <= toCommissure) {
      const s = fromNadir / toCommissure;
      return crown.nadirMm[i]! + (crown.commissureMm[i]! - crown.nadirMm[i]!) * s * s;
    }
    const next = (i + 1) % 3;
    const fromCommissure = wrap(azimuthRad - crown.commissureRad[i]!);
    const toNadir = wrap(crown.nadirRad[next]! - crown.commissureRad[i]!);
    if (fromCommissure <= toNadir) {
      const s = 1 - fromCommissure / toNadir;
      return crown.nadirMm[next]! + (crown.commissureMm[i]! - crown.nadirMm[next]!) * s * s;
    }
  }
  return crown.nadirMm[0]!;
}

/** Evidence that a leaflet is attached at (height, azimuth): index h * azimuths + a; larger is better. */
export interface CrownEvidence {
  readonly values: Float32Array;
  readonly heights: number;
  readonly azimuths: number;
  readonly lowMm: number;
  readonly heightStepMm: number;
}

const KINK_MM = 3;
const DEPTH_LOW_MM = 0.8;
const DEPTH_HIGH_MM = 3;

/**
 * Two signs of an attachment, both onsets upward along the wall: the wall turns outward (a sinus begins), and
 * darkness appears just inside the wall (a leaflet leaves it).
 */
export function gatherCrownEvidence(block: PolarBlock, wall: WallMap, bloodHu: number, tissueHu: number): CrownEvidence {
  const { heights, azimuths, radii, radiusStepMm: dr, heightStepMm: dh, valuesHu } = block;
  const radius = wall.radiusMm;
  const dark = new Float64Array(heights * azimuths);
  for (let c = 0; c < dark.length; c++) {
    const from = Math.max(0, Math.round((radius[c]! - DEPTH_HIGH_MM) / dr));
    const to = Math.max(from + 1, Math.round((radius[c]! - DEPTH_LOW_MM) / dr));
    let sum = 0;
    for (let r = from; r < to; r++) sum += 1 - bloodShare(valuesHu[c * radii + Math.min(radii - 1, r)]!, bloodHu, tissueHu);
    dark[c] = sum / (to - from);
  }
  const values = new Float32Array(heights * azimuths);
  const k = Math.round(KINK_MM / dh);
  const at = (m: ArrayLike<number>, h: number, a: number): number =>
    m[Math.max(0, Math.min(heights - 1, h)) * azimuths + a]!;
  for (let h = 0; h < heights; h++) {
    for (let a = 0; a < azimuths; a++) {
      const kink = at(radius, h + k, a) - 2 * at(radius, h, a) + at(radius, h - k, a);
      let above = 0;
      let below = 0;
      for (let t = 0.5; t <= 2.5; t += 0.5) {
        above += at(dark, h + Math.round(t / dh), a) / 5;
        below += at(dark, h - Math.round((t + 0.5) / dh), a) / 5;
      }
      values[h * azimuths + a] = 0.5 * Math.max(-1.5, Math.min(2.5, kink)) + 2.5 * (above - below);
    }
  }
  return { values, heights, azimuths, lowMm: block.lowMm, heightStepMm: dh };
}

function scoreCrown(e: CrownEvidence, crown: Crown): number {
  let sum = 0;
  for (let a = 0; a < e.azimuths; a += 2) {
    const f = (readCrown(crown, (TURN * a) / e.azimuths) - e.lowMm) / e.heightStepMm;
    const h = Math.floor(f);
    if (h < 0 || h >= e.heights - 1) {
      sum -= 1;
      continue;
    }
    const w = f - h;
    sum += e.values[h * e.azimuths + a]! * (1 - w) + e.values[(h + 1) * e.azimuths + a]! * w;
  }
  return (2 * sum) / e.azimuths;
}

const makeRegular = (turn: number, offset: number, tiltX: number, tiltY: number, rise: number): Crown => {
  const plane = (rad: number): number => offset + tiltX * Math.cos(rad) + tiltY * Math.sin(rad);
  const nadirRad = [0, 1, 2].map((i) => wrap(turn + (i * TURN) / 3));
  const commissureRad = nadirRad.map((n) => wrap(n + TURN / 6));
  return {
    nadirRad,
    nadirMm: nadirRad.map(plane),
    commissureRad,
    commissureMm: commissureRad.map((c) => plane(c) + rise),
  };
};

export interface CrownFit {
  readonly crown: Crown;
  readonly score: number;
  /** Best score among crowns turned by at least 30 degrees: how much better the chosen one explains the wall. */
  readonly rivalScore: number;
}

/**
 * Global search over turned, shifted and tilted regular crowns, then coordinate ascent over all twelve numbers.
 * `tiltReachMm`: how far a nadir may lie off the block's plane z = 0 by tilt.
 */
export function findCrown(e: CrownEvidence, lowMm: number, highMm: number, tiltReachMm: number): CrownFit {
  const starts: { crown: Crown; score: number; turn: number }[] = [];
  const tilts = [-1, -0.5, 0, 0.5, 1].map((t) => t * tiltReachMm);
  for (let turn = 0; turn < TURN / 3 - 1e-9; turn += TURN / 72) {
    let best: { crown: Crown; score: number; turn: number } | null = null;
    for (let offset = lowMm; offset <= highMm; offset += 1) {
      for (const x of tilts) {
        for (const y of tilts) {
          if (Math.hypot(x, y) > 1.05 * tiltReachMm) continue;
          for (const rise of [11, 16]) {
            const crown = makeRegular(turn, offset, x, y, rise);
            const score = scoreCrown(e, crown) - 0.02 * (Math.hypot(x, y) / Math.max(1, tiltReachMm));
            if (!best || score > best.score) best = { crown, score, turn };
          }
        }
      }
    }
    starts.push(best!);
  }
  starts.sort((a, b) => b.score - a.score);
  const ascended = starts.slice(0, 4).map((s) => ascendCrown(e, s.crown, s.score));
  ascended.sort((a, b) => b.score - a.score);
  const chosen = ascended[0]!;
  const rival = starts.find((s) => turnBetween(s.crown, chosen.crown) > TURN / 14);
  return { crown: chosen.crown, score: chosen.score, rivalScore: rival ? rival.score : -Infinity };
}

/** Smallest turn that brings one crown's nadirs onto the other's, averaged. */
function turnBetween(a: Crown, b: Crown): number {
  let sum = 0;
  for (const n of a.nadirRad) {
    sum += Math.min(...b.nadirRad.map((m) => Math.min(wrap(n - m), wrap(m - n)))) / 3;
  }
  return sum;
}

function ascendCrown(e: CrownEvidence, start: Crown, startScore: number): { crown: Crown; score: number } {
  let p = [...start.nadirRad, ...start.nadirMm, ...start.commissureRad, ...start.commissureMm];
  const build = (q: readonly number[]): Crown => ({
    nadirRad: q.slice(0, 3),
    nadirMm: q.slice(3, 6),
    commissureRad: q.slice(6, 9),
    commissureMm: q.slice(9, 12),
  });
  const isSound = (c: Crown): boolean => {
    for (let i = 0; i < 3; i++) {
      const half = wrap(c.commissureRad[i]! - c.nadirRad[i]!);
      const other = wrap(c.nadirRad[(i + 1) % 3]! - c.commissureRad[i]!);
      // Each half of a cusp spans 25 to 95 degrees and rises 6 to 24 mm.
      if (half < 0.44 || half > 1.66 || other < 0.44 || other > 1.66) return false;
      const rises = [c.commissureMm[i]! - c.nadirMm[i]!, c.commissureMm[i]! - c.nadirMm[(i + 1) % 3]!];
      if (rises.some((r) => r < 6 || r > 24)) return false;
    }
    return true;
  };
  let score = startScore;
  for (const [rad, mm] of [[0.14, 1.5], [0.07, 0.8], [0.035, 0.4], [0.02, 0.2]] as const) {
    for (let round = 0; round < 6; round++) {
      let isMoved = false;
      for (let k = 0; k < 12; k++) {
        const isAngle = k < 3 || (k >= 6 && k < 9);
        for (const sign of [1, -1]) {
          const q = [...p];
          q[k]! += sign * (isAngle ? rad : mm);
          const crown = build(q);
          if (!isSound(crown)) continue;
          const s = scoreCrown(e, crown);
          if (s > score + 1e-9) {
            score = s;
            p = q;
            isMoved = true;
          }
        }
      }
      if (!isMoved) break;
    }
  }
  return { crown: build(p), score };
}
