import { add, along, completeBasis, cross, dot, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import type { Xyz } from './root-types.ts';

/**
 * Cylinder coordinates of the root: height along the basal normal (0 on the basal plane, + toward the aorta),
 * azimuth 0 toward the R nadir, counter-clockwise as seen from the aorta, radius from the axis through the origin.
 * Seen from the aorta the viewer looks against the normal, so counter-clockwise is the right-handed turn about it.
 */
export interface RootFrame {
  /** On the basal plane, centre of the ring. LPS mm. */
  readonly originLps: Xyz;
  /** Unit; toward the aorta. */
  readonly normalLps: Xyz;
  /** Unit, in the plane, azimuth 0. */
  readonly uLps: Xyz;
  /** Unit, in the plane, azimuth +90 degrees; u x v = normal. */
  readonly vLps: Xyz;
}

export interface CylinderPoint {
  readonly azimuthRad: number;
  readonly heightMm: number;
  readonly radiusMm: number;
}

/** Frame with azimuth 0 toward `zeroLps`; an arbitrary but fixed direction when that lies on the axis. */
export function makeRootFrame(originLps: Vec3, normalLps: Vec3, zeroLps?: Vec3): RootFrame {
  const n = unit(normalLps);
  let u: Vec3 = completeBasis(n).u;
  if (zeroLps) {
    const d = sub(zeroLps, originLps);
    const flat = sub(d, scale(n, dot(d, n)));
    if (dot(flat, flat) > 1e-12) u = unit(flat);
  }
  return { originLps: add(originLps, [0, 0, 0]), normalLps: n, uLps: u, vLps: cross(n, u) };
}

export function lpsFromCylinder(f: RootFrame, p: CylinderPoint): [number, number, number] {
  const c = p.radiusMm * Math.cos(p.azimuthRad);
  const s = p.radiusMm * Math.sin(p.azimuthRad);
  return along(along(along(f.originLps, f.normalLps, p.heightMm), f.uLps, c), f.vLps, s);
}

export function cylinderFromLps(f: RootFrame, point: Vec3): CylinderPoint {
  const d = sub(point, f.originLps);
  const x = dot(d, f.uLps);
  const y = dot(d, f.vLps);
  return { azimuthRad: Math.atan2(y, x), heightMm: dot(d, f.normalLps), radiusMm: Math.hypot(x, y) };
}
