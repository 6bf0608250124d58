import { add, cross, dot, scale, sub, unit, type Vec3 } from '../../src/core/math/vec3.ts';
import { makeViewAxes, type CameraView } from '../../src/core/projection/camera-view.ts';
import type { BasalPlane } from '../../src/core/root/root-types.ts';
import type { RunAnswer } from '../../src/formats/api/run-schemas.ts';
import type { ServedRun } from './serve-depth.ts';

/** A picture whose truth is known: a cylinder of this radius whose inflow edge lies `depthMm` below the N nadir, along the normal. */
export interface DepthTruth {
  readonly plane: BasalPlane;
  readonly view: CameraView;
  readonly depthMm: number;
  readonly radiusMm: number;
  readonly runId: string;
  readonly frames?: number;
}
export interface DrawnTruth {
  readonly run: ServedRun;
  /** Column and row of the points of the last frame. */
  readonly at: { readonly cuspN: readonly [number, number]; readonly inflow: readonly [readonly [number, number], readonly [number, number]] };
  readonly nadirs: Readonly<Record<'R' | 'L' | 'N', readonly [number, number]>>;
}
const SIDE = 512;
const SID = 1100;
const SOD = 750;
const PIXEL = 0.25;

/** Projected by hand from PS3.3 C.8.7.5 (not with the code under test): beam, right and up of the view, divergence from the source. */
export function drawTruth({ plane, view, depthMm, radiusMm, runId, frames = 6 }: DepthTruth): DrawnTruth {
  const axes = makeViewAxes(view);
  const normal = plane.normalLps;
  // The isocentre stands some millimetres beside the root, as on a table.
  const centre = add(plane.pointLps, [4, -3, 6]);
  const project = (p: Vec3): readonly [number, number] => {
    const d = sub(p, centre);
    const gain = SOD / (SOD + dot(d, axes.beamLps)) / (PIXEL * SOD / SID);
    return [(SIDE - 1) / 2 + dot(d, axes.rightLps) * gain, (SIDE - 1) / 2 - dot(d, axes.upLps) * gain];
  };
  const nadir = plane.nadirsLps.N;
  const axisPoint = plane.pointLps;
  // The edge's plane lies depthMm below the N nadir, which lies on the basal plane.
  const edge = (heightMm: number, depth: number): Vec3 => add(axisPoint, scale(normal, dot(sub(nadir, axisPoint), normal) - depth + heightMm));
  const side = unit(cross(normal, axes.beamLps));
  const ends = (heightMm: number, depth: number): readonly [Vec3, Vec3] => [add(edge(heightMm, depth), scale(side, -radiusMm)), add(edge(heightMm, depth), scale(side, radiusMm))];
  const about: RunAnswer = { runId, frames, rows: SIDE, columns: SIDE, views: [view], sourceToImageMm: SID, sourceToPatientMm: SOD, pixelMm: PIXEL, pixelAt: 'detector', findings: [] };
  const drawn = new Map<number, Uint8Array>();
  const grey = (frame: number): Uint8Array => {
    const known = drawn.get(frame);
    if (known) return known;
    const out = new Uint8Array(SIDE * SIDE);
    for (let r = 0; r < SIDE; r++) for (let c = 0; c < SIDE; c++) out[r * SIDE + c] = 150 + 40 * Math.sin(c / 90) + 25 * Math.cos(r / 60) + ((c * 7 + r * 13 + frame * 5) % 11) - 5;
    const dark = (p: readonly [number, number], size: number, by: number): void => {
      for (let r = Math.floor(p[1] - size); r <= p[1] + size; r++) for (let c = Math.floor(p[0] - size); c <= p[0] + size; c++) {
        if (r >= 0 && c >= 0 && r < SIDE && c < SIDE && Math.hypot(c - p[0], r - p[1]) <= size) out[r * SIDE + c] = Math.max(10, out[r * SIDE + c]! - by);
      }
    };
    const depth = depthMm - (frames - frame) * 0.8; // it comes down to its place in the last frame
    const strut = (a: Vec3, b: Vec3): void => { for (let t = 0; t <= 1; t += 0.005) dark(project(add(a, scale(sub(b, a), t))), 1.1, 45); };
    for (let h = 0; h < 24; h += 6) for (let k = 0; k < 12; k++) {
      const on = (angle: number, height: number): Vec3 => add(edge(height, depth), add(scale(side, radiusMm * Math.cos(angle)), scale(cross(side, normal), radiusMm * Math.sin(angle))));
      const step = Math.PI / 6;
      strut(on(k * step, h), on((k + 0.5) * step, h + 3));
      strut(on((k + 0.5) * step, h + 3), on((k + 1) * step, h));
      strut(on(k * step, h + 6), on((k + 0.5) * step, h + 3));
    }
    // A pigtail whose tip lies in the N sinus.
    for (let t = 0; t < 1; t += 0.004) dark(project(add(nadir, [2 * Math.sin(9 * t), -2 * t, 40 * t * t])), 1.6, 60);
    drawn.set(frame, out);
    return out;
  };
  const [a, b] = ends(0, depthMm);
  return { run: { about, grey }, at: { cuspN: project(nadir), inflow: [project(a), project(b)] }, nadirs: { R: project(plane.nadirsLps.R), L: project(plane.nadirsLps.L), N: project(nadir) } };
}
