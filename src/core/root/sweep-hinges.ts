import { scale } from '../math/vec3.ts';
import { fail, type Result } from '../result.ts';
import { makeCoarseField } from '../volume/coarse-field.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { seekRegularCrown } from './compare-lobes.ts';
import { findCrown } from './find-crown.ts';
import { findRootCandidates, type RootCandidate } from './find-root-axis.ts';
import type { Tube } from './find-tubes.ts';
import { EVIDENCE_BIAS_MM, gatherHingeEvidence } from './hinge-evidence.ts';
import { FINE_SPEC, prepareLook, refitCrown, TISSUE_HU, type RootLook } from './locate-root.ts';
import { refineWall } from './refine-wall.ts';
import { MARK_TWO_CUSPS } from './refuse-two-cusps.ts';
import { makeRootFrame, type RootFrame } from './root-frame.ts';

/** The best crown of hinges along one vessel's axis, one way round. */
export interface HingeSweep {
  readonly candidate: RootCandidate;
  /** What is seen along the candidate's axis, hinges not yet fitted. */
  readonly view: Omit<RootLook, 'crown' | 'hinges'>;
  /** Mean gain of a hinge over a smooth wall along the crown of three free cusps, and along the best turned by 30 degrees and more. */
  readonly score: number;
  readonly turnedScore: number;
  /** The same along the best regular crown of two and of three cusps. */
  readonly twoCuspScore: number;
  readonly threeCuspScore: number;
}

/** As far up and down as a root can lie from the narrow place that made the candidate: a junction, or an outflow tract. */
const LOOK = { lowMm: -30, highMm: 50 } as const;
const HINGES = { lowMm: -24, highMm: 33, topMm: 50 } as const;
const NADIRS_MM = { low: -20, high: 22 } as const;
const TILT_REACH_MM = 5;
/** As in `glanceAtCandidate`: half as bright as its vessel, the axis runs through something else. */
const LEAST_LIKENESS = 0.5;

/**
 * For scans whose root a glance overlooked: along each candidate's axis, both ways round, hinges are asked for at every
 * height and azimuth, and the best crown of them is sought. A glance weighs how the wall turns, which a sinus that opens
 * slowly or an outflow tract that tapers hides; a leaflet that leaves the wall is seen there all the same.
 * Shape     best first; ends with the first that shows two cusps, which settles the answer
 * Source    docs/methods/root-survey.md, "Sweep of hinges", with its figures
 */
export function sweepCandidates(volume: CtVolume, candidates: readonly RootCandidate[], blurMm: number): HingeSweep[] {
  const sweeps: HingeSweep[] = [];
  for (const c of candidates) {
    for (const way of [1, -1]) {
      const sweep = sweepAlong(volume, c, makeRootFrame(c.ringCentreLps, scale(c.axisLps, way)), blurMm);
      if (!sweep) continue;
      if (isTwoCusped(sweep)) return [sweep];
      sweeps.push(sweep);
    }
  }
  return sweeps.sort((a, b) => b.score - a.score);
}

function sweepAlong(volume: CtVolume, candidate: RootCandidate, frame: RootFrame, blurMm: number): HingeSweep | null {
  const { block, coarse, blood } = prepareLook(volume, frame, LOOK, FINE_SPEC);
  if (!(blood.levelHu > 100 && blood.levelHu > LEAST_LIKENESS * candidate.bloodHu)) return null;
  const wall = refineWall(block, coarse, blood.levelHu, blurMm, blood.noiseHu);
  const evidence = gatherHingeEvidence(block, wall, blood.levelHu, TISSUE_HU, HINGES);
  const found = findCrown(evidence, NADIRS_MM.low, NADIRS_MM.high, TILT_REACH_MM);
  if (!Number.isFinite(found.score)) return null;
  const offsets = Array.from({ length: NADIRS_MM.high - NADIRS_MM.low + 1 }, (_, i) => NADIRS_MM.low + i);
  const tilts = [-TILT_REACH_MM, -TILT_REACH_MM / 2, 0, TILT_REACH_MM / 2, TILT_REACH_MM];
  const lower = (mm: number): number => mm - EVIDENCE_BIAS_MM;
  const crown = { ...found.crown, nadirMm: found.crown.nadirMm.map(lower), commissureMm: found.crown.commissureMm.map(lower) };
  return {
    candidate,
    view: { frame, block, coarse, wall, crownFit: { ...found, crown }, blood },
    score: found.score,
    turnedScore: found.rivalScore,
    twoCuspScore: seekRegularCrown(evidence, 2, offsets, tilts).score,
    threeCuspScore: seekRegularCrown(evidence, 3, offsets, tilts).score,
  };
}

/** The swept crown with its hinges fitted: a start, not the plane. */
export function lookAtSweep({ view }: HingeSweep): RootLook {
  return { ...view, ...refitCrown(view.block, view.wall, view.blood.levelHu, view.crownFit.crown) };
}

const LEAST_SCORE = 0.6;
/** A crown stands at one turn only, and three free cusps explain more of a root of three than two do. */
const LEAST_LEAD = 0.25;
const LEAST_OVER_TWO = 0.2;
const TWO_CUSP_SCORE = 0.7;
const TWO_CUSP_LEAD = 0.2;
const MOST_CANDIDATES = 3;

/** Whether a crown of three cusps stands out: from a wall without hinges, from itself turned, and from two cusps. */
export function isClearCrown(s: Omit<HingeSweep, 'candidate' | 'view'>): boolean {
  return s.score > LEAST_SCORE && s.score - s.turnedScore > LEAST_LEAD && s.score - s.twoCuspScore > LEAST_OVER_TWO;
}

const isTwoCusped = (s: HingeSweep): boolean => s.twoCuspScore > TWO_CUSP_SCORE && s.twoCuspScore - s.threeCuspScore > TWO_CUSP_LEAD;

/** The refusal where two regular cusps hold clearly more hinges than three, anywhere along the candidates; null elsewhere. */
export function refuseTwoCuspSweep(sweeps: readonly HingeSweep[]): Result<never, 'valve-not-three-leaflet'> | null {
  const two = sweeps.find(isTwoCusped);
  if (!two) return null;
  const round = (v: number): number => Math.round(100 * v) / 100;
  return fail(
    'valve-not-three-leaflet',
    'Two cusps explain the hinges on the wall better than three: the valve seems to have two sinuses.',
    MARK_TWO_CUSPS,
    { twoCuspHinges: round(two.twoCuspScore), threeCuspHinges: round(two.threeCuspScore) },
  );
}

/** A root was settled and is refused all the same: by its own name, where the hinges along the candidates show two cusps; null elsewhere. */
export function findTwoCuspHinges(volume: CtVolume, tubes: readonly Tube[], blurMm: number): Result<never, 'valve-not-three-leaflet'> | null {
  const candidates = findRootCandidates(makeCoarseField(volume), tubes).slice(0, MOST_CANDIDATES);
  return refuseTwoCuspSweep(sweepCandidates(volume, candidates, blurMm));
}
