import { add, cross, distance, dot, scale, sub, type Vec3 } from '../math/vec3.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { findCrown, gatherCrownEvidence, type Crown, type CrownFit } from './find-crown.ts';
import { fitHinges, type Hinge } from './fit-hinges.ts';
import { findWaist } from './find-waist.ts';
import { findRayExits, findWall, medianOf, type WallMap } from './find-wall.ts';
import { samplePolarBlock, smoothPolarBlock, type PolarBlock, type PolarSpec } from './polar-block.ts';
import { refineCrown, type CrownRefinement } from './refine-crown.ts';
import { refineWall, type FineWall } from './refine-wall.ts';
import { cylinderFromLps, lpsFromCylinder, makeRootFrame, type RootFrame } from './root-frame.ts';
import type { RootCandidate } from './find-root-axis.ts';

/** Soft tissue at the coarse stage; the wall refinement measures its own. */
export const TISSUE_HU = 60;

/** Blood of the root: level on the plane, change along the axis, and the noise around both. */
export interface RootBlood {
  readonly levelHu: number;
  readonly perMmHu: number;
  readonly noiseHu: number;
}
/** One look at the root in a given frame. */
export interface RootLook {
  readonly frame: RootFrame;
  readonly block: PolarBlock;
  readonly coarse: WallMap;
  readonly wall: FineWall;
  readonly crownFit: CrownFit;
  readonly crown: CrownRefinement;
  readonly hinges: readonly Hinge[];
  readonly blood: RootBlood;
}

const AZIMUTHS = 96;

/**
 * Blood level and noise from the core of the tube above the valve and of the outflow tract.
 * Noise is the median absolute difference of samples 1.5 mm apart, scaled to a Gaussian SD.
 */
export function measureBlood(block: PolarBlock, coreMm: number): RootBlood {
  const { heights, azimuths, radii, radiusStepMm: dr, heightStepMm: dh, lowMm, valuesHu } = block;
  const levels: [number, number][] = [];
  const differences: number[] = [];
  const reach = Math.min(radii - 1, Math.round(coreMm / dr));
  const lag = Math.max(1, Math.round(1.5 / dr));
  for (let h = 0; h < heights; h += 2) {
    const core: number[] = [];
    for (let a = 0; a < azimuths; a += 4) {
      const o = (h * azimuths + a) * radii;
      for (let r = 1; r <= reach; r += 3) {
        const v = valuesHu[o + r]!;
        core.push(v);
        if (r + lag <= reach + lag) differences.push(Math.abs(v - valuesHu[o + r + lag]!));
      }
    }
    const m = medianOf(core);
    if (m === m) levels.push([lowMm + h * dh, m]);
  }
  const centre = medianOf(levels.map((l) => l[1]));
  // Heights whose core is not blood (closed leaflets, a wrong axis) are left out of the line.
  const good = levels.filter((l) => Math.abs(l[1] - centre) < 0.2 * Math.abs(centre));
  let n = 0;
  let sh = 0;
  let sv = 0;
  let shh = 0;
  let shv = 0;
  for (const [h, v] of good) {
    n++;
    sh += h;
    sv += v;
    shh += h * h;
    shv += h * v;
  }
  const spread = n * shh - sh * sh;
  const perMm = n > 10 && spread > 0 ? (n * shv - sh * sv) / spread : 0;
  return { levelHu: n > 0 ? (sv - perMm * sh) / n : NaN, perMmHu: perMm, noiseHu: (1.4826 * medianOf(differences)) / Math.SQRT2 };
}

/** Scales each height so that blood is even along the axis; soft tissue keeps its level. */
function levelBlood(block: PolarBlock, blood: RootBlood): PolarBlock {
  const values = Float32Array.from(block.valuesHu);
  const row = block.azimuths * block.radii;
  for (let h = 0; h < block.heights; h++) {
    const here = blood.levelHu + blood.perMmHu * (block.lowMm + h * block.heightStepMm);
    const gain = (blood.levelHu - TISSUE_HU) / Math.max(50, here - TISSUE_HU);
    for (let i = h * row; i < (h + 1) * row; i++) {
      const v = values[i]!;
      if (v > TISSUE_HU) values[i] = TISSUE_HU + (v - TISSUE_HU) * gain;
    }
  }
  return { ...block, valuesHu: values };
}

