import { normalAt, uniformAt } from '../../src/core/math/random.ts';
import type { DepthFrame, DepthPlan, PicturePoint } from '../../src/core/projection/depth-types.ts';

/**
 * Seeded roots with a frame in them, seen by a C-arm: truth, the plan as a scan would give it, and marks with their
 * noise. Written apart from the model under test: rotation matrices instead of its axes, points in space instead of its rows.
 */
type V = [number, number, number];
const RAD = Math.PI / 180;
const add = (a: V, b: V, s = 1): V => [a[0] + s * b[0], a[1] + s * b[1], a[2] + s * b[2]];
const dot = (a: V, b: V): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const cross = (a: V, b: V): V => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const unit = (a: V): V => { const n = Math.hypot(...a); return [a[0] / n, a[1] / n, a[2] / n]; };
type M = [V, V, V];
const apply = (m: M, v: V): V => [dot(m[0], v), dot(m[1], v), dot(m[2], v)];
const product = (a: M, b: M): M => a.map((row) => [0, 1, 2].map((c) => row[0] * b[0][c]! + row[1] * b[1][c]! + row[2] * b[2][c]!) as V) as M;
const aboutX = (r: number): M => [[1, 0, 0], [0, Math.cos(r), -Math.sin(r)], [0, Math.sin(r), Math.cos(r)]];
const aboutY = (r: number): M => [[Math.cos(r), 0, Math.sin(r)], [0, 1, 0], [-Math.sin(r), 0, Math.cos(r)]];
const aboutZ = (r: number): M => [[Math.cos(r), -Math.sin(r), 0], [Math.sin(r), Math.cos(r), 0], [0, 0, 1]];

export interface DepthCaseOptions {
  readonly seed: number;
  readonly index: number;
  /** Beams of the frames. */
  readonly views: readonly { readonly primaryDeg: number; readonly secondaryDeg: number }[] | 'drawn one' | { readonly apartDeg: readonly [number, number] };
  readonly clickSdMm?: number;
  readonly clicks?: number;
  /** SD about each axis of the patient on the table, and the plan's 95 % tilt. */
  readonly patientTurnDeg?: number;
  readonly planTilt95Deg?: number;
  /** 95 % radius of each nadir of the plan. */
  readonly planNadirMm?: number;
  /** SD of pixel size, of the positioner angles and of the frame's tilt. */
  readonly scaleSd?: number;
  readonly angleSdDeg?: number;
  readonly frameTiltDeg?: number;
  readonly withCusps?: boolean;
  readonly isSizeKnown?: boolean;
  /** Table and patient stay where they are between the frames. */
  readonly isTableStill?: boolean;
}
export interface DepthCase {
  readonly frames: readonly DepthFrame[];
  readonly plan: DepthPlan;
  /** Edge on the side of N, and middle of the edge, below the true plane. */
  readonly depthMm: number;
  readonly centreDepthMm: number;
  readonly normalLps: V;
  readonly turn: M;
  /** True nadirs from the isocentre; means something with a still table only. */
  readonly nadirsTable: { readonly R: V; readonly L: V; readonly N: V };
}

