import { dot, type Vec3 } from '../math/vec3.ts';
import { makeViewAxes, type CameraView } from './camera-view.ts';

const RAD = Math.PI / 180;

/** What an angle off the plane does to a depth read in the picture. */
export interface ViewError {
  /** Between the beam and the plane, deg; 0 = the plane is seen on edge. Signed: + when the detector looks at its aortic face. */
  readonly offPlaneDeg: number;
  /** Depth error per mm between the point marked and the plane's mark, along the beam: mm per mm of frame radius. */
  readonly depthPerRadius: number;
  /** The same at the adverse end of the plane's own 95 % tilt. */
  readonly depthPerRadiusHigh: number;
  readonly depthPerRadiusLow: number;
  /** Seen length over true length of a line along the normal: cos of the angle off the plane. */
  readonly visibleShare: number;
}

/**
 * Depth error and foreshortening of a view on a plane.
 *
 * Units     normal a unit vector, tilt95Deg the 95 % radius of its direction in deg
 * Equation  beta = asin(d . n); two points r apart along the beam part by r sin |beta| along the plane's normal, and
 *           lengths along the normal shrink by cos beta. The interval turns beta by tilt95 to either side, 0 at least.
 * Source    docs/methods/camera-views.md; checks CT-32; job.md D-rules ("25 mm at 5 deg = 2.2 mm")
 * Accuracy  exact for a parallel beam; divergence adds 1 deg per 13 mm off the central ray, 750 mm from the source [D]
 */
export function measureViewError(view: CameraView, normalLps: Vec3, tilt95Deg: number): ViewError {
  const sine = Math.max(-1, Math.min(1, dot(makeViewAxes(view).beamLps, normalLps)));
  const offDeg = Math.asin(sine) / RAD;
  const size = Math.abs(offDeg);
  const at = (deg: number): number => Math.sin(Math.min(90, Math.max(0, deg)) * RAD);
  return {
    offPlaneDeg: offDeg,
    depthPerRadius: Math.abs(sine),
    depthPerRadiusLow: at(size - tilt95Deg),
    depthPerRadiusHigh: at(size + tilt95Deg),
    visibleShare: Math.sqrt(1 - sine * sine),
  };
}

/** Rows by secondary, columns by primary. `depthPerRadius` is the adverse end of the 95 % interval. */
export interface ViewErrorMap {
  readonly primaryDeg: readonly number[];
  readonly secondaryDeg: readonly number[];
  readonly depthPerRadius: readonly (readonly number[])[];
  readonly offPlaneDeg: readonly (readonly number[])[];
  readonly tilt95Deg: number;
}

/** The errors at every 5 deg of the range that a C-arm over a lying patient can have at all. */
export function mapViewErrors(normalLps: Vec3, tilt95Deg: number): ViewErrorMap {
  const steps = (low: number, high: number): number[] => Array.from({ length: Math.round((high - low) / 5) + 1 }, (_, i) => low + 5 * i);
  const primaryDeg = steps(-90, 90);
  const secondaryDeg = steps(-50, 50);
  const errors = secondaryDeg.map((s) => primaryDeg.map((p) => measureViewError({ primaryDeg: p, secondaryDeg: s }, normalLps, tilt95Deg)));
  return {
    primaryDeg, secondaryDeg, tilt95Deg,
    depthPerRadius: errors.map((row) => row.map((e) => e.depthPerRadiusHigh)),
    offPlaneDeg: errors.map((row) => row.map((e) => e.offPlaneDeg)),
  };
}
