import type { ContactGap } from '../release/release-types.ts';
import type { Cusp } from '../root/root-types.ts';

/**
 * Where a leak is seen: by cusp, or as an arc of azimuth in degrees (0 at the R nadir, counter-clockwise seen from the aorta, as in
 * the unrolled map); an arc runs from `fromDeg` on to `toDeg` and may pass 0.
 */
export interface SeenLeak {
  readonly cusp: Cusp | null;
  readonly arcDeg: readonly [from: number, to: number] | null;
  readonly by: string;
  readonly at: string;
}
export interface SiteRow {
  readonly gap: ContactGap;
  /** `beside`: within the reading's tolerance of the gap, or known by cusp only. */
  readonly state: 'seen here' | 'beside' | 'not seen here' | 'not looked';
  readonly seenBy: readonly string[];
}
export interface SiteComparison {
  /** Gaps of the forecast, the widest first, as it gives them. */
  readonly rows: readonly SiteRow[];
  /** Leaks seen where the forecast has no gap. */
  readonly unforeseen: readonly SeenLeak[];
  readonly state: 'compared' | 'no forecast' | 'not looked';
}

/** Half an hour of the clock face: how well a leak is placed on a short-axis picture [A]. */
export const SITE_TOLERANCE_DEG = 15;

/**
 * The forecast's gaps between frame and wall beside the leaks that were seen. A gap is a place, not a grade: agreement raises no
 * grade and a gap without a leak is no false alarm of severity.
 * Frame    azimuth of the unrolled map
 * Fails    never; `null` for what is seen means that nobody looked, an empty list that nothing was seen
 * Source   docs/methods/verdict.md
 */
export function compareLeakSites(gaps: readonly ContactGap[] | null, seen: readonly SeenLeak[] | null): SiteComparison {
  if (gaps === null) return { rows: [], unforeseen: seen ?? [], state: 'no forecast' };
  if (seen === null) return { rows: gaps.map((gap) => ({ gap, state: 'not looked', seenBy: [] })), unforeseen: [], state: 'not looked' };
  const rows = gaps.map((gap): SiteRow => {
    const here = seen.filter((s) => s.arcDeg !== null && doArcsMeet([gap.fromDeg, gap.toDeg], s.arcDeg, 0));
    if (here.length > 0) return { gap, state: 'seen here', seenBy: here.map((s) => s.by) };
    const near = seen.filter((s) => isNear(gap, s));
    return { gap, state: near.length > 0 ? 'beside' : 'not seen here', seenBy: near.map((s) => s.by) };
  });
  return { rows, unforeseen: seen.filter((s) => !gaps.some((gap) => isNear(gap, s))), state: 'compared' };
}

function isNear(gap: ContactGap, seen: SeenLeak): boolean {
  return seen.arcDeg === null ? seen.cusp === gap.cusp : doArcsMeet([gap.fromDeg, gap.toDeg], seen.arcDeg, SITE_TOLERANCE_DEG);
}

/** Whether two arcs on a circle come within `toleranceDeg` of one another. An arc of 360 is the whole circle. */
export function doArcsMeet(a: readonly [number, number], b: readonly [number, number], toleranceDeg: number): boolean {
  const lengthOf = ([from, to]: readonly [number, number]): number => (to - from >= 360 ? 360 : turn(to - from));
  const startOfB = turn(b[0] - a[0]);
  return startOfB <= lengthOf(a) + toleranceDeg || startOfB + lengthOf(b) >= 360 - toleranceDeg;
}

const turn = (deg: number): number => ((deg % 360) + 360) % 360;
