import { along, cross, dot, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import type { CutPlane, CutPoint } from './cut-types.ts';
import type { RootFrame } from './root-frame.ts';

/** Width and height of a cut at zoom 1, as the printed cuts. */
const VIEW_SIDE_MM = 64;
/** A cut along the root shows this much of its height below the basal plane at zoom 1. */
const BELOW_MM = 24;
export const MOST_ZOOM = 8;
export const LEAST_ZOOM = 0.5;

/** How a person has scrolled, zoomed and shifted one view; all zeros and zoom 1 is the view as it opens. */
export interface ViewPose {
  /** Of a cut across the root, over the basal plane, + toward the aorta. Of a cut along it: 0. */
  readonly heightMm: number;
  /** Of a cut along the root, about its axis, counter-clockwise seen from the aorta. Of a cut across it: 0. */
  readonly turnDeg: number;
  readonly zoom: number;
  /** What lies in the middle of the view, from its middle as it opens: mm right and down. */
  readonly shiftMm: CutPoint;
}
export const OPEN_POSE: ViewPose = { heightMm: 0, turnDeg: 0, zoom: 1, shiftMm: [0, 0] };

/**
 * Plane of a view across the root: seen from the aorta, azimuth 0 (the R nadir) on top.
 * Frame     LPS
 */
export function placeAcross(frame: RootFrame, pose: ViewPose): CutPlane {
  const middle = along(frame.originLps, frame.normalLps, pose.heightMm);
  return centrePlane(middle, scale(frame.vLps, -1), scale(frame.uLps, -1), pose);
}

/**
 * Plane of a view along the root through its axis and a point: the aorta on top, the point on the right.
 * Frame     LPS; a point on the axis gives azimuth 0
 */
export function placeAlong(frame: RootFrame, throughLps: Vec3, pose: ViewPose): CutPlane {
  const d = sub(throughLps, frame.originLps);
  const flat = sub(d, scale(frame.normalLps, dot(d, frame.normalLps)));
  const toward = dot(flat, flat) > 1e-12 ? unit(flat) : frame.uLps;
  const rad = (pose.turnDeg * Math.PI) / 180;
  const acrossLps = unit(along(scale(toward, Math.cos(rad)), cross(frame.normalLps, toward), Math.sin(rad)));
  const middle = along(frame.originLps, frame.normalLps, VIEW_SIDE_MM / 2 - BELOW_MM);
  return centrePlane(middle, acrossLps, scale(frame.normalLps, -1), pose);
}

function centrePlane(middle: Vec3, acrossLps: Vec3, downLps: Vec3, pose: ViewPose): CutPlane {
  const side = VIEW_SIDE_MM / pose.zoom;
  const [right, down] = pose.shiftMm;
  const originLps = along(along(middle, acrossLps, right - side / 2), downLps, down - side / 2);
  return { originLps, acrossLps, downLps, widthMm: side, heightMm: side };
}

/** Zoomed by `factor` about a point of the view, which stays where it is on the screen. `at` is mm from the top left corner. */
export function zoomAbout(pose: ViewPose, factor: number, at: CutPoint): ViewPose {
  const zoom = Math.max(LEAST_ZOOM, Math.min(MOST_ZOOM, pose.zoom * factor));
  const side = VIEW_SIDE_MM / pose.zoom;
  // The point is this far from the middle, in mm before and in mm after.
  const keep = 1 - pose.zoom / zoom;
  const [x, y] = [at[0] - side / 2, at[1] - side / 2];
  return { ...pose, zoom, shiftMm: [pose.shiftMm[0] + x * keep, pose.shiftMm[1] + y * keep] };
}

/** Toward the viewer of a plane; unit. */
export const towardViewer = (plane: CutPlane): [number, number, number] => cross(plane.downLps, plane.acrossLps);

/** A mark moved in a picture, mm right and down, and `offMm` toward the viewer. */
export function moveInView(plane: CutPlane, lps: Vec3, moved: CutPoint, offMm = 0): [number, number, number] {
  return along(along(along(lps, plane.acrossLps, moved[0]), plane.downLps, moved[1]), towardViewer(plane), offMm);
}

