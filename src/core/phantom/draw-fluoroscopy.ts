import { add, along, cross, dot, norm, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import { normalAt } from '../math/random.ts';
import type { ByCusp, Xyz } from '../root/root-types.ts';

/** A frame standing in a root: a cone from the inflow edge upward, of wires; LPS, mm. */
export interface FluoroscopyScene {
  readonly nadirsLps: ByCusp<Xyz>;
  /** Unit, from the ventricle to the aorta. */
  readonly normalLps: Xyz;
  readonly frame: {
    /** Middle of the inflow edge. */
    readonly centreLps: Xyz;
    /** Unit, toward the aorta. */
    readonly axisLps: Xyz;
    readonly inflowRadiusMm: number;
    readonly outflowRadiusMm: number;
    readonly heightMm: number;
    readonly cells: number;
  };
  /** Radius of the ball that stands for the tip of a pigtail in the N cusp; R and L carry none in a room. */
  readonly ballMm: number;
  readonly ballsAt: readonly ('R' | 'L' | 'N')[];
}

/** A C-arm over it: true angles, distances and where its isocentre lies in the patient. */
export interface FluoroscopyCamera {
  readonly primaryDeg: number;
  readonly secondaryDeg: number;
  readonly sourceToImageMm: number;
  readonly sourceToPatientMm: number;
  /** At the detector. */
  readonly pixelMm: number;
  readonly columns: number;
  readonly rows: number;
  readonly isocentreLps: Xyz;
}

export type Pixel = readonly [columnPx: number, rowPx: number];
/** Exact places of what a person marks, pixels; [0, 0] is the centre of the first pixel. */
export interface FluoroscopyMarks {
  readonly cuspN: Pixel;
  readonly cuspR: Pixel;
  readonly cuspL: Pixel;
  readonly frameInflow: readonly [Pixel, Pixel];
  readonly frameAxis: readonly [Pixel, Pixel];
}

interface Arm { readonly beam: Vec3; readonly right: Vec3; readonly up: Vec3; readonly source: Vec3; readonly detector: Vec3 }

/**
 * The arm by turning an upright one: first about the patient's long axis (primary), then about the arm's own side axis
 * (secondary). Written as rotations, apart from the closed form of projection/camera-view.ts, which this checks.
 */
function raiseArm(c: FluoroscopyCamera): Arm {
  const turn = (v: Vec3, axis: Vec3, deg: number): Vec3 => {
    const [s, k] = [Math.sin((deg * Math.PI) / 180), Math.cos((deg * Math.PI) / 180)];
    return add(add(scale(v, k), scale(cross(axis, v), s)), scale(axis, dot(axis, v) * (1 - k)));
  };
  const side = turn([1, 0, 0], [0, 0, 1], c.primaryDeg);
  const place = (v: Vec3): Vec3 => turn(turn(v, [0, 0, 1], c.primaryDeg), side, -c.secondaryDeg);
  const beam = place([0, -1, 0]);
  return {
    beam, right: place([1, 0, 0]), up: place([0, 0, 1]),
    source: along(c.isocentreLps, beam, -c.sourceToPatientMm), detector: along(c.isocentreLps, beam, c.sourceToImageMm - c.sourceToPatientMm),
  };
}

/** Where a point of the patient falls on the detector. */
export function projectToPixel(point: Vec3, camera: FluoroscopyCamera): [columnPx: number, rowPx: number] {
  const arm = raiseArm(camera);
  const ray = sub(point, arm.source);
  const onDetector = sub(along(arm.source, ray, camera.sourceToImageMm / dot(ray, arm.beam)), arm.detector);
  return [(camera.columns - 1) / 2 + dot(onDetector, arm.right) / camera.pixelMm, (camera.rows - 1) / 2 - dot(onDetector, arm.up) / camera.pixelMm];
}

/** Depths of a scene, + toward the ventricle: the edge on the side of the N cusp, and the middle of the edge. */
export function measureScene({ nadirsLps, normalLps, frame }: FluoroscopyScene): { readonly depthMm: number; readonly centreDepthMm: number; readonly frameTiltDeg: number } {
  const toN = sub(nadirsLps.N, frame.centreLps);
  const side = unit(sub(toN, scale(frame.axisLps, dot(toN, frame.axisLps))));
  const edge = along(frame.centreLps, side, frame.inflowRadiusMm);
  return {
    depthMm: dot(sub(nadirsLps.N, edge), normalLps), centreDepthMm: dot(toN, normalLps),
    frameTiltDeg: (Math.atan2(norm(cross(frame.axisLps, normalLps)), dot(frame.axisLps, normalLps)) * 180) / Math.PI,
  };
}

/** What a person would mark, exactly: the ends of the edge are where its picture reaches farthest across the frame's axis. */
export function findFluoroscopyMarks(scene: FluoroscopyScene, camera: FluoroscopyCamera): FluoroscopyMarks {
  const at = (p: Vec3): [number, number] => projectToPixel(p, camera);
  const { centreLps, axisLps, inflowRadiusMm, heightMm } = scene.frame;
  const frameAxis = [at(along(centreLps, axisLps, 0.1 * heightMm)), at(along(centreLps, axisLps, 0.9 * heightMm))] as const;
  const across = [frameAxis[1][1] - frameAxis[0][1], frameAxis[0][0] - frameAxis[1][0]] as const;
  const [u, v] = spanRing(axisLps);
  const edge = (angle: number): [number, number] => at(along(along(centreLps, u, inflowRadiusMm * Math.cos(angle)), v, inflowRadiusMm * Math.sin(angle)));
  const reach = (angle: number): number => {
    const p = edge(angle);
    return p[0] * across[0] + p[1] * across[1];
  };
  const climb = (sign: 1 | -1): [number, number] => {
    let best = 0;
    for (let k = 0; k < 360; k++) if (sign * reach((k * Math.PI) / 180) > sign * reach(best)) best = (k * Math.PI) / 180;
    for (let step = Math.PI / 180; step > 1e-10; step /= 2) for (const d of [-step, step]) if (sign * reach(best + d) > sign * reach(best)) best += d;
    return edge(best);
  };
  return { cuspN: at(scene.nadirsLps.N), cuspR: at(scene.nadirsLps.R), cuspL: at(scene.nadirsLps.L), frameInflow: [climb(-1), climb(1)], frameAxis };
}

function spanRing(axis: Vec3): [Vec3, Vec3] {
  const u = unit(cross(axis, Math.abs(axis[0]) < 0.9 ? [1, 0, 0] : [0, 1, 0]));
  return [u, cross(axis, u)];
}

/** Attenuation per mm; the wire is thicker than any real one so that a small picture shows it. */
const BODY_PER_MM = 0.018;
const BONE_PER_MM = 0.03;
const WIRE_PER_MM = 0.5;
const WIRE_MM = 0.5;
const BALL_PER_MM = 0.35;
const FULL = 4095;

/**
 * The picture by tracing one ray to each pixel through analytic shapes: body (elliptic cylinder), spine (cylinder), frame
 * (wires on a cone and a full ring of 1 mm at its inflow edge), balls.
 *
 * Shape     rows x columns, 12 bit, row by row; dark where much is absorbed
 * Equation  I = I0 exp(- sum of attenuation x chord) + noise of SD sqrt(I) x noiseRatio
 * Source    docs/methods/depth.md
 */
export function drawFluoroscopy(scene: FluoroscopyScene, camera: FluoroscopyCamera, noise: FluoroscopyNoise): Uint16Array {
  return drawFluoroscopyRun(scene, camera, [noise]);
}
export interface FluoroscopyNoise { readonly seed: number; readonly ratio: number }

/** Several pictures of one scene at rest, one after another; each has its own noise. */
export function drawFluoroscopyRun(scene: FluoroscopyScene, camera: FluoroscopyCamera, noises: readonly FluoroscopyNoise[]): Uint16Array {
  const absorb = absorbRays(scene, camera);
  const least = absorb.reduce((m, v) => Math.min(m, v), Infinity);
  const out = new Uint16Array(noises.length * absorb.length);
  noises.forEach(({ seed, ratio }, f) => {
    for (let i = 0; i < absorb.length; i++) {
      const level = 0.85 * FULL * Math.exp(least - absorb[i]!);
      const grain = ratio > 0 ? ratio * Math.sqrt(level) * normalAt(seed, i, 0) : 0;
      out[f * absorb.length + i] = Math.min(FULL, Math.max(0, Math.round(level + grain)));
    }
  });
  return out;
}

function absorbRays(scene: FluoroscopyScene, camera: FluoroscopyCamera): Float64Array {
  const { columns, rows, pixelMm } = camera;
  const arm = raiseArm(camera);
  const ring = spanRing(scene.frame.axisLps);
  const body = scene.frame.centreLps;
  const absorb = new Float64Array(rows * columns);
  for (let r = 0; r < rows; r++) {
    for (let c = 0; c < columns; c++) {
      const target = along(along(arm.detector, arm.right, (c - (columns - 1) / 2) * pixelMm), arm.up, -(r - (rows - 1) / 2) * pixelMm);
      const ray = unit(sub(target, arm.source));
      let sum = BODY_PER_MM * crossCylinder(arm.source, ray, body, 165, 105) + BONE_PER_MM * crossCylinder(arm.source, ray, add(body, [-25, 75, 0]), 17, 17);
      sum += crossFrame(arm.source, ray, scene.frame, ring);
      for (const cusp of scene.ballsAt) sum += BALL_PER_MM * crossBall(arm.source, ray, scene.nadirsLps[cusp], scene.ballMm);
      absorb[r * columns + c] = sum;
    }
  }
  return absorb;
}

/** Chord through an upright elliptic cylinder about the long axis of the patient. */
function crossCylinder(from: Vec3, ray: Vec3, at: Vec3, halfX: number, halfY: number): number {
  const [x, y] = [(from[0] - at[0]) / halfX, (from[1] - at[1]) / halfY];
  const [dx, dy] = [ray[0] / halfX, ray[1] / halfY];
  return chord(dx * dx + dy * dy, x * dx + y * dy, x * x + y * y - 1);
}
function crossBall(from: Vec3, ray: Vec3, at: Vec3, radius: number): number {
  const o = sub(from, at);
  return chord(1, dot(o, ray), dot(o, o) - radius * radius);
}
function chord(a: number, half: number, c: number): number {
  const d = half * half - a * c;
  return d > 0 && a > 0 ? (2 * Math.sqrt(d)) / a : 0;
}

/** Both walls of the cone: a wire crossed at a slant is longer, up to four times. */
function crossFrame(from: Vec3, ray: Vec3, f: FluoroscopyScene['frame'], [u, v]: readonly [Vec3, Vec3]): number {
  const o = sub(from, f.centreLps);
  const [ox, oy, oz] = [dot(o, u), dot(o, v), dot(o, f.axisLps)];
  const [dx, dy, dz] = [dot(ray, u), dot(ray, v), dot(ray, f.axisLps)];
  const slope = (f.outflowRadiusMm - f.inflowRadiusMm) / f.heightMm;
  const radius = f.inflowRadiusMm + slope * oz;
  const a = dx * dx + dy * dy - slope * slope * dz * dz;
  const half = ox * dx + oy * dy - slope * radius * dz;
  const c = ox * ox + oy * oy - radius * radius;
  const d = half * half - a * c;
  if (!(d > 0) || Math.abs(a) < 1e-12) return 0;
  let sum = 0;
  for (const t of [(-half - Math.sqrt(d)) / a, (-half + Math.sqrt(d)) / a]) {
    const height = oz + t * dz;
    const here = f.inflowRadiusMm + slope * height;
    if (height < 0 || height > f.heightMm || here <= 0) continue;
    const [x, y] = [ox + t * dx, oy + t * dy];
    if (!isWire(Math.atan2(y, x), height, here, f)) continue;
    const facing = Math.abs((x * dx + y * dy) / here - slope * dz) / Math.hypot(1, slope);
    sum += (WIRE_PER_MM * WIRE_MM) / Math.max(0.25, facing);
  }
  return sum;
}

/** Diamonds: two families of wires that wind in opposite senses, and the ring of the edge. */
function isWire(angle: number, height: number, radius: number, f: FluoroscopyScene['frame']): boolean {
  if (height < 1) return true;
  const turns = (angle / (2 * Math.PI)) * f.cells;
  const climb = (height / f.heightMm) * Math.max(2, Math.round((f.heightMm * f.cells) / (2 * Math.PI * f.inflowRadiusMm) / 1.4));
  const wire = (WIRE_MM * f.cells) / (2 * Math.PI * radius) / 2;
  const off = (x: number): number => Math.abs(x - Math.round(x));
  return off(turns + climb) < wire * 1.2 || off(turns - climb) < wire * 1.2;
}
