import { sub, type Vec3 } from '../math/vec3.ts';
import { fail, succeed, type Result } from '../result.ts';
import { planeThrough } from './locate-root.ts';
import { wrapTurn } from './measure-sinuses.ts';
import { cylinderFromLps, lpsFromCylinder, type RootFrame } from './root-frame.ts';
import { CUSPS, type ByCusp, type Cusp, type Xyz } from './root-types.ts';

/** Scatter of a person's marks about the truth, one SD; between readers 0.3-0.6 mm per coordinate [M]. */
export const MARK_SD_MM = 0.5;
/** Marks say nothing of commissures: they stand this high, half way between nadirs. */
const COMMISSURE_MM = 14;

/**
 * The plane through a person's three nadirs.
 * Frame     LPS mm; the normal toward `upLps`
 * Fails     nadirs-collinear, nadirs-implausible (less than 8 or more than 45 mm apart, or no numbers)
 */
export function readMarkedPlane(nadirsLps: ByCusp<Xyz>, upLps: Vec3): Result<NonNullable<ReturnType<typeof planeThrough>>, 'nadirs-collinear' | 'nadirs-implausible'> {
  const points = CUSPS.map((c): Vec3 => nadirsLps[c]);
  const plane = planeThrough(points, upLps);
  if (!plane) return fail('nadirs-collinear', 'The three marked nadirs lie in one line, so they define no plane.', 'Move the marks to the lowest point of each cusp.');
  const sides = points.map((p, i) => Math.hypot(...sub(p, points[(i + 1) % 3]!)));
  if (!(Math.min(...sides) >= 8 && Math.max(...sides) <= 45)) {
    return fail('nadirs-implausible', `The marked nadirs are ${sides.map((s) => s.toFixed(0)).join(', ')} mm apart; 8 to 45 mm are possible.`, 'Check the marks and that they are LPS coordinates in mm.');
  }
  return succeed(plane);
}

/** Marked cusps counter-clockwise from R, each with a commissure after it. */
export function orderMarks(nadirsLps: ByCusp<Xyz>, frame: RootFrame): { readonly order: readonly Cusp[]; readonly commissuresLps: readonly Vec3[] } {
  const azimuth = (c: Cusp): number => cylinderFromLps(frame, nadirsLps[c]).azimuthRad;
  const order = [...CUSPS].sort((a, b) => wrapTurn(azimuth(a) - azimuth('R')) - wrapTurn(azimuth(b) - azimuth('R')));
  const commissuresLps = order.map((c, i) => lpsFromCylinder(frame, { azimuthRad: azimuth(c) + wrapTurn(azimuth(order[(i + 1) % 3]!) - azimuth(c)) / 2, heightMm: COMMISSURE_MM, radiusMm: 12 }));
  return { order, commissuresLps };
}
