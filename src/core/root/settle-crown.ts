import { dot } from '../math/vec3.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { findCrown, readCrown, type Crown, type CrownEvidence } from './find-crown.ts';
import type { Hinge } from './fit-hinges.ts';
import { EVIDENCE_BIAS_MM, gatherHingeEvidence, scoreHinges } from './hinge-evidence.ts';
import { nadirPoints, refitCrown, TISSUE_HU, turnFrame, type RootLook } from './locate-root.ts';
import { mapWall, type MappedWall } from './map-wall.ts';
import { cylinderFromLps, lpsFromCylinder, type RootFrame } from './root-frame.ts';

/** The last look: on the settled plane, where the wall may be left free. */
export interface SettledCrown {
  readonly look: RootLook;
  readonly mapped: MappedWall;
  /** Mean gain of a hinge over a smooth wall along the crown, 0 to 1.2. */
  readonly hingeScore: number;
}

/** How far a nadir may lie off the plane it was sought on, mm. */
const REACH_MM = 5;
/** Two crowns are the same while no nadir differs by more than this along the wall. */
const SAME_MM = 2;
/** The wall is mapped anew when the plane turns by more than this: it was found with the plane as its limit. */
const REMAP_RAD = 0.04;
const ROUNDS = 3;

/**
 * Hinges and crown on the wall of the settled plane `start`. The crown that led here is one start; the best crown in the
 * evidence of held hinges is another, tried where it stands elsewhere. The better explained one stays; when it turns
 * the plane, wall and hinges follow.
 */
export function settleCrown(volume: CtVolume, first: RootLook, start: RootFrame): SettledCrown {
  let frame = start;
  let best = fitOnWall(mapWall(volume, frame, first.wall.blurMm), first, first.hinges);
  for (let round = 1; round < ROUNDS; round++) {
    const next = turnFrame(best.look, nadirPoints(best.look));
    if (!next || Math.acos(Math.min(1, dot(next.normalLps, frame.normalLps))) < REMAP_RAD) break;
    frame = next;
    best = fitOnWall(mapWall(volume, frame, first.wall.blurMm), best.look, []);
  }
  return best;
}

function fitOnWall(mapped: MappedWall, from: RootLook, before: readonly Hinge[]): SettledCrown {
  const { block, fine, blood, frame } = mapped;
  const evidence = gatherHingeEvidence(block, fine, blood.levelHu, TISSUE_HU);
  const refit = (start: Crown, hinges: readonly Hinge[]): { look: RootLook; hingeScore: number } => {
    const look: RootLook = { frame, block, coarse: fine, wall: fine, crownFit: from.crownFit, ...refitCrown(block, fine, blood.levelHu, start, hinges), blood };
    return { look, hingeScore: scoreHinges(evidence, look.crown.crown) };
  };
  let best = refit(crownIn(frame, from), before);
  const rival = findRival(evidence);
  if (!isSameCrown(rival, best.look.crown.crown)) {
    const other = refit(rival, []);
    if (other.hingeScore > best.hingeScore) best = other;
  }
  const raised = raiseCommissures(best.look.crown.crown);
  if (raised) {
    const other = refit(raised, []);
    if (other.hingeScore > best.hingeScore) best = other;
  }
  return { ...best, mapped };
}

/** No free commissure is this low above its nadirs; a crown that has one followed hinges into a neighbouring floor. */
const LOW_COMMISSURE_MM = 8;
const USUAL_COMMISSURE_MM = 15;

/** The same crown with commissures that stand too low set to their usual height, midway between their nadirs; null when none does. */
export function raiseCommissures(crown: Crown): Crown | null {
  const { nadirRad, nadirMm, commissureMm } = crown;
  const floorMm = (i: number): number => (nadirMm[i]! + nadirMm[(i + 1) % 3]!) / 2;
  const isLow = (mm: number, i: number): boolean => mm - floorMm(i) < LOW_COMMISSURE_MM;
  if (!commissureMm.some(isLow)) return null;
  const between = (i: number): number => {
    const span = nadirRad[(i + 1) % 3]! - nadirRad[i]!;
    return (nadirRad[i]! + (span - 2 * Math.PI * Math.floor(span / (2 * Math.PI))) / 2) % (2 * Math.PI);
  };
  return {
    ...crown,
    commissureRad: crown.commissureRad.map((rad, i) => (isLow(commissureMm[i]!, i) ? between(i) : rad)),
    commissureMm: commissureMm.map((mm, i) => (isLow(mm, i) ? floorMm(i) + USUAL_COMMISSURE_MM : mm)),
  };
}

function findRival(evidence: CrownEvidence): Crown {
  const { crown } = findCrown(evidence, -REACH_MM, REACH_MM, REACH_MM);
  const lower = (mm: number): number => mm - EVIDENCE_BIAS_MM;
  return { ...crown, nadirMm: crown.nadirMm.map(lower), commissureMm: crown.commissureMm.map(lower) };
}

/** Compared where it matters: at the nadirs of each, against the height of the other. */
function isSameCrown(a: Crown, b: Crown): boolean {
  return [[a, b] as const, [b, a] as const].every(([p, q]) => p.nadirRad.every((rad, i) => Math.abs(readCrown(q, rad) - p.nadirMm[i]!) < SAME_MM));
}

/** The crown of a look, as seen from another frame. */
function crownIn(frame: RootFrame, look: RootLook): Crown {
  const c = look.crown.crown;
  const move = (rad: number, mm: number): { rad: number; mm: number } => {
    const p = cylinderFromLps(frame, lpsFromCylinder(look.frame, { azimuthRad: rad, heightMm: mm, radiusMm: 12 }));
    return { rad: p.azimuthRad - 2 * Math.PI * Math.floor(p.azimuthRad / (2 * Math.PI)), mm: p.heightMm };
  };
  const nadirs = c.nadirRad.map((rad, i) => move(rad, c.nadirMm[i]!));
  const commissures = c.commissureRad.map((rad, i) => move(rad, c.commissureMm[i]!));
  return { nadirRad: nadirs.map((n) => n.rad), nadirMm: nadirs.map((n) => n.mm), commissureRad: commissures.map((n) => n.rad), commissureMm: commissures.map((n) => n.mm) };
}
