import { dot, sub, type Vec3 } from '../math/vec3.ts';
import { CUSPS, type BasalPlane, type ByCusp, type Cusp } from '../root/root-types.ts';
import { makeViewAxes, type CameraView } from './camera-view.ts';
import { measureViewError, type ViewError } from './view-error.ts';

/** What one camera angle shows and hides of the three nadirs. */
export interface ViewDescription {
  readonly view: CameraView;
  readonly error: ViewError;
  /** Place of each nadir in the picture from the plane's point: mm to the right, mm to the top. */
  readonly picture: ByCusp<{ readonly rightMm: number; readonly upMm: number }>;
  /** Nadirs from left to right in the picture. */
  readonly order: readonly Cusp[];
  /** Distances between neighbours of that order along the picture's plane line, mm. */
  readonly gapsMm: readonly [number, number];
  /** Toward the X-ray source: its shadow is the largest, and the first to move when the arm turns. */
  readonly nearestTube: Cusp;
  /** Seen lowest in the picture. */
  readonly lowest: Cusp;
  /** Two cusps closer than this picture can part; null when all three are apart. */
  readonly covered: readonly [Cusp, Cusp] | null;
}

/** Nadirs closer than this in the picture are read as one: two marks of 1 mm click error, 95 % [D]. */
export const APART_MM = 2.8;

/**
 * Frame     LPS; the plane line of the picture is the projection of the plane, so gaps are along it when it is seen on edge
 * Source    docs/methods/camera-views.md; checks CT-25 to CT-28
 */
export function describeView(view: CameraView, plane: BasalPlane): ViewDescription {
  const axes = makeViewAxes(view);
  const at = (c: Cusp): Vec3 => sub(plane.nadirsLps[c], plane.pointLps);
  const place = (c: Cusp): { rightMm: number; upMm: number } => ({ rightMm: dot(at(c), axes.rightLps), upMm: dot(at(c), axes.upLps) });
  const picture = { R: place('R'), L: place('L'), N: place('N') };
  const line = planeLine(axes.rightLps, axes.upLps, plane.normalLps);
  const along = (c: Cusp): number => picture[c].rightMm * line[0] + picture[c].upMm * line[1];
  const order = [...CUSPS].sort((a, b) => along(a) - along(b));
  const gapsMm: [number, number] = [along(order[1]!) - along(order[0]!), along(order[2]!) - along(order[1]!)];
  const by = (value: (c: Cusp) => number): Cusp => [...CUSPS].sort((a, b) => value(a) - value(b))[0]!;
  const closer = gapsMm[0] <= gapsMm[1] ? 0 : 1;
  return {
    view,
    error: measureViewError(view, plane.normalLps, plane.tiltUncertaintyDeg),
    picture,
    order,
    gapsMm,
    nearestTube: by((c) => dot(at(c), axes.beamLps)),
    lowest: by((c) => picture[c].upMm),
    covered: gapsMm[closer] < APART_MM ? [order[closer]!, order[closer + 1]!] : null,
  };
}

/** Direction of the plane's line in the picture, to the right; the picture's right when the plane is seen face on. */
function planeLine(right: Vec3, up: Vec3, normal: Vec3): readonly [number, number] {
  const nRight = dot(normal, right);
  const nUp = dot(normal, up);
  const length = Math.hypot(nRight, nUp);
  if (length < 1e-9) return [1, 0];
  const line = [nUp / length, -nRight / length] as const;
  return line[0] < 0 ? [-line[0], -line[1]] : line;
}