/**
 * Expected wall per column: a circle that follows the lumen up and down from the ring. Its centre and radius change
 * slowly, so that a run-away into the ventricle or a neighbour is held back.
 */
export function expectWall(block: PolarBlock, bloodHu: number, startHeightMm: number): Float64Array {
  const { heights, azimuths, lowMm, heightStepMm: dh } = block;
  const exits = findRayExits(block, bloodHu, TISSUE_HU, 2.5);
  const want = new Float64Array(heights * azimuths);
  const start = Math.max(0, Math.min(heights - 1, Math.round((startHeightMm - lowMm) / dh)));
  const walk = (from: number, to: number, step: 1 | -1): void => {
    let x = 0;
    let y = 0;
    let r = NaN;
    for (let h = from; step > 0 ? h <= to : h >= to; h += step) {
      const ring = exits.subarray(h * azimuths, (h + 1) * azimuths);
      const median = medianOf(ring);
      if (!(r === r)) r = median;
      let sx = 0;
      let sy = 0;
      const kept: number[] = [];
      for (let a = 0; a < azimuths; a++) {
        const t = (2 * Math.PI * a) / azimuths;
        const last = circleRadius(x, y, r, t);
        const e = ring[a]!;
        // A ray far beyond the others has leaked through a thin wall: it says nothing of the centre.
        const isLeak = !(e === e) || (e > 1.35 * median && e > 1.25 * last);
        const use = isLeak ? last : Math.max(0.6 * median, e);
        sx += (2 * use * Math.cos(t)) / azimuths;
        sy += (2 * use * Math.sin(t)) / azimuths;
        kept.push(e === e ? e : last);
      }
      const pace = 0.5 * dh;
      x += Math.max(-pace, Math.min(pace, sx - x));
      y += Math.max(-pace, Math.min(pace, sy - y));
      const target = medianOf(kept);
      const slack = (step < 0 ? 0.3 : 0.6) * dh;
      r += Math.max(-slack, Math.min(slack, target - r));
      for (let a = 0; a < azimuths; a++) {
        const t = (2 * Math.PI * a) / azimuths;
        want[h * azimuths + a] = Math.max(2, circleRadius(x, y, r, t));
      }
    }
  };
  walk(start, heights - 1, 1);
  walk(start, 0, -1);
  return want;
}

/** Distance from the origin to a circle about (x, y) in direction t; the origin lies inside. */
function circleRadius(x: number, y: number, r: number, t: number): number {
  const b = x * Math.cos(t) + y * Math.sin(t);
  return b + Math.sqrt(Math.max(0, b * b + r * r - x * x - y * y));
}

export interface LookOptions {
  readonly lowMm: number;
  readonly highMm: number;
  readonly crownLowMm: number;
  readonly crownHighMm: number;
  readonly tiltReachMm: number;
}

interface Prepared {
  readonly block: PolarBlock;
  readonly smooth: PolarBlock;
  readonly coarse: WallMap;
  readonly blood: RootBlood;
}

export function prepareLook(volume: CtVolume, frame: RootFrame, options: Pick<LookOptions, 'lowMm' | 'highMm'>, spec: Omit<PolarSpec, 'lowMm' | 'heights'>, isBasal = false): Prepared {
  const heights = Math.round((options.highMm - options.lowMm) / spec.heightStepMm) + 1;
  const sampled = samplePolarBlock(volume, frame, { ...spec, lowMm: options.lowMm, heights });
  const blood = measureBlood(sampled, 4);
  const block = levelBlood(sampled, blood);
  const smooth = smoothPolarBlock(block, 1);
  const want = expectWall(smooth, blood.levelHu, 2);
  const coarse = findWall(smooth, blood.levelHu, TISSUE_HU, want, isBasal);
  return { block, smooth, coarse, blood };
}

