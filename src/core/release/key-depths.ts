import type { ReleaseTables } from './release-types.ts';
import { readReleased } from './stick-slip.ts';

/** A movement of this size is a micro-dislodgement in the published sense (mechanics R4). */
export const DISLODGED_MM = 1.5;

/**
 * Tipping depths: unstable zeros of the released drive, where shallower starts are pushed up and deeper ones down.
 * Depths in mm, rising; empty when there is none in the modelled zone.
 */
export function findTippingDepths(t: ReleaseTables, lowDepthMm = -2, highDepthMm = 14): readonly number[] {
  const base = t.ratios.length * t.positions;
  const drive = (p: number): number => t.upN[base + p]! - t.downN[base + p]!;
  const out: number[] = [];
  for (let p = t.positions - 2; p >= 0; p--) {
    const below = drive(p);
    const above = drive(p + 1);
    if (below < 0 && above >= 0) {
      const depth = -(t.lowMm + (p + below / (below - above)) * t.stepMm);
      if (depth >= lowDepthMm && depth <= highDepthMm) out.push(depth);
    }
  }
  return out;
}

export interface FrictionNeeded {
  readonly diastole: number;
  readonly systole: number;
}
/**
 * Friction that would just hold the released frame at a depth, without interlock (2.12).
 * Equation  mu_dia = -(D_dn + P_d) / G;  mu_sys = (D_up + P_s / g_s) / G
 */
export function computeFrictionNeeded(
  t: ReleaseTables,
  depthMm: number,
  loads: { readonly loadingRatio: number; readonly systolicN: number; readonly diastolicN: number; readonly systolicGripRatio: number },
): FrictionNeeded {
  const { upN, downN, gripN } = readReleased(t, -depthMm);
  const h = loads.loadingRatio;
  return {
    diastole: -(h * upN - downN + loads.diastolicN) / gripN,
    systole: (upN - h * downN + loads.systolicN / loads.systolicGripRatio) / gripN,
  };
}

export interface StartMove {
  readonly startMm: number;
  /** + = up; +-Infinity when it leaves the landing zone. */
  readonly movementMm: number;
}
export interface ReachDepths {
  readonly repellingMm: number | null;
  readonly divingMm: number | null;
  /** False when starts that move lie apart (an island): then the whole curve must be shown, not the number. */
  readonly isRepellingContiguous: boolean;
  readonly isDivingContiguous: boolean;
}
/** Deepest start that moves 1.5 mm up and shallowest that moves 1.5 mm down, from moves at rising starts. */
export function findReachDepths(moves: readonly StartMove[]): ReachDepths {
  const up = moves.map((m) => m.movementMm >= DISLODGED_MM);
  const down = moves.map((m) => m.movementMm <= -DISLODGED_MM);
  const lastUp = up.lastIndexOf(true);
  const firstDown = down.indexOf(true);
  return {
    repellingMm: lastUp < 0 ? null : moves[lastUp]!.startMm,
    divingMm: firstDown < 0 ? null : moves[firstDown]!.startMm,
    isRepellingContiguous: lastUp < 0 || up.slice(0, lastUp + 1).every(Boolean),
    isDivingContiguous: firstDown < 0 || down.slice(firstDown).every(Boolean),
  };
}