export function drawDepthCase(o: DepthCaseOptions): DepthCase {
  let k = 0;
  const z = (): number => normalAt(o.seed, o.index, k++);
  const u = (low: number, high: number): number => low + (high - low) * uniformAt(o.seed, o.index, k++);
  const tilt95 = o.planTilt95Deg ?? 3;
  const nadirMm = o.planNadirMm ?? 1.2;
  const turnSd = o.patientTurnDeg ?? 3;
  // Plan: a plane that leans to the right and forward, nadirs on it.
  const lean = u(15, 40) * RAD;
  const toward = u(-40, 100) * RAD;
  const normal = unit([-Math.sin(lean) * Math.cos(toward), -Math.sin(lean) * Math.sin(toward), Math.cos(lean)]);
  const front = unit(add([0, -1, 0], normal, -dot([0, -1, 0], normal)));
  const left = cross(normal, front); // counter-clockwise seen from the aorta
  const radius = u(10.5, 14);
  const start = u(-25, 25);
  const on = (deg: number, r: number): V => add(add([0, 0, 0], front, r * Math.cos(deg * RAD)), left, r * Math.sin(deg * RAD));
  const at: V = [u(-30, 30), u(-150, -100), u(-300, 200)];
  const nadirOf = (deg: number): V => add(at, on(deg + start + u(-8, 8), radius * u(0.93, 1.07)));
  const planNadirs = { R: nadirOf(0), L: nadirOf(120), N: nadirOf(240) };
  const planNormal = unit(cross(add(planNadirs.L, planNadirs.N, -1), add(planNadirs.R, planNadirs.N, -1)));
  const outward = dot(planNormal, normal) < 0 ? ([-planNormal[0], -planNormal[1], -planNormal[2]] as V) : planNormal;
  const ring: V = [0, 1, 2].map((i) => (planNadirs.R[i]! + planNadirs.L[i]! + planNadirs.N[i]!) / 3) as V;
  const frameLean: V = unit(add(add(outward, front, 0.08 * z()), left, 0.08 * z()));
  const plan: DepthPlan = {
    basalPlane: { pointLps: ring, normalLps: outward, nadirsLps: planNadirs, tiltUncertaintyDeg: tilt95, nadirUncertaintyMm: { R: nadirMm, L: nadirMm, N: nadirMm } },
    ringCentreLps: ring, frameAxisLps: frameLean, frameInflowMm: null,
  };
  // True nadirs: the plan's, wrong by what its doubt says.
  const heightSd = Math.tan((tilt95 / 2.4477) * RAD) * radius * Math.sqrt(1.5);
  const miss = (p: V): V => add(add(add(p, outward, heightSd * z()), front, (nadirMm / 2.4477) * z()), left, (nadirMm / 2.4477) * z());
  const scan = { R: miss(planNadirs.R), L: miss(planNadirs.L), N: miss(planNadirs.N) };
  // On the table: turned, then put anywhere.
  const turn = product(aboutZ(turnSd * z() * RAD), product(aboutY(turnSd * z() * RAD), aboutX(turnSd * z() * RAD)));
  const onTable = (p: V): V => apply(turn, add(p, ring, -1));
  const nadirs = { R: onTable(scan.R), L: onTable(scan.L), N: onTable(scan.N) };
  let trueNormal = unit(cross(add(nadirs.L, nadirs.N, -1), add(nadirs.R, nadirs.N, -1)));
  if (dot(trueNormal, apply(turn, outward)) < 0) trueNormal = [-trueNormal[0], -trueNormal[1], -trueNormal[2]];
  // The frame: middle near the root axis, some depth, its own lean.
  const tiltSd = Math.tan((o.frameTiltDeg ?? 5) * RAD);
  const across = apply(turn, front);
  const across2 = apply(turn, left);
  const axis = unit(add(add(apply(turn, frameLean), across, tiltSd * z()), across2, tiltSd * z()));
  const frameRadius = radius * u(0.8, 1.02);
  const centreDown = u(0, 8);
  const centre = add(add(add([0, 0, 0], trueNormal, dot(nadirs.N, trueNormal) - centreDown), across, 2 * z()), across2, 2 * z());
  const toN = add(nadirs.N, centre, -1);
  const side = unit(add(toN, axis, -dot(toN, axis)));
  const edge = add(centre, side, frameRadius);
  const views = typeof o.views === 'string' ? [drawView()] : 'apartDeg' in o.views ? drawPair(o.views.apartDeg) : o.views;
  function drawView(): { primaryDeg: number; secondaryDeg: number } {
    // On edge for the plan, then up to 12 deg off it: what a room takes.
    const primaryDeg = u(-40, 45);
    const n = outward;
    const rise = n[1] * Math.cos(primaryDeg * RAD) - n[0] * Math.sin(primaryDeg * RAD);
    return { primaryDeg, secondaryDeg: Math.atan2(rise, n[2]) / RAD + u(-12, 12) };
  }
  function drawPair([low, high]: readonly [number, number]): { primaryDeg: number; secondaryDeg: number }[] {
    const beam = (v: { primaryDeg: number; secondaryDeg: number }): V => [Math.sin(v.primaryDeg * RAD) * Math.cos(v.secondaryDeg * RAD), -Math.cos(v.primaryDeg * RAD) * Math.cos(v.secondaryDeg * RAD), Math.sin(v.secondaryDeg * RAD)];
    for (let i = 0; i < 500; i++) {
      const [a, b] = [drawView(), drawView()];
      const t = Math.acos(dot(beam(a), beam(b))) / RAD;
      if (t >= low && t <= high) return [a, b];
    }
    return [{ primaryDeg: -30, secondaryDeg: -20 }, { primaryDeg: 30, secondaryDeg: 0 }];
  }
  const [sid, sod, imager, size] = [1100, 750, 0.308, 1024];
  const mmPerPx = (imager * sod) / sid;
  const s = o.clickSdMm ?? 1;
  const still: V = [12 * z(), 12 * z(), 12 * z()];
  const frames = views.map((view): DepthFrame => {
    // The stated angles are near the true ones; table and patient were moved; the calibration is a little off.
    const angleSd = o.angleSdDeg ?? 0.5;
    const p = (view.primaryDeg + angleSd * z()) * RAD;
    const q = (view.secondaryDeg + angleSd * z()) * RAD;
    const grow = 1 + (o.scaleSd ?? 0.015) * z();
    // C-arm frame: x to the picture's right, y away from the reader, z up; turned by primary about the long axis, secondary about the arm's own.
    const arm = product(aboutZ(p), aboutX(-q));
    const away: V = [12 * z(), 15 * z(), 12 * z()]; // of the root from the isocentre, along the arm's axes
    const toArm = (point: V): V => {
      const c: M = [[arm[0][0], arm[1][0], arm[2][0]], [arm[0][1], arm[1][1], arm[2][1]], [arm[0][2], arm[1][2], arm[2][2]]];
      return o.isTableStill ? apply(c, add(point, still)) : add(apply(c, point), away);
    };
    const project = (point: V): PicturePoint => {
      const [x, y, up] = toArm(point);
      const m = (sid / (sod - y)) * grow; // y points away from the detector
      return [(size - 1) / 2 + (x * m) / imager, (size - 1) / 2 - (up * m) / imager];
    };
    const beamLps: V = [Math.sin(p) * Math.cos(q), -Math.cos(p) * Math.cos(q), Math.sin(q)];
    const limb = unit(cross(axis, beamLps));
    const click = (point: V): PicturePoint[] => Array.from({ length: o.clicks ?? 1 }, () => {
      const [c, r] = project(point);
      return [c + (s / mmPerPx) * z(), r + (s / mmPerPx) * z()];
    });
    return {
      view, calibration: { by: 'geometry', sourceToImageMm: sid, sourceToPatientMm: sod, pixelMm: imager, pixelAt: 'detector' },
      sizePx: o.isSizeKnown === false ? null : { columns: size, rows: size }, clickSdPx: s / mmPerPx,
      marks: {
        cuspN: click(nadirs.N), ...(o.withCusps ? { cuspR: click(nadirs.R), cuspL: click(nadirs.L) } : {}),
        frameInflow: [click(add(centre, limb, frameRadius)), click(add(centre, limb, -frameRadius))],
        frameAxis: [click(add(centre, axis, 5)), click(add(centre, axis, 35))],
      },
    };
  });
  return { frames, plan, depthMm: dot(add(nadirs.N, edge, -1), trueNormal), centreDepthMm: dot(add(nadirs.N, centre, -1), trueNormal), normalLps: trueNormal, turn, nadirsTable: { R: add(nadirs.R, still), L: add(nadirs.L, still), N: add(nadirs.N, still) } };
}
