import { cross, dot, norm, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import type { BasalPlane, Cusp, RootSurvey } from '../root/root-types.ts';
import { measureViewAngle, readView, turnToFront, type CameraView } from './camera-view.ts';
import { describeView } from './describe-view.ts';
import { findFrameAxis } from './frame-axis.ts';
import { tracePerpendicularCurve } from './perpendicular-curve.ts';
import { mapViewErrors, measureViewError } from './view-error.ts';
import type { ChosenView, PlanViews, ReachLimits, ViewRole } from './view-types.ts';

const RAD = Math.PI / 180;
/** Normal and frame axis closer than this: every view of the curve shows the frame alike, and their cross product is noise. */
const LEAST_PART_DEG = 3;
/** Three nadirs on a line within this share of their spread make no plane (checks CT-17 uses 1e-3 of the product of norms). */
const LEAST_WEDGE = 1e-3;

type Reason = PlanViews['reasons'][number];

export interface ViewContext {
  /** DICOM Patient Position of the scan; null when the data does not say. */
  readonly patientPosition: string | null;
  readonly reach: ReachLimits | null;
}

export function isReachable(view: CameraView, reach: ReachLimits): boolean {
  return view.primaryDeg <= reach.laoDeg && view.primaryDeg >= -reach.raoDeg && view.secondaryDeg <= reach.cranialDeg && view.secondaryDeg >= -reach.caudalDeg;
}

/**
 * The camera angles of one root: the curve on which the basal plane is seen on edge, and one angle per question.
 *
 * Frame     LPS; angles as DICOM Positioner Primary/Secondary Angle
 * Method    docs/methods/camera-views.md. All but none of the roles lie on the curve (beam . normal = 0):
 *           start along R - L; three-cusps along R - (N + L)/2; widest-apart the reachable curve point with the largest
 *           smallest gap; least-parallax along normal x frame axis; coronary along normal x (ostium - axis).
 * Refuses   angles are withheld unless the scan was supine (SCCT 2019, job.md [3]): a turned patient turns the angle
 */
export function chooseViews(root: RootSurvey, context: ViewContext): PlanViews {
  const plane = root.basalPlane;
  const axis = findFrameAxis(root);
  const offNormalDeg = axis ? Math.acos(Math.min(1, Math.max(-1, dot(axis, plane.normalLps)))) / RAD : 0;
  const frameAxis = axis ? { directionLps: axis, offNormalDeg } : null;
  const refusal = refusePosture(context.patientPosition) ?? refusePlane(plane);
  if (refusal) {
    return { offered: false, perpendicular: [], chosen: [], without: [], errorMap: null, reachLimits: context.reach, frameAxis, reasons: [refusal] };
  }
  const perpendicular = tracePerpendicularCurve(plane.normalLps);
  const chosen: ChosenView[] = [];
  const without: PlanViews['without'][number][] = [];
  const put = (role: ViewRole, beam: Vec3, withinDeg: number, why: string): void => {
    chosen.push(finishView(role, readView(turnToFront(beam)), withinDeg, why, plane, perpendicular, context.reach));
  };
  const { R, L, N } = plane.nadirsLps;
  put('start', flatten(sub(R, L), plane), withinOf(plane, ['R', 'L'], norm(sub(R, L))), 'R and L lie behind one another and N stands alone: depth is read at N.');
  const middle = scale([N[0] + L[0], N[1] + L[1], N[2] + L[2]], 0.5);
  put('three-cusps', flatten(sub(R, middle), plane), withinOf(plane, ['R', 'L', 'N'], norm(sub(R, middle))), 'R stands in the middle with N and L at equal distance on either side.');
  const widest = findWidest(plane, perpendicular, context.reach);
  if (widest) {
    chosen.push(finishView('widest-apart', widest.view, plane.tiltUncertaintyDeg, `The smallest gap between two nadirs is ${widest.gapMm.toFixed(1)} mm, more than in any other reachable view on the curve.`, plane, perpendicular, context.reach));
  } else {
    without.push({ role: 'widest-apart', code: 'view-not-reachable', text: 'No point of the curve can be reached.', next: 'Check the reach limits of the room, or raise the patient on a wedge and scan the angles anew on the table.' });
  }
  if (axis && offNormalDeg >= LEAST_PART_DEG) {
    put('least-parallax', cross(plane.normalLps, axis), Math.min(90, Math.hypot(plane.tiltUncertaintyDeg, AXIS_95_DEG) / Math.sin(offNormalDeg * RAD)), 'Plane and expected frame axis are both seen on edge, so plane and frame can be parallel in the picture.');
  } else {
    without.push({
      role: 'least-parallax', code: axis ? 'frame-axis-along-normal' : 'frame-axis-not-seen',
      text: axis ? `The frame axis lies within ${LEAST_PART_DEG} deg of the plane's normal: every view on the curve shows both.` : 'The levels are too few for a frame axis.',
      next: axis ? 'Use the start view.' : 'Use a scan that shows outflow tract and aorta.',
    });
  }
  for (const side of ['left', 'right'] as const) {
    const role: ViewRole = side === 'left' ? 'left-coronary' : 'right-coronary';
    const ostium = root.coronaries[side]?.ostiumLps;
    if (!ostium) {
      without.push({ role, code: 'ostium-not-found', text: `The ${side} ostium was not found.`, next: 'Mark the ostium by hand and plan again.' });
      continue;
    }
    const offset = sub(ostium, plane.pointLps);
    const axisMm = norm(sub(offset, scale(plane.normalLps, dot(offset, plane.normalLps))));
    put(role, cross(plane.normalLps, flatten(offset, plane)), Math.hypot(plane.tiltUncertaintyDeg, Math.atan2(OSTIUM_95_MM, axisMm) / RAD), `The ${side} ostium is seen in profile: its height above the plane is not shortened.`);
  }
  return {
    offered: true, perpendicular, chosen, without, errorMap: mapViewErrors(plane.normalLps, plane.tiltUncertaintyDeg),
    reachLimits: context.reach, frameAxis, reasons: context.reach ? [] : [NO_REACH],
  };
}

/** 95 % radii: direction of the fitted frame axis, and place of an ostium's centre along the wall (docs/methods/camera-views.md). */
const AXIS_95_DEG = 3;
const OSTIUM_95_MM = 1.5;

const NO_REACH: Reason = {
  code: 'reach-not-entered',
  text: 'The reach of the C-arm with table and patient is not entered, so no angle is marked as out of reach.',
  next: 'Enter the four reach limits of the room among the rules and sign them.',
};

function refusePosture(position: string | null): Reason | null {
  if (position === null) {
    return { code: 'posture-not-stated', text: 'The scan does not say how the patient lay, so camera angles are withheld.', next: 'Use the DICOM series that states Patient Position, or take the angles on the table.' };
  }
  if (position !== 'HFS' && position !== 'FFS') {
    return { code: 'posture-not-supine', text: `The patient was not scanned supine (${/^[A-Z]{2,4}$/.test(position) ? position : 'unknown position'}), so camera angles are withheld.`, next: 'Take the angles on the table: turn the arm until the three nadirs lie on one line.' };
  }
  return null;
}

function refusePlane(plane: BasalPlane): Reason | null {
  const { R, L, N } = plane.nadirsLps;
  const a = sub(L, N);
  const b = sub(R, N);
  if (norm(cross(a, b)) >= LEAST_WEDGE * norm(a) * norm(b)) return null;
  return { code: 'nadirs-collinear', text: 'The three nadirs lie in one line, so there is no plane to look at.', next: 'Move the marks to the lowest point of each cusp.' };
}

/** The part of a direction that lies in the plane, so that the view is on the curve exactly. */
function flatten(v: Vec3, plane: BasalPlane): Vec3 {
  return unit(sub(v, scale(plane.normalLps, dot(v, plane.normalLps))));
}

/** 95 % radius of a direction between marks that are `apartMm` apart, with the tilt of the plane, deg. */
function withinOf(plane: BasalPlane, cusps: readonly Cusp[], apartMm: number): number {
  const marks = Math.hypot(...cusps.map((c) => plane.nadirUncertaintyMm[c]));
  return Math.hypot(plane.tiltUncertaintyDeg, Math.atan2(marks, Math.max(1e-6, apartMm)) / RAD);
}

function findWidest(plane: BasalPlane, curve: readonly CameraView[], reach: ReachLimits | null): { view: CameraView; gapMm: number } | null {
  let best: { view: CameraView; gapMm: number } | null = null;
  for (const view of curve) {
    if (reach && !isReachable(view, reach)) continue;
    const gapMm = Math.min(...describeView(view, plane).gapsMm);
    if (!best || gapMm > best.gapMm) best = { view, gapMm };
  }
  return best;
}

function finishView(role: ViewRole, view: CameraView, withinDeg: number, why: string, plane: BasalPlane, curve: readonly CameraView[], reach: ReachLimits | null): ChosenView {
  const error = measureViewError(view, plane.normalLps, plane.tiltUncertaintyDeg);
  const canReach = !reach || isReachable(view, reach);
  let instead: ChosenView['instead'];
  if (reach && !canReach) {
    for (const other of curve) {
      if (!isReachable(other, reach)) continue;
      const awayDeg = measureViewAngle(view, other);
      if (!instead || awayDeg < instead.awayDeg) instead = { ...other, awayDeg };
    }
  }
  return {
    role, ...view, withinDeg: Math.min(180, withinDeg), reach: canReach, why,
    depthPerRadius: { value: error.depthPerRadius, low: error.depthPerRadiusLow, high: error.depthPerRadiusHigh },
    ...(instead ? { instead } : {}),
  };
}