const ROUGH_SPEC = { heightStepMm: 1, azimuths: 48, radiusStepMm: 0.6, radii: 44 } as const;
export const FINE_SPEC = { heightStepMm: 0.5, azimuths: AZIMUTHS, radiusStepMm: 0.3, radii: 88 } as const;

export interface RoughLook {
  readonly frame: RootFrame;
  readonly block: PolarBlock;
  readonly wall: WallMap;
  readonly crownFit: CrownFit;
  readonly blood: RootBlood;
}

/** A quick look on a coarse polar grid: wall and crown, no hinges. Good to a few degrees and millimetres. */
export function glanceAtRoot(volume: CtVolume, frame: RootFrame, options: LookOptions): RoughLook {
  const { block, smooth, coarse, blood } = prepareLook(volume, frame, options, ROUGH_SPEC);
  const evidence = gatherCrownEvidence(smooth, coarse, blood.levelHu, TISSUE_HU);
  const crownFit = findCrown(evidence, options.crownLowMm, options.crownHighMm, options.tiltReachMm);
  return { frame, block, wall: coarse, crownFit, blood };
}

/** Samples, finds the wall and fits the crown and its hinges, all in one frame. `start` is a crown in this frame, if known. */
export function lookAtRoot(volume: CtVolume, frame: RootFrame, options: LookOptions, blurGuessMm: number, before: readonly Hinge[] = []): RootLook {
  const { block, smooth, coarse, blood } = prepareLook(volume, frame, options, FINE_SPEC);
  const wall = refineWall(block, coarse, blood.levelHu, blurGuessMm, blood.noiseHu);
  const evidence = gatherCrownEvidence(smooth, wall, blood.levelHu, TISSUE_HU);
  const crownFit = findCrown(evidence, options.crownLowMm, options.crownHighMm, options.tiltReachMm);
  return { frame, block, coarse, wall, crownFit, ...refitCrown(block, wall, blood.levelHu, crownFit.crown, before), blood };
}

/** Wall radius at any azimuth and height, bilinear. */
export function readWallRadius(look: { readonly block: PolarBlock; readonly wall: WallMap }, azimuthRad: number, heightMm: number): number {
  const { azimuths, heights, lowMm, heightStepMm } = look.block;
  const a = ((azimuthRad / (2 * Math.PI)) * azimuths + 16 * azimuths) % azimuths;
  const h = Math.max(0, Math.min(heights - 1.000001, (heightMm - lowMm) / heightStepMm));
  const a0 = Math.floor(a);
  const a1 = (a0 + 1) % azimuths;
  const h0 = Math.floor(h);
  const fa = a - a0;
  const fh = h - h0;
  const r = look.wall.radiusMm;
  const low = r[h0 * azimuths + (a0 % azimuths)]! * (1 - fa) + r[h0 * azimuths + a1]! * fa;
  const high = r[(h0 + 1) * azimuths + (a0 % azimuths)]! * (1 - fa) + r[(h0 + 1) * azimuths + a1]! * fa;
  return low * (1 - fh) + high * fh;
}

/** Hinges and crown once more, on a wall that is already settled: the last word on the nadirs. */
export function refitCrown(block: PolarBlock, wall: FineWall, bloodHu: number, start: Crown, before: readonly Hinge[] = []): { crown: CrownRefinement; hinges: Hinge[] } {
  let hinges = fitHinges(block, wall, start, bloodHu, TISSUE_HU, TISSUE_HU + 30, before);
  let crown = refineCrown(hinges, start);
  hinges = fitHinges(block, wall, crown.crown, bloodHu, TISSUE_HU, TISSUE_HU + 30, hinges);
  crown = refineCrown(hinges, crown.crown);
  return { crown, hinges };
}

/** Radius of the hinge at a nadir: from the hinge fits nearby, else from the wall map. */
function hingeRadius(look: RootLook, crown: Crown, i: number): number {
  const rad = crown.nadirRad[i]!;
  const near = look.hinges.filter((h) => Math.abs(Math.atan2(Math.sin(h.azimuthRad - rad), Math.cos(h.azimuthRad - rad))) < 0.25 && h.misfit < 0.15);
  const map = readWallRadius(look, rad, crown.nadirMm[i]!);
  if (near.length < 2) return map;
  const mean = near.reduce((s, h) => s + h.radiusMm, 0) / near.length;
  return Math.abs(mean - map) < 1.5 ? mean : map;
}

