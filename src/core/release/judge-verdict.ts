import type { Band, ReleaseExit, ReleaseVerdict } from './release-types.ts';
import { DISLODGED_MM } from './key-depths.ts';
import { findQuantile } from './run-ensemble.ts';

/** 5, 50 and 95 % quantiles; infinite when the frame leaves the landing zone. NaN values are left out. */
export function findBand(values: ArrayLike<number>): Band {
  return { low: findQuantile(values, 0.05), mid: findQuantile(values, 0.5), high: findQuantile(values, 0.95) };
}

/** Verdict from the quantiles of the movement (mechanics 4), mm, + = up; before any refusal of mechanics 9. */
export function judgeMovement(band: Band, tauMm = DISLODGED_MM): ReleaseVerdict {
  const { low, mid, high } = band;
  if (!(low <= mid && mid <= high)) return 'cannot say';
  if (low < -tauMm && high > tauMm) return 'cannot say';
  if (low >= -tauMm && high <= tauMm) return 'stays';
  if (mid > tauMm && low > -tauMm) return 'up';
  if (mid < -tauMm && high < tauMm) return 'down';
  return high > tauMm ? 'stays or up' : 'stays or down';
}

/** Directions a verdict leaves open. */
export function listDirections(verdict: ReleaseVerdict): { readonly up: boolean; readonly stays: boolean; readonly down: boolean } {
  return {
    up: verdict === 'up' || verdict === 'stays or up',
    stays: verdict === 'stays' || verdict === 'stays or up' || verdict === 'stays or down',
    down: verdict === 'down' || verdict === 'stays or down',
  };
}

/** What a band edge of the movement means when it is no number. */
export function readExit(movementMm: number): ReleaseExit {
  return movementMm === Infinity ? 'up' : movementMm === -Infinity ? 'down' : 'none';
}

/** One answer from the three worlds: the middle world's, unless gripping and slippery contradict each other (rule 6). */
export function joinWorlds(gripping: ReleaseVerdict, middle: ReleaseVerdict, slippery: ReleaseVerdict): ReleaseVerdict {
  if (middle === 'cannot say') return middle;
  return worldsOppose(gripping, slippery) ? 'cannot say' : middle;
}

/** One world moves only up, the other only down. */
export function worldsOppose(a: ReleaseVerdict, b: ReleaseVerdict): boolean {
  const [p, q] = [listDirections(a), listDirections(b)];
  return (p.up && q.down) || (p.down && q.up);
}
