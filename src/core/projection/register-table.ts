import { add, along, cross, dot, norm, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import { fitLeastSquares, invertSmall } from '../math/solve-small.ts';
import { fail, succeed, type Result } from '../result.ts';
import { CUSPS, type BasalPlane, type Cusp, type Xyz } from '../root/root-types.ts';
import { makeViewAxes, readView, type CameraView } from './camera-view.ts';
import { makeCameraPoints, projectPoint, type CameraPoints } from './depth-camera.ts';
import { DEPTH_PRIORS, LEAST_SEPARATION_DEG, RADIUS_95 } from './depth-limits.ts';
import { turnVector } from './depth-model.ts';
import type { Clicks, DepthFailureCode, DepthFrame } from './depth-types.ts';
import { measureSeparation } from './measure-depth.ts';
import { quantileOfChiSquare } from './chi-square.ts';

/** A picture with the three cusps marked. */
export interface TableFrame extends Pick<DepthFrame, 'view' | 'calibration' | 'sizePx' | 'clickSdPx'> {
  readonly marks: Readonly<Record<`cusp${Cusp}`, Clicks>>;
}

/** The plan laid on the table. Table frame: axes of the patient as the positioner counts them (LPS), origin at the isocentre. */
export interface TableRegistration {
  /** table = rotation x plan + shift: three rows of four. */
  readonly tableFromPlan: readonly [readonly number[], readonly number[], readonly number[]];
  /** Whole turn of the patient against the scan, deg, and its parts about the left, posterior and head axis with their 95 % half-widths. */
  readonly turnDeg: number;
  readonly turnParts: readonly { readonly about: 'left' | 'posterior' | 'head'; readonly deg: number; readonly withinDeg: number }[];
  /** Basal plane as marked on the table. */
  readonly normalTable: Xyz;
  /** Against the plan's, and the 95 % radius of the marked one. */
  readonly tiltDeg: number;
  readonly tiltWithinDeg: number;
  /** 95 % radius of a nadir of the plan on the table. */
  readonly nadirWithinMm: number;
  /** Distance of each mark from where the registered plan puts it, mm at the isocentre. */
  readonly residuals: readonly { readonly frame: number; readonly cusp: Cusp; readonly mm: number }[];
  readonly rmsMm: number;
  readonly separationDeg: number;
}
export type TableFailureCode = DepthFailureCode | 'cusps-missing' | 'picture-size-missing' | 'cusps-in-line' | 'registration-far' | 'registration-loose';

const RAD = Math.PI / 180;
/** More than this is no patient lying as in the scan, but cusps taken for one another [P]. */
const MOST_TURN_DEG = 30;
/** A plane known less well than this says nothing that the plan did not [P]. */
const MOST_TILT_WITHIN_DEG = 15;
/** 95 % radius of three equal normal components: sqrt of the chi-square quantile 7.815. */
const BALL_95 = Math.sqrt(7.8147);
const SHARED = 15;
const OWN = 5;

/**
 * Rigid registration of the plan to the table by the three cusps marked in two or more views. Table and patient must not have
 * moved between the frames.
 *
 * Units     mm, deg; intervals 95 %
 * Equation  least squares over turn (3), shift (3), the plan's own errors of the nadirs, and per frame the errors of angle,
 *           pixel size and central ray; turn and shift are free
 * Fails     as makeCameraPoints; frames-missing, frames-too-close, cusps-missing, picture-size-missing, marks-disagree (the
 *           marks fit no rigid root), cusps-in-line, registration-far (cusps taken for one another), registration-loose
 * Source    docs/methods/depth.md
 */
export function registerTable(frames: readonly TableFrame[], plane: BasalPlane): Result<TableRegistration, TableFailureCode> {
  if (frames.length < 2) return fail('frames-missing', 'One view cannot place the root in space.', `Mark the three cusps in a second view at least ${LEAST_SEPARATION_DEG} degrees away.`, { frames: frames.length });
  let separationDeg = 0;
  for (const [i, a] of frames.entries()) for (const b of frames.slice(i + 1)) separationDeg = Math.max(separationDeg, measureSeparation(a.view, b.view));
  const cameras: CameraPoints[] = [];
  for (const frame of frames) {
    if (CUSPS.some((c) => !frame.marks[`cusp${c}`]?.length)) return fail('cusps-missing', 'A view lacks one of the cusps R, L and N.', 'Mark all three cusps in each view.', { frame: cameras.length + 1 });
    const camera = makeCameraPoints(frame, CUSPS.map((c) => [`cusp${c}`, frame.marks[`cusp${c}`]] as const));
    if (!camera.ok) return camera;
    if (!camera.value.isSizeKnown) return fail('picture-size-missing', 'The size of a picture is not known, so its middle is not.', 'State columns and rows of each picture.', { frame: cameras.length + 1 });
    cameras.push(camera.value);
  }
  if (!(separationDeg >= LEAST_SEPARATION_DEG - 1e-9)) {
    return fail('frames-too-close', `The views look ${separationDeg.toFixed(1)} degrees apart; ${LEAST_SEPARATION_DEG} are needed.`, `Mark the cusps in a view at least ${LEAST_SEPARATION_DEG} degrees from the first.`, { separationDeg: Math.round(separationDeg * 10) / 10 });
  }
  const fit = fitTable(cameras, plane);
  const { residuals, chiSquare, degrees } = fit;
  const rmsMm = Math.sqrt(residuals.reduce((s, r) => s + r.mm * r.mm, 0) / residuals.length);
  const evidence = { rmsMm: Math.round(rmsMm * 100) / 100, turnDeg: Math.round(fit.turnDeg * 10) / 10 };
  if (!(chiSquare <= quantileOfChiSquare(1 - 1e-4, degrees))) {
    return fail('marks-disagree', `No lie of the planned root fits the marks: they miss it by ${rmsMm.toFixed(1)} mm.`, 'Check which cusp is which in each view and that the table did not move between them; then mark again.', evidence);
  }
  if (!(fit.turnDeg <= MOST_TURN_DEG)) {
    return fail('registration-far', `The marks fit the plan only when the patient is turned by ${fit.turnDeg.toFixed(0)} degrees: cusps were probably taken for one another.`, 'Check which cusp is R, L and N in each view.', evidence);
  }
  if (!(fit.triangleMm > 4 * Math.max(...cameras.flatMap((c) => c.points.filter((p) => p.name.startsWith('cusp')).map((p) => p.mark.sdMm))))) return fail('cusps-in-line', 'The cusps as marked lie nearly in one line, so they hold no plane.', 'Mark the lowest point of each cusp.', evidence);
  if (!(fit.tiltWithinDeg <= MOST_TILT_WITHIN_DEG)) {
    return fail('registration-loose', `The marks hold the plane only to ${fit.tiltWithinDeg.toFixed(0)} degrees.`, 'Click each cusp four times, or take views farther apart.', { ...evidence, tiltWithinDeg: Math.round(fit.tiltWithinDeg) });
  }
  const { rotation, shift } = fit;
  return succeed({
    tableFromPlan: [0, 1, 2].map((i) => [...rotation[i]!, shift[i]!]) as unknown as TableRegistration['tableFromPlan'],
    turnDeg: fit.turnDeg,
    turnParts: (['left', 'posterior', 'head'] as const).map((about, k) => ({ about, deg: fit.turn[k]! / RAD, withinDeg: (1.96 * fit.turnSd[k]!) / RAD })),
    normalTable: fit.normal, tiltDeg: fit.tiltDeg, tiltWithinDeg: fit.tiltWithinDeg, nadirWithinMm: fit.nadirWithinMm, residuals, rmsMm, separationDeg,
  });
}

/** The angle on the table at which the registered root looks as the plan's does at `view`. */
export function moveView(view: CameraView, registration: TableRegistration): CameraView {
  const { beamLps } = makeViewAxes(view);
  return readView(registration.tableFromPlan.map((row) => row[0]! * beamLps[0] + row[1]! * beamLps[1] + row[2]! * beamLps[2]) as unknown as Vec3);
}

interface TableFit {
  readonly rotation: readonly Vec3[];
  readonly shift: Vec3;
  readonly turn: Vec3;
  readonly turnSd: readonly number[];
  readonly turnDeg: number;
  readonly normal: Xyz;
  readonly tiltDeg: number;
  readonly tiltWithinDeg: number;
  readonly nadirWithinMm: number;
  /** Least height of the triangle of the cusps as fitted. */
  readonly triangleMm: number;
  readonly residuals: TableRegistration['residuals'];
  readonly chiSquare: number;
  readonly degrees: number;
}

function fitTable(cameras: readonly CameraPoints[], plane: BasalPlane): TableFit {
  const middle = scale(add(add(plane.nadirsLps.R, plane.nadirsLps.L), plane.nadirsLps.N), 1 / 3);
  const arms = CUSPS.map((c) => sub(plane.nadirsLps[c], middle));
  const radiusMm = arms.reduce((s, a) => s + norm(a), 0) / 3;
  const normal = unit(plane.normalLps);
  const e1 = unit(sub(arms[2]!, scale(normal, dot(arms[2]!, normal))));
  const e2 = cross(normal, e1);
  const heightSd = Math.max(1e-6, Math.tan((plane.tiltUncertaintyDeg / RADIUS_95) * RAD) * radiusMm * Math.sqrt(1.5));
  const lateralSd = CUSPS.map((c) => Math.max(1e-6, plane.nadirUncertaintyMm[c] / RADIUS_95));
  const start = guessPlace(cameras);
  const turnOf = (t: ArrayLike<number>): Vec3 => [t[0]! * 0.1, t[1]! * 0.1, t[2]! * 0.1];
  const nadirsOf = (t: ArrayLike<number>): Vec3[] => {
    const w = turnOf(t);
    const shift = along(along(along(start, [1, 0, 0], t[3]! * 5), [0, 1, 0], t[4]! * 5), [0, 0, 1], t[5]! * 5);
    return arms.map((a, k) => {
      const at = 6 + 3 * k;
      const true_ = along(along(along(a, e1, t[at]! * lateralSd[k]!), e2, t[at + 1]! * lateralSd[k]!), normal, t[at + 2]! * heightSd);
      return add(turnVector(true_, w), shift);
    });
  };
  const n = SHARED + OWN * cameras.length;
  const rows = cameras.length * 6 + (n - 6);
  const angle = DEPTH_PRIORS.positionerDeg.value;
  const write = (t: ArrayLike<number>, out: Float64Array): void => {
    let i = 0;
    const nadirs = nadirsOf(t);
    cameras.forEach((camera, f) => {
      const at = SHARED + OWN * f;
      const axes = makeViewAxes({ primaryDeg: camera.view.primaryDeg + t[at]! * angle, secondaryDeg: camera.view.secondaryDeg + t[at + 1]! * angle });
      const grow = 1 + t[at + 2]! * camera.scaleSd;
      CUSPS.forEach((cusp, k) => {
        const mark = camera.points.find((p) => p.name === `cusp${cusp}`)!.mark;
        const [u, v] = projectPoint(nadirs[k]!, axes, camera.sourceToPatientMm);
        out[i++] = (u * grow - t[at + 3]! * camera.centralRaySdMm - mark.at[0]) / mark.sdMm;
        out[i++] = (v * grow - t[at + 4]! * camera.centralRaySdMm - mark.at[1]) / mark.sdMm;
      });
    });
    for (let k = 6; k < n; k++) out[i++] = t[k]!;
  };
  const wide = new Float64Array(n).fill(100);
  const fit = fitLeastSquares(write, new Float64Array(n), rows, new Float64Array(n).fill(1e-3), wide.map((v) => -v), wide, 60);
  const t = fit.parameters;
  const covariance = fit.inverseNormal ?? invertSmall(new Float64Array(n * n), n);
  const sdOf = (read: (q: ArrayLike<number>) => number): number => {
    if (!covariance) return Infinity;
    const g = Float64Array.from({ length: n }, (_, k) => {
      const [low, high] = [Float64Array.from(t), Float64Array.from(t)];
      low[k]! -= 1e-3;
      high[k]! += 1e-3;
      return (read(high) - read(low)) / 2e-3;
    });
    let sum = 0;
    for (let a = 0; a < n; a++) for (let b = 0; b < n; b++) sum += g[a]! * covariance[a * n + b]! * g[b]!;
    return Math.sqrt(Math.max(0, sum));
  };
  const handed = Math.sign(dot(cross(sub(arms[1]!, arms[2]!), sub(arms[0]!, arms[2]!)), normal)) || 1;
  const normalOf = (q: ArrayLike<number>): Vec3 => {
    const [r, l, c] = nadirsOf(q) as [Vec3, Vec3, Vec3];
    return scale(unit(cross(sub(l, c), sub(r, c))), handed);
  };
  const turn = turnOf(t);
  const rotation = [0, 1, 2].map((i) => [0, 1, 2].map((k) => turnVector([k === 0 ? 1 : 0, k === 1 ? 1 : 0, k === 2 ? 1 : 0], turn)[i]!) as unknown as Vec3);
  const shiftOfMiddle: Vec3 = [start[0] + t[3]! * 5, start[1] + t[4]! * 5, start[2] + t[5]! * 5];
  const nadirs = nadirsOf(t);
  const found = normalOf(t);
  const [s1, s2] = [turnVector(e1, turn), turnVector(e2, turn)];
  const tiltSd = Math.hypot(sdOf((q) => dot(normalOf(q), s1)), sdOf((q) => dot(normalOf(q), s2))) / Math.SQRT2;
  const nadirSd = Math.max(...[0, 1, 2].map((k) => Math.hypot(...[0, 1, 2].map((i) => sdOf((q) => nadirsOf(q)[k]![i]!))) / Math.sqrt(3)));
  const out = new Float64Array(rows);
  write(t, out);
  const residuals = cameras.flatMap((camera, f) => CUSPS.map((cusp, k) => {
    const { sdMm } = camera.points.find((p) => p.name === `cusp${cusp}`)!.mark;
    return { frame: f + 1, cusp, mm: Math.hypot(out[f * 6 + 2 * k]!, out[f * 6 + 2 * k + 1]!) * sdMm };
  }));
  const sides = [norm(sub(nadirs[0]!, nadirs[1]!)), norm(sub(nadirs[1]!, nadirs[2]!)), norm(sub(nadirs[2]!, nadirs[0]!))];
  const area = norm(cross(sub(nadirs[1]!, nadirs[0]!), sub(nadirs[2]!, nadirs[0]!)));
  return {
    rotation, shift: sub(shiftOfMiddle, turnVector(middle, turn)), turn, turnSd: [0, 1, 2].map((k) => sdOf((q) => turnOf(q)[k]!)), turnDeg: norm(turn) / RAD,
    normal: [found[0], found[1], found[2]], tiltDeg: Math.atan2(norm(cross(found, normal)), dot(found, normal)) / RAD, tiltWithinDeg: (Math.atan(tiltSd) / RAD) * RADIUS_95,
    nadirWithinMm: nadirSd * BALL_95, triangleMm: area / Math.max(...sides), residuals, chiSquare: fit.residualSum, degrees: rows - n,
  };
}

/** Middle of the cusps on the table: where the rays through the middles of the marks come nearest to one another. */
function guessPlace(cameras: readonly CameraPoints[]): Vec3 {
  const a = new Float64Array(9);
  const b = new Float64Array(3);
  for (const { axes, points, sourceToPatientMm } of cameras) {
    const cusps = points.filter((p) => p.name.startsWith('cusp'));
    const u = cusps.reduce((s, p) => s + p.mark.at[0], 0) / cusps.length;
    const v = cusps.reduce((s, p) => s + p.mark.at[1], 0) / cusps.length;
    const source = scale(axes.beamLps, -sourceToPatientMm);
    const ray = unit(sub(along(along([0, 0, 0], axes.rightLps, u), axes.upLps, v), source));
    for (let i = 0; i < 3; i++) {
      for (let k = 0; k < 3; k++) {
        const m = (i === k ? 1 : 0) - ray[i]! * ray[k]!;
        a[i * 3 + k]! += m;
        b[i]! += m * source[k]!;
      }
    }
  }
  const inverse = invertSmall(a, 3);
  return inverse ? ([0, 1, 2].map((i) => inverse[i * 3]! * b[0]! + inverse[i * 3 + 1]! * b[1]! + inverse[i * 3 + 2]! * b[2]!) as unknown as Vec3) : [0, 0, 0];
}