/**
 * The fitted hinge lies a little above the attachment: real leaflets hug the wall before they leave it.
 * How far depends on the leaflet: 0.31 mm on our seeded phantoms, whose leaflets hug the wall, 0.16 mm on independent
 * roots, whose leaflets leave at once (docs/methods/root-survey.md, "Offset"). The middle is taken and the spread is part
 * of the nadirs' SD.
 */
export const HINGE_BIAS_MM = 0.22;

export function nadirPoints(look: RootLook): Vec3[] {
  return look.crown.crown.nadirRad.map((azimuthRad, i) =>
    lpsFromCylinder(look.frame, {
      azimuthRad,
      heightMm: look.crown.crown.nadirMm[i]! - HINGE_BIAS_MM,
      radiusMm: hingeRadius(look, look.crown.crown, i),
    }),
  );
}

/** Plane through three points, normal toward `upLps`; null when they are nearly in line (checks CT-17). */
export function planeThrough(points: readonly Vec3[], upLps: Vec3): { pointLps: Vec3; normalLps: Vec3 } | null {
  const a = sub(points[1]!, points[0]!);
  const b = sub(points[2]!, points[0]!);
  const n = cross(a, b);
  const size = Math.sqrt(dot(n, n));
  if (!(size > 1e-3 * Math.sqrt(dot(a, a) * dot(b, b)))) return null;
  const normal = scale(n, (dot(n, upLps) < 0 ? -1 : 1) / size);
  return { pointLps: scale(add(add(points[0]!, points[1]!), points[2]!), 1 / 3), normalLps: normal };
}

/** Centroid of the wall where a plane cuts it. */
export function ringCentre(look: { readonly frame: RootFrame; readonly block: PolarBlock; readonly wall: WallMap }, plane: { pointLps: Vec3; normalLps: Vec3 }): Vec3 {
  let sum: Vec3 = [0, 0, 0];
  let area = 0;
  let previous: Vec3 | null = null;
  const origin = plane.pointLps;
  for (let i = 0; i <= AZIMUTHS; i++) {
    const azimuthRad = (2 * Math.PI * i) / AZIMUTHS;
    let heightMm = cylinderFromLps(look.frame, origin).heightMm;
    let p: Vec3 = origin;
    for (let k = 0; k < 6; k++) {
      p = lpsFromCylinder(look.frame, { azimuthRad, heightMm, radiusMm: readWallRadius(look, azimuthRad, heightMm) });
      heightMm -= dot(sub(p, origin), plane.normalLps) / Math.max(0.3, dot(look.frame.normalLps, plane.normalLps));
    }
    if (previous) {
      const e = cross(sub(previous, origin), sub(p, origin));
      const w = dot(e, plane.normalLps) / 2;
      area += w;
      sum = add(sum, scale(add(add(previous, p), origin), w / 3));
    }
    previous = p;
  }
  return Math.abs(area) > 1 ? scale(sum, 1 / area) : origin;
}

function crownPoints(look: RoughLook): Vec3[] {
  const { crown } = look.crownFit;
  return crown.nadirRad.map((azimuthRad, i) =>
    lpsFromCylinder(look.frame, { azimuthRad, heightMm: crown.nadirMm[i]!, radiusMm: readWallRadius(look, azimuthRad, crown.nadirMm[i]!) }),
  );
}

export function turnFrame(look: RoughLook | RootLook, points: readonly Vec3[]): RootFrame | null {
  const plane = planeThrough(points, look.frame.normalLps);
  if (!plane || dot(plane.normalLps, look.frame.normalLps) < 0.6) return null;
  return makeRootFrame(ringCentre(look, plane), plane.normalLps, add(look.frame.originLps, look.frame.uLps));
}

