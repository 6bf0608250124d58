import { along, scale, sub, type Vec3 } from '../math/vec3.ts';
import type { Result } from '../result.ts';
import { makeCoarseField } from '../volume/coarse-field.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { compareLobes, seekRegularCrown, type LobeComparison } from './compare-lobes.ts';
import { gatherCrownEvidence, type CrownEvidence } from './find-crown.ts';
import { findRootCandidates, type RootCandidate } from './find-root-axis.ts';
import type { Tube } from './find-tubes.ts';
import { findWaist } from './find-waist.ts';
import { FINE_SPEC, prepareLook, TISSUE_HU } from './locate-root.ts';
import { isTwoLobed, refuseTwoCusps } from './refuse-two-cusps.ts';
import { makeRootFrame, type RootFrame } from './root-frame.ts';

const ROUGH_SPEC = { heightStepMm: 1, azimuths: 48, radiusStepMm: 0.6, radii: 44 } as const;
/** First far and wide, then about the plane that came out. */
const ROUNDS = [
  { lowMm: -16, highMm: 46, offsetsMm: [-6, -4, -2, 0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20], tiltsMm: [-5, -2.5, 0, 2.5, 5] },
  { lowMm: -16, highMm: 34, offsetsMm: [-4, -3, -2, -1, 0, 1, 2, 3, 4], tiltsMm: [-3, -1.5, 0, 1.5, 3] },
  { lowMm: -16, highMm: 34, offsetsMm: [-2, -1, 0, 1, 2], tiltsMm: [-2, -1, 0, 1, 2] },
] as const;
/** Radius at which the tilt of a crown is read. */
const WALL_MM = 12;
const MOST_CANDIDATES = 3;

/**
 * Where no crown of three cusps was settled: does one of two fit? Each number of cusps turns and moves the plane to
 * suit itself, so that neither is judged on the other's plane.
 * Shape     best scores over the candidates; waves of the bulge where two cusps fitted best; null without contrast
 * Source    docs/methods/valve-form.md, "Two lobes against three"
 */
export function seekTwoCusps(volume: CtVolume, candidates: readonly RootCandidate[]): LobeComparison | null {
  let best: LobeComparison | null = null;
  let three = -Infinity;
  for (const candidate of candidates) {
    const waist = findWaist(volume, candidate.ringCentreLps, candidate.axisLps, candidate.bloodHu, TISSUE_HU);
    const starts = [makeRootFrame(candidate.ringCentreLps, candidate.axisLps)];
    if (waist) starts.push(makeRootFrame(waist.centreLps, waist.axisLps));
    for (const start of starts) {
      const [two, rival] = [alignTo(volume, start, 2), alignTo(volume, start, 3)];
      if (rival) three = Math.max(three, rival.threeCuspScore);
      if (two && (!best || two.twoCuspScore > best.twoCuspScore)) best = two;
    }
  }
  return best && { ...best, threeCuspScore: Math.max(three, best.threeCuspScore) };
}

/**
 * A root was settled, but there is reason not to trust it: the refusal, where the image shows two cusps; null elsewhere.
 * The survey settles beside a root of two sinuses as readily as on it, on a plane on which two cusps do not show.
 */
export function findTwoCusps(volume: CtVolume, tubes: readonly Tube[]): Result<never, 'valve-not-three-leaflet'> | null {
  const lobes = seekTwoCusps(volume, findRootCandidates(makeCoarseField(volume), tubes).slice(0, MOST_CANDIDATES));
  return lobes && isTwoLobed(lobes) ? refuseTwoCusps(lobes) : null;
}

function alignTo(volume: CtVolume, start: RootFrame, cusps: number): LobeComparison | null {
  let frame = start;
  for (const round of ROUNDS) {
    const evidence = lookFor(volume, frame, round)?.evidence;
    if (!evidence) return null;
    const crown = seekRegularCrown(evidence, cusps, round.offsetsMm, round.tiltsMm);
    const tilted: Vec3 = sub(sub(frame.normalLps, scale(frame.uLps, crown.tiltMm[0] / WALL_MM)), scale(frame.vLps, crown.tiltMm[1] / WALL_MM));
    frame = makeRootFrame(along(frame.originLps, frame.normalLps, crown.offsetMm), tilted);
  }
  const last = lookFor(volume, frame, ROUNDS[1], FINE_SPEC);
  return last && compareLobes(last.evidence, last.wall);
}

function lookFor(volume: CtVolume, frame: RootFrame, range: { readonly lowMm: number; readonly highMm: number }, spec: Parameters<typeof prepareLook>[3] = ROUGH_SPEC): { evidence: CrownEvidence; wall: Parameters<typeof compareLobes>[1] } | null {
  const { smooth, coarse, blood } = prepareLook(volume, frame, range, spec);
  if (!(blood.levelHu > 100)) return null;
  const wall = { radiusMm: coarse.radiusMm, heights: smooth.heights, azimuths: smooth.azimuths, lowMm: smooth.lowMm, stepMm: smooth.heightStepMm };
  return { evidence: gatherCrownEvidence(smooth, coarse, blood.levelHu, TISSUE_HU), wall };
}
