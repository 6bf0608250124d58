import { dot, sub, unit, type Vec3 } from '../math/vec3.ts';
import type { RootSurvey, Xyz } from '../root/root-types.ts';

const LOWEST_MM = -8;
const HIGHEST_MM = 20;
const LEAST_LEVELS = 6;

/**
 * Direction in which a released frame is expected to lie: the line through the centres of the levels from the outflow
 * tract to the ascending aorta, least squares, each level once.
 * Frame     LPS unit, toward the aorta
 * Fails     null with fewer than 6 levels in the range
 * Accuracy  straight tube: exact; curved: the chord of the range (docs/methods/camera-views.md)
 */
export function findFrameAxis(root: RootSurvey): Xyz | null {
  const normal = root.basalPlane.normalLps;
  const levels = root.levels.filter((l) => l.heightMm >= LOWEST_MM && l.heightMm <= HIGHEST_MM && l.contourLps.length >= 3);
  if (levels.length < LEAST_LEVELS) return null;
  const centres = levels.map((l) => meanPoint(l.contourLps));
  const mean = meanPoint(centres);
  // Heights are exact by construction: regress the other two coordinates on the height.
  let hh = 0;
  const slope: [number, number, number] = [0, 0, 0];
  for (const c of centres) {
    const d = sub(c, mean);
    const h = dot(d, normal);
    hh += h * h;
    for (let k = 0; k < 3; k++) slope[k]! += h * d[k]!;
  }
  return hh > 0 ? unit(slope) : null;
}

function meanPoint(points: readonly Vec3[]): Vec3 {
  const sum: [number, number, number] = [0, 0, 0];
  for (const p of points) for (let k = 0; k < 3; k++) sum[k]! += p[k]!;
  return [sum[0] / points.length, sum[1] / points.length, sum[2] / points.length];
}
