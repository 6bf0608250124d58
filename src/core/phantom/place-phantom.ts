import { add, cross, dot, scale, unit, type Vec3 } from '../math/vec3.ts';
import type { Xyz } from '../root/root-types.ts';
import type { PhantomPose } from './phantom-types.ts';

/** Root axes in the scene, and the rigid (or mirrored) way from the scene to LPS. */
export interface PhantomPlacement {
  /** Unit axes of the root frame in scene coordinates: azimuth 0, azimuth 90, normal. */
  readonly u: Vec3;
  readonly v: Vec3;
  readonly n: Vec3;
  /** 3 x 3, row by row: lps = position + m scene. */
  readonly lpsFromScene: readonly number[];
  readonly positionLps: Xyz;
}

/** Turn of p about a unit axis (Rodrigues). */
export function turnAbout(p: Vec3, axis: Vec3, rad: number): [number, number, number] {
  const c = Math.cos(rad);
  return add(add(scale(p, c), scale(cross(axis, p), Math.sin(rad))), scale(axis, dot(axis, p) * (1 - c)));
}

export function placePhantom(pose: PhantomPose): PhantomPlacement {
  const rad = Math.PI / 180;
  const tilt = pose.angulationDeg * rad;
  const lean = pose.leanTowardDeg * rad;
  const n: Vec3 = [-Math.cos(lean) * Math.sin(tilt), -Math.sin(lean) * Math.sin(tilt), Math.cos(tilt)];
  const forward: Vec3 = [0, -1, 0];
  const flat = unit(add(forward, scale(n, -dot(forward, n))));
  const u = turnAbout(flat, n, pose.rightNadirTurnDeg * rad);
  const v = cross(n, u);
  const axis = unit(pose.turn.axisLps);
  const m: number[] = new Array<number>(9).fill(0);
  for (let c = 0; c < 3; c++) {
    const e: [number, number, number] = [0, 0, 0];
    e[c] = c === 0 && pose.isMirrored ? -1 : 1;
    const turned = turnAbout(e, axis, pose.turn.angleDeg * rad);
    for (let r = 0; r < 3; r++) m[r * 3 + c] = turned[r]!;
  }
  return { u, v, n, lpsFromScene: m, positionLps: pose.positionLps };
}

export function sceneFromRoot(p: PhantomPlacement, q: Vec3): [number, number, number] {
  return [
    p.u[0] * q[0] + p.v[0] * q[1] + p.n[0] * q[2],
    p.u[1] * q[0] + p.v[1] * q[1] + p.n[1] * q[2],
    p.u[2] * q[0] + p.v[2] * q[1] + p.n[2] * q[2],
  ];
}

export function lpsFromScene(p: PhantomPlacement, s: Vec3, isDirection = false): [number, number, number] {
  const m = p.lpsFromScene;
  const o = isDirection ? [0, 0, 0] : p.positionLps;
  return [
    o[0]! + m[0]! * s[0] + m[1]! * s[1] + m[2]! * s[2],
    o[1]! + m[3]! * s[0] + m[4]! * s[1] + m[5]! * s[2],
    o[2]! + m[6]! * s[0] + m[7]! * s[1] + m[8]! * s[2],
  ];
}

export function lpsFromRoot(p: PhantomPlacement, q: Vec3): [number, number, number] {
  return lpsFromScene(p, sceneFromRoot(p, q));
}
