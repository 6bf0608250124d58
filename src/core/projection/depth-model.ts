import { add, along, cross, dot, norm, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import { fitLeastSquares, solveSmall } from '../math/solve-small.ts';
import { makeViewAxes, type ViewAxes } from './camera-view.ts';
import { measureGap, projectPoint, type CameraFrame } from './depth-camera.ts';
import { DEPTH_PRIORS, RADIUS_95 } from './depth-limits.ts';
import type { DepthDoubt, DepthPlan } from './depth-types.ts';

const RAD = Math.PI / 180;
/** Parameters that all frames share, and those of each frame. */
const SHARED = 18;
const OWN = 8;

/** What the marks say of root and frame; lengths mm, directions unit, frame of the positioner angles (LPS of the patient on the table). */
export interface DepthState {
  /** Edge on the side of the N cusp, and the middle of the edge, below the plane along its normal. */
  readonly depthMm: number;
  readonly centreDepthMm: number;
  readonly normal: Vec3;
  readonly frameAxis: Vec3;
  readonly radiusMm: number;
}
export interface DepthFit {
  readonly state: DepthState;
  /** 1 SD. */
  readonly depthSd: number;
  readonly centreDepthSd: number;
  readonly frameTiltDeg: number;
  /** Angle of the fitted normal to the plan's, and the 95 % radius of that normal. */
  readonly tiltDeg: number;
  readonly tiltWithinDeg: number;
  /** 1 SD of the depth from each cause. */
  readonly causeSd: DepthDoubt;
  /** Sum of squared residuals in units of their SD, and its degrees of freedom. */
  readonly chiSquare: number;
  readonly degrees: number;
}

type Cause = keyof DepthDoubt;
interface Row { readonly cause: Cause; /** Share of the row's variance that is frame shape, the rest is `cause`. */ readonly shapeShare: number }

interface Body {
  /** Relative to the plan's N nadir, LPS. */
  readonly r0: Vec3; readonly l0: Vec3; readonly ring: Vec3;
  readonly normal: Vec3; readonly e1: Vec3; readonly e2: Vec3; readonly axis: Vec3; readonly a1: Vec3; readonly a2: Vec3;
  readonly heightSd: number;
  readonly lateralSd: readonly [n: number, r: number, l: number];
  readonly handed: number;
}

function makeBody(plan: DepthPlan): Body {
  const { basalPlane: plane } = plan;
  const n = plane.nadirsLps.N;
  const normal = unit(plane.normalLps);
  const middle = scale(add(add(plane.nadirsLps.R, plane.nadirsLps.L), n), 1 / 3);
  const ring = sub(plan.ringCentreLps ?? middle, n);
  const e1 = unit(sub(scale(ring, -1), scale(normal, -dot(ring, normal)))); // from the ring's middle toward N, within the plane
  const axis = unit(plan.frameAxisLps ?? normal);
  const a1 = unit(sub(e1, scale(axis, dot(e1, axis))));
  const [r0, l0] = [sub(plane.nadirsLps.R, n), sub(plane.nadirsLps.L, n)];
  // Three heights of this SD on a circle of the nadirs' mean radius tilt their plane by the plan's own uncertainty.
  const radiusMm = (norm(sub(plane.nadirsLps.R, middle)) + norm(sub(plane.nadirsLps.L, middle)) + norm(sub(n, middle))) / 3;
  const heightSd = Math.tan((plane.tiltUncertaintyDeg / RADIUS_95) * RAD) * radiusMm * Math.sqrt(1.5);
  const lateral = plane.nadirUncertaintyMm;
  return {
    r0, l0, ring, normal, e1, e2: cross(normal, e1), axis, a1, a2: cross(axis, a1), heightSd: Math.max(1e-6, heightSd),
    lateralSd: [lateral.N / RADIUS_95, lateral.R / RADIUS_95, lateral.L / RADIUS_95].map((v) => Math.max(1e-6, v)) as [number, number, number],
    handed: Math.sign(dot(cross(l0, r0), normal)) || 1,
  };
}

/** v turned about w by its length, rad (Rodrigues). */
export function turnVector(v: Vec3, w: Vec3): [number, number, number] {
  const angle = norm(w);
  if (angle < 1e-12) return [v[0], v[1], v[2]];
  const k = scale(w, 1 / angle);
  const [s, c] = [Math.sin(angle), Math.cos(angle)];
  return add(add(scale(v, c), scale(cross(k, v), s)), scale(k, dot(k, v) * (1 - c)));
}

interface Scene { readonly n: Vec3; readonly r: Vec3; readonly l: Vec3; readonly normal: Vec3; readonly centre: Vec3; readonly axis: Vec3; readonly radiusMm: number }

/**
 * Root and frame on the table, the true N nadir at the origin. Parameters count in their prior SD. With one frame the place
 * and lean of the frame are guessed from the root and turn with it. With more they are measured: then they are guessed
 * about the plan as it was scanned, so that a leaning frame does not pass for a turned patient and tilt the plane with it.
 */
function buildScene(t: ArrayLike<number>, body: Body, startDepth: number, startRadius: number, isFrameTied: boolean): Scene {
  const w: Vec3 = [0, 1, 2].map((k) => t[k]! * DEPTH_PRIORS.patientTurnDeg.value * RAD) as unknown as Vec3;
  const moved = (at: number, base: Vec3, which: 0 | 1 | 2): [number, number, number] => {
    const s = body.lateralSd[which];
    return along(along(along(base, body.e1, t[at]! * s), body.e2, t[at + 1]! * s), body.normal, t[at + 2]! * body.heightSd);
  };
  const n = moved(3, [0, 0, 0], 0);
  const r = sub(moved(6, body.r0, 1), n);
  const l = sub(moved(9, body.l0, 2), n);
  const normal = scale(unit(cross(l, r)), body.handed);
  const off = DEPTH_PRIORS.frameOffAxisMm.value;
  const centre = along(along(along(sub(body.ring, n), body.e1, t[12]! * off), body.e2, t[13]! * off), body.normal, -(startDepth + t[14]! * 5));
  const lean = Math.tan(Math.hypot(DEPTH_PRIORS.frameTiltDeg.value, isFrameTied ? 0 : DEPTH_PRIORS.patientTurnDeg.value) * RAD);
  const axis = unit(along(along(body.axis, body.a1, t[15]! * lean), body.a2, t[16]! * lean));
  const follow = (v: Vec3): Vec3 => (isFrameTied ? turnVector(v, w) : v);
  return { n: [0, 0, 0], r: turnVector(r, w), l: turnVector(l, w), normal: turnVector(normal, w), centre: follow(centre), axis: follow(axis), radiusMm: startRadius + t[17]! * 2 };
}

function readState(s: Scene): DepthState {
  const toN = sub(s.n, s.centre);
  const side = unit(sub(toN, scale(s.axis, dot(toN, s.axis))));
  const edge = along(s.centre, side, s.radiusMm);
  return { depthMm: -dot(edge, s.normal), centreDepthMm: -dot(s.centre, s.normal), normal: s.normal, frameAxis: s.axis, radiusMm: s.radiusMm };
}

/** Where points of the scene fall in one frame, all errors of that frame in it. */
function makeCamera(t: ArrayLike<number>, at: number, frame: CameraFrame): { project(p: Vec3): [number, number]; readonly axes: ViewAxes } {
  const angle = DEPTH_PRIORS.positionerDeg.value;
  const axes = makeViewAxes({ primaryDeg: frame.view.primaryDeg + t[at + 5]! * angle, secondaryDeg: frame.view.secondaryDeg + t[at + 6]! * angle });
  const f = frame.sourceToPatientMm;
  const z0 = t[at + 2]! * DEPTH_PRIORS.rootAlongBeamMm.value;
  const ray = [t[at + 3]! * frame.centralRaySdMm, t[at + 4]! * frame.centralRaySdMm] as const;
  const start = frame.marks.cuspN.at;
  const grow = 1 + t[at + 7]! * frame.scaleSd;
  // The N nadir seen at this place of the picture lies there along its own ray, z0 from the isocentre.
  const far = (f + z0) / f;
  const place = along(along(scale(axes.beamLps, z0), axes.rightLps, (start[0] + t[at]! * 5 + ray[0]) * far), axes.upLps, (start[1] + t[at + 1]! * 5 + ray[1]) * far);
  return {
    axes,
    project: (p) => {
      const [u, v] = projectPoint(add(place, p), axes, f);
      return [(u - ray[0]) * grow, (v - ray[1]) * grow];
    },
  };
}

/** Parameters with a prior of SD 1; the others (depth, radius, place of the root in the picture) are free. */
const hasPrior = (k: number): boolean => (k < SHARED ? k !== 14 && k !== 17 : (k - SHARED) % OWN >= 2);
function causeOf(k: number): Cause {
  if (k < 12) return 'planeTilt';
  if (k < SHARED) return k < 14 ? 'placeAlongBeam' : 'frameShape';
  return (k - SHARED) % OWN === 2 ? 'placeAlongBeam' : 'calibration';
}

/** Writes the residuals of all marks and priors, each in units of its SD; `rows` (once) gets what each is. */
function writeResiduals(t: ArrayLike<number>, out: Float64Array, frames: readonly CameraFrame[], body: Body, startDepth: number, startRadius: number, rows?: Row[]): void {
  let i = 0;
  const put = (value: number, cause: Cause, shapeShare = 0): void => {
    out[i++] = value;
    rows?.push({ cause, shapeShare });
  };
  const scene = buildScene(t, body, startDepth, startRadius, frames.length === 1);
  frames.forEach((frame, f) => {
    const camera = makeCamera(t, SHARED + f * OWN, frame);
    const { cuspN, cuspR, cuspL, inflow, axis } = frame.marks;
    for (const [mark, point] of [[cuspN, scene.n], [cuspR, scene.r], [cuspL, scene.l]] as const) {
      if (!mark) continue;
      const [u, v] = camera.project(point);
      put((u - mark.at[0]) / mark.sdMm, 'clicks');
      put((v - mark.at[1]) / mark.sdMm, 'clicks');
    }
    // The ends of the edge as seen: those of its diameter square to axis and beam.
    const across = scale(unit(cross(scene.axis, camera.axes.beamLps)), scene.radiusMm);
    const one = camera.project(sub(scene.centre, across));
    const two = camera.project(add(scene.centre, across));
    const [a, b] = inflow[0].at[0] <= inflow[1].at[0] ? inflow : [inflow[1], inflow[0]];
    const half: [number, number] = [(b.at[0] - a.at[0]) / 2, (b.at[1] - a.at[1]) / 2];
    const sd = Math.hypot(a.sdMm, b.sdMm) / 2;
    put(((one[0] + two[0]) / 2 - (a.at[0] + b.at[0]) / 2) / sd, 'clicks');
    put(((one[1] + two[1]) / 2 - (a.at[1] + b.at[1]) / 2) / sd, 'clicks');
    let seen: [number, number] = [(two[0] - one[0]) / 2, (two[1] - one[1]) / 2];
    if (seen[0] * half[0] + seen[1] * half[1] < 0) seen = [-seen[0], -seen[1]];
    const length = Math.hypot(half[0], half[1]);
    const dir = [half[0] / length, half[1] / length] as const;
    const [alongSd, acrossSd] = [Math.hypot(sd, DEPTH_PRIORS.edgeAlongMm.value), Math.hypot(sd, DEPTH_PRIORS.edgeAcrossMm.value)];
    put((seen[0] * dir[0] + seen[1] * dir[1] - length) / alongSd, 'clicks', 1 - (sd / alongSd) ** 2);
    put((seen[1] * dir[0] - seen[0] * dir[1]) / acrossSd, 'clicks', 1 - (sd / acrossSd) ** 2);
    if (axis) {
      const [p, q] = axis;
      const from = camera.project(scene.centre);
      const to = camera.project(along(scene.centre, scene.axis, 10));
      const gap = measureGap(from, to) || 1e-9;
      const click = Math.hypot(p.sdMm, q.sdMm);
      const axisSd = Math.hypot(click, DEPTH_PRIORS.axisStraightMm.value);
      put(((q.at[0] - p.at[0]) * (to[1] - from[1]) - (q.at[1] - p.at[1]) * (to[0] - from[0])) / gap / axisSd, 'clicks', 1 - (click / axisSd) ** 2);
    }
  });
  const count = SHARED + OWN * frames.length;
  for (let k = 0; k < count; k++) if (hasPrior(k)) put(t[k]!, causeOf(k));
}

const STEP = 1e-3;

/**
 * Root, frame and C-arm that fit all marks best, with the doubt of the depth that follows from them.
 *
 * Shape     any number of frames; each adds two picture coordinates of N, of the middle of the edge, its half width and
 *           lean, one of the axis, and two of R and of L where marked
 * Equation  least squares of marks and priors, each over its SD; covariance C = (J'J)^-1; SD of a quantity with gradient
 *           g: sqrt(g'C g); part of row i: (g'C J_i)^2, which add up to that
 * Frame     LPS of the patient on the table, the true N nadir at the origin; each frame may be shifted freely
 * Source    docs/methods/depth.md
 */
export function fitDepth(frames: readonly CameraFrame[], plan: DepthPlan, startDepth: number): DepthFit {
  const body = makeBody(plan);
  const startRadius = frames.reduce((s, f) => s + measureGap(f.marks.inflow[0].at, f.marks.inflow[1].at) / 2, 0) / frames.length;
  const n = SHARED + OWN * frames.length;
  const rows: Row[] = [];
  writeResiduals(new Float64Array(n), new Float64Array(64 * (frames.length + 1)), frames, body, startDepth, startRadius, rows);
  const write = (t: ArrayLike<number>, out: Float64Array): void => writeResiduals(t, out, frames, body, startDepth, startRadius);
  const fit = fitLeastSquares(write, new Float64Array(n), rows.length, new Float64Array(n).fill(STEP), new Float64Array(n).fill(-60), new Float64Array(n).fill(60), 30);
  const t = fit.parameters;
  const stateAt = (q: Float64Array): Scene => buildScene(q, body, startDepth, startRadius, frames.length === 1);
  const state = readState(stateAt(t));
  const jacobian = differentiate(write, t, rows.length);
  const normalMatrix = new Float64Array(n * n);
  for (let i = 0; i < rows.length; i++) {
    for (let a = 0; a < n; a++) {
      const v = jacobian[i * n + a]!;
      if (v !== 0) for (let b = 0; b < n; b++) normalMatrix[a * n + b]! += v * jacobian[i * n + b]!;
    }
  }
  // Quantities whose doubt is asked for, each with its gradient: depth, depth of the middle, and the two ways the normal can wander.
  const gradients = [0, 1, 2, 3].map(() => new Float64Array(n));
  const readAll = (q: Float64Array): readonly number[] => {
    const x = stateAt(q);
    const { depthMm, centreDepthMm } = readState(x);
    return [depthMm, centreDepthMm, dot(x.normal, body.e1), dot(x.normal, body.e2)];
  };
  const q = Float64Array.from(t);
  for (let k = 0; k < SHARED; k++) { // what is a frame's own moves none of them
    q[k] = t[k]! - STEP;
    const low = readAll(q);
    q[k] = t[k]! + STEP;
    readAll(q).forEach((high, m) => (gradients[m]![k] = (high - low[m]!) / (2 * STEP)));
    q[k] = t[k]!;
  }
  const partsOf = (which: number): Float64Array => {
    const cg = solveSmall(Float64Array.from(normalMatrix), Float64Array.from(gradients[which]!), n);
    return Float64Array.from(rows, (_, i) => {
      let sum = 0;
      for (let k = 0; k < n; k++) sum += jacobian[i * n + k]! * (cg?.[k] ?? Infinity);
      return sum * sum;
    });
  };
  const parts = partsOf(0);
  const causes: Record<Cause, number> = { clicks: 0, planeTilt: 0, placeAlongBeam: 0, calibration: 0, frameShape: 0 };
  rows.forEach((row, i) => {
    causes[row.cause] += parts[i]! * (1 - row.shapeShare);
    causes.frameShape += parts[i]! * row.shapeShare;
  });
  const total = (of: Float64Array): number => Math.sqrt(of.reduce((s, v) => s + v, 0));
  const tiltSd = Math.hypot(total(partsOf(2)), total(partsOf(3))) / Math.SQRT2;
  const root = (v: number): number => Math.sqrt(v);
  return {
    state, depthSd: total(parts), centreDepthSd: total(partsOf(1)),
    frameTiltDeg: measureAngle(state.frameAxis, state.normal), tiltDeg: measureAngle(state.normal, body.normal),
    tiltWithinDeg: (Math.atan(tiltSd) / RAD) * RADIUS_95,
    causeSd: { clicks: root(causes.clicks), planeTilt: root(causes.planeTilt), placeAlongBeam: root(causes.placeAlongBeam), calibration: root(causes.calibration), frameShape: root(causes.frameShape) },
    chiSquare: fit.residualSum, degrees: rows.length - n,
  };
}

function differentiate(write: (t: ArrayLike<number>, out: Float64Array) => void, t: Float64Array, rows: number): Float64Array {
  const n = t.length;
  const out = new Float64Array(rows * n);
  const [low, high] = [new Float64Array(rows), new Float64Array(rows)];
  for (let k = 0; k < n; k++) {
    const q = Float64Array.from(t);
    q[k]! += STEP;
    write(q, high);
    q[k]! -= 2 * STEP;
    write(q, low);
    for (let i = 0; i < rows; i++) out[i * n + k] = (high[i]! - low[i]!) / (2 * STEP);
  }
  return out;
}

function measureAngle(a: Vec3, b: Vec3): number {
  return Math.atan2(norm(cross(a, b)), dot(a, b)) / RAD;
}
