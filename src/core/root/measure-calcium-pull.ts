import type { Crown } from './find-crown.ts';
import type { Hinge } from './fit-hinges.ts';
import { refineCrown } from './refine-crown.ts';
import { seekNadirs } from './seek-nadirs.ts';

/** How far one nadir moves when the hinges beside calcium are left out. */
export interface CalciumPull {
  readonly heightMm: number;
  readonly alongMm: number;
}

/** A hinge with a larger share of the picture around it hidden is taken for one beside calcium. */
const MOST_HIDDEN = 0.1;
/** Without the hinges beside it a nadir is a guess by its neighbours; one that goes farther off says no more than this. */
const MOST_PULL_MM = 2.5;

/** Bereft of hinges, a crown may run off to another stretch of wall; no deposit turns a nadir that far. */
const MOST_TURN_RAD = 0.3;
const turnOf = (from: number, to: number): number => Math.atan2(Math.sin(to - from), Math.cos(to - from));

/**
 * Whether nadirs hang on hinges beside calcium. A deposit on the ring hides the leaflet's foot or the floor of the sinus;
 * the rest of the picture still gives a hinge with a small SD, but all hinges along the deposit may be off together.
 * Neither those hinges nor the guess without them is always the better one, so the nadir stays where all hinges put it,
 * and the difference is its doubt.
 * Units     mm, in the order of the crown
 * Fails     all pulls at their limit where too few hinges are left
 * Source    docs/methods/root-survey.md, "Calcium on the ring"
 */
export function measureCalciumPull(hinges: readonly Hinge[], crown: Crown): CalciumPull[] {
  const clear = hinges.filter((h) => h.hiddenRatio <= MOST_HIDDEN);
  if (clear.length === hinges.length) return crown.nadirRad.map(() => ({ heightMm: 0, alongMm: 0 }));
  const all = seekNadirs(hinges, crown);
  const refined = refineCrown(clear, crown).crown;
  const hasRunOff = refined.nadirRad.some((rad, i) => Math.abs(turnOf(crown.nadirRad[i]!, rad)) > MOST_TURN_RAD);
  const rest = all && seekNadirs(clear, hasRunOff ? crown : refined);
  if (!rest) return crown.nadirRad.map(() => ({ heightMm: all ? MOST_PULL_MM : 0, alongMm: all ? MOST_PULL_MM : 0 }));
  return all.map((nadir, i) => {
    const other = rest[i]!;
    const limit = (mm: number): number => Math.min(MOST_PULL_MM, Math.abs(mm));
    return { heightMm: limit(other.heightMm - nadir.heightMm), alongMm: limit(nadir.radiusMm * turnOf(nadir.azimuthRad, other.azimuthRad)) };
  });
}
