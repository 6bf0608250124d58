import type { Vec3 } from '../math/vec3.ts';
import type { CameraView } from './camera-view.ts';

const RAD = Math.PI / 180;
/** Below this share of the normal along z and along the arm's plane every secondary angle fits, or none is stable. */
const FLAT = 1e-9;

/**
 * The secondary angle at which a primary angle sees the plane on edge.
 *
 * Units     deg
 * Frame     normal in LPS, any length
 * Equation  d . n = 0  =>  S = atan2(k (ny cos P - nx sin P), k nz), k the sign of nz, so that cos S >= 0
 * Fails     null when the arm's whole secondary arc lies in the plane (nz and the in-plane part both vanish)
 * Source    checks CT-23, CT-24 (docs/methods/camera-views.md)
 */
export function findPerpendicularSecondary(normalLps: Vec3, primaryDeg: number): number | null {
  const [nx, ny, nz] = normalLps;
  const rise = ny * Math.cos(primaryDeg * RAD) - nx * Math.sin(primaryDeg * RAD);
  const length = Math.hypot(nx, ny, nz);
  if (Math.hypot(rise, nz) < FLAT * length || length === 0) return null;
  return Math.atan2(nz < 0 ? -rise : rise, Math.abs(nz)) / RAD;
}

/** At every whole degree of primary -90 to 90 (contract `views.perpendicular`); a degree without an answer is absent. */
export function tracePerpendicularCurve(normalLps: Vec3): readonly CameraView[] {
  const curve: CameraView[] = [];
  for (let primaryDeg = -90; primaryDeg <= 90; primaryDeg++) {
    const secondaryDeg = findPerpendicularSecondary(normalLps, primaryDeg);
    if (secondaryDeg !== null) curve.push({ primaryDeg, secondaryDeg });
  }
  return curve;
}