export interface Glance {
  readonly frame: RootFrame;
  readonly score: number;
}

/** The root lies within this of a candidate's waist; a crown found farther off belongs to something else. */
const DRIFT_MM = 24;
/** Blood on the axis pales little between vessel and ventricle; half as bright, the axis runs through something else. */
const LEAST_LIKENESS = 0.5;
/** A crown as clear as this needs no look the other way: upside down, a root has not been seen to score above 1.2. */
const CLEAR_SCORE = 1.25;

/**
 * Two glances from each start of a candidate: its narrowest cut, and the candidate itself where that leads elsewhere.
 * Which way is up the crown tells, not the table: unless it is clear at once, the other way is looked at too.
 * Best crown first; empty when no plausible plane comes out.
 */
export function glanceAtCandidate(volume: CtVolume, candidate: RootCandidate): Glance[] {
  const waist = findWaist(volume, candidate.ringCentreLps, candidate.axisLps, candidate.bloodHu, TISSUE_HU);
  const near = makeRootFrame(candidate.ringCentreLps, candidate.axisLps);
  const first = waist ? makeRootFrame(waist.centreLps, waist.axisLps) : near;
  const glances: Glance[] = [];
  const tryFrom = (start: RootFrame): void => {
    const glance = glanceTwice(volume, start, candidate.bloodHu);
    if (!glance || distance(glance.frame.originLps, candidate.ringCentreLps) > DRIFT_MM) return;
    const isKnown = glances.some(
      (g) => distance(g.frame.originLps, glance.frame.originLps) < 2 && dot(g.frame.normalLps, glance.frame.normalLps) > 0.995,
    );
    if (!isKnown) glances.push(glance);
  };
  tryFrom(first);
  if (waist) tryFrom(near);
  if (!glances.some((g) => g.score > CLEAR_SCORE)) tryFrom(makeRootFrame(first.originLps, scale(first.normalLps, -1)));
  return glances.sort((a, b) => b.score - a.score);
}

const WIDE = { lowMm: -16, highMm: 46, crownLowMm: -6, crownHighMm: 22, tiltReachMm: 5 } as const;
const CLOSE = { lowMm: -16, highMm: 34, crownLowMm: -5, crownHighMm: 5, tiltReachMm: 4 } as const;

function glanceTwice(volume: CtVolume, start: RootFrame, tubeHu: number): Glance | null {
  const wide = glanceOnce(volume, start, tubeHu, WIDE);
  return wide && glanceOnce(volume, wide.frame, tubeHu, CLOSE);
}

function glanceOnce(volume: CtVolume, start: RootFrame, tubeHu: number, options: LookOptions): Glance | null {
  const look = glanceAtRoot(volume, start, options);
  if (!(look.blood.levelHu > 100 && look.blood.levelHu > LEAST_LIKENESS * tubeHu)) return null;
  const frame = turnFrame(look, crownPoints(look));
  return frame && { frame, score: look.crownFit.score };
}

/**
 * Fine looks until the frame stands on the nadirs: stops when the plane moves less than 0.3 degrees and 0.15 mm,
 * at most `rounds` times.
 */
export function settleRoot(volume: CtVolume, start: RootFrame, rounds: number, blurGuessMm: number): RootLook | null {
  let frame = start;
  let look: RootLook | null = null;
  let blur = blurGuessMm;
  for (let n = 0; n < rounds; n++) {
    const reach = n === 0 ? 4 : 2;
    look = lookAtRoot(volume, frame, { lowMm: -16, highMm: 34, crownLowMm: -reach, crownHighMm: reach, tiltReachMm: reach - 1 }, blur, look?.hinges);
    if (!(look.blood.levelHu > 100)) return null;
    blur = look.wall.blurMm;
    const next = turnFrame(look, nadirPoints(look));
    if (!next) return null;
    const turn = Math.acos(Math.min(1, dot(next.normalLps, frame.normalLps)));
    if (turn < 0.005 && distance(next.originLps, frame.originLps) < 0.15) break;
    if (n < rounds - 1) frame = next;
  }
  return look;
}
