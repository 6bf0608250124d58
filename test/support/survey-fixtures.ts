import { lpsFromRoot, placePhantom } from '../../src/core/phantom/place-phantom.ts';
import type { PhantomPose } from '../../src/core/phantom/phantom-types.ts';
import { dot, sub, type Vec3 } from '../../src/core/math/vec3.ts';
import type { PolarBlock, PolarSpec } from '../../src/core/root/polar-block.ts';
import type { RootFrame } from '../../src/core/root/root-frame.ts';
import { CUSPS, type RootSurvey } from '../../src/core/root/root-types.ts';
import type { WallTable } from '../../src/core/root/find-junction.ts';
import type { Fact } from '../../src/core/units/fact.ts';
import type { CtVolume } from '../../src/core/volume/volume-types.ts';

export const SURVEY_STAMP = { by: 'trinadir test', at: '2026-03-02T08:11:00Z' } as const;

/** Axes of the root along x, y and z of LPS, origin at 0. */
export const PLAIN_FRAME: RootFrame = { originLps: [0, 0, 0], normalLps: [0, 0, 1], uLps: [1, 0, 0], vLps: [0, 1, 0] };

/** A polar block whose samples are a function of azimuth (rad), height and radius (mm). */
export function makePolarBlock(spec: PolarSpec, valueHu: (azimuthRad: number, heightMm: number, radiusMm: number) => number, frame: RootFrame = PLAIN_FRAME): PolarBlock {
  const values = new Float32Array(spec.heights * spec.azimuths * spec.radii);
  let at = 0;
  for (let h = 0; h < spec.heights; h++) {
    for (let a = 0; a < spec.azimuths; a++) {
      for (let r = 0; r < spec.radii; r++, at++) {
        values[at] = valueHu((2 * Math.PI * a) / spec.azimuths, spec.lowMm + h * spec.heightStepMm, r * spec.radiusStepMm);
      }
    }
  }
  return { ...spec, frame, valuesHu: values };
}

export function makeWallTable(size: Omit<WallTable, 'radiusMm'>, radiusMm: (azimuthRad: number, heightMm: number) => number): WallTable {
  const radius = new Float64Array(size.heights * size.azimuths);
  for (let h = 0; h < size.heights; h++) {
    for (let a = 0; a < size.azimuths; a++) {
      radius[h * size.azimuths + a] = radiusMm((2 * Math.PI * a) / size.azimuths, size.lowMm + h * size.stepMm);
    }
  }
  return { ...size, radiusMm: radius };
}

/** A cube of voxels about LPS 0 whose samples are a function of LPS mm. */
export function makeCube(voxels: number, stepMm: number, valueHu: (p: Vec3) => number): CtVolume {
  const samplesHu = new Int16Array(voxels ** 3);
  const low = (-(voxels - 1) / 2) * stepMm;
  for (let k = 0, i = 0; k < voxels; k++) {
    for (let j = 0; j < voxels; j++) {
      for (let x = 0; x < voxels; x++, i++) samplesHu[i] = Math.round(valueHu([low + x * stepMm, low + j * stepMm, low + k * stepMm]));
    }
  }
  return {
    samplesHu, dims: [voxels, voxels, voxels], spacingMm: [stepMm, stepMm, stepMm], paddingHu: null,
    lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [stepMm, 0, 0, low, 0, stepMm, 0, low, 0, 0, stepMm, low] },
  };
}

/** The same scan stored with one voxel axis running the other way. */
export function flipAxis(volume: CtVolume, axis: 0 | 1 | 2): CtVolume {
  const last = volume.dims[axis] - 1;
  const samplesHu = new Int16Array(volume.samplesHu.length);
  const [nx, ny, nz] = volume.dims;
  const at = [0, 0, 0];
  for (let k = 0, i = 0; k < nz; k++) {
    for (let j = 0; j < ny; j++) {
      for (let x = 0; x < nx; x++, i++) {
        at[0] = x;
        at[1] = j;
        at[2] = k;
        at[axis] = last - at[axis]!;
        samplesHu[i] = volume.samplesHu[(at[2] * ny + at[1]) * nx + at[0]]!;
      }
    }
  }
  const rows = [...volume.lpsFromVoxel.rows];
  for (let r = 0; r < 3; r++) {
    rows[r * 4 + 3]! += last * rows[r * 4 + axis]!;
    rows[r * 4 + axis] = -rows[r * 4 + axis]!;
  }
  return { ...volume, samplesHu, lpsFromVoxel: { ...volume.lpsFromVoxel, rows } };
}

/** The same scan with its voxel axes in another order: new axis i is old axis order[i]. */
export function reorderAxes(volume: CtVolume, order: readonly [0 | 1 | 2, 0 | 1 | 2, 0 | 1 | 2]): CtVolume {
  const dims = [volume.dims[order[0]], volume.dims[order[1]], volume.dims[order[2]]] as const;
  const [nx, ny] = volume.dims;
  const samplesHu = new Int16Array(volume.samplesHu.length);
  const at = [0, 0, 0];
  for (let k = 0, i = 0; k < dims[2]; k++) {
    for (let j = 0; j < dims[1]; j++) {
      for (let x = 0; x < dims[0]; x++, i++) {
        at[order[0]] = x;
        at[order[1]] = j;
        at[order[2]] = k;
        samplesHu[i] = volume.samplesHu[(at[2]! * ny + at[1]!) * nx + at[0]!]!;
      }
    }
  }
  const old = volume.lpsFromVoxel.rows;
  const rows = [0, 4, 8].flatMap((r) => [...order.map((c) => old[r + c]!), old[r + 3]!]);
  const s = volume.spacingMm;
  return { ...volume, samplesHu, dims, spacingMm: [s[order[0]], s[order[1]], s[order[2]]], lpsFromVoxel: { ...volume.lpsFromVoxel, rows } };
}

/** Every Fact of a survey by its path; levels are named by height. */
export function listFacts(root: RootSurvey): ReadonlyMap<string, Fact> {
  const out = new Map<string, Fact>();
  const walk = (value: unknown, path: string): void => {
    if (value === null || typeof value !== 'object') return;
    if ('status' in value && 'source' in value) out.set(path, value as Fact);
    else if (Array.isArray(value)) value.forEach((v: unknown, i) => walk(v, `${path}[${(v as { heightMm?: unknown } | null)?.heightMm ?? i}]`));
    else for (const [key, v] of Object.entries(value)) if (!['contourLps', 'map', 'deposits'].includes(key)) walk(v, path ? `${path}.${key}` : key);
  };
  walk(root, '');
  return out;
}

/** A point of the patient in the frame of the phantom's root, wherever and however the patient lies. */
export function rootFromLps(pose: PhantomPose, point: Vec3): [number, number, number] {
  const place = placePhantom(pose);
  const from = lpsFromRoot(place, [0, 0, 0]);
  const along = (axis: Vec3): number => dot(sub(lpsFromRoot(place, axis), from), sub(point, from));
  return [along([1, 0, 0]), along([0, 1, 0]), along([0, 0, 1])];
}

export const angleDeg = (a: Vec3, b: Vec3): number => (Math.acos(Math.max(-1, Math.min(1, dot(a, b) / Math.sqrt(dot(a, a) * dot(b, b))))) * 180) / Math.PI;

/** One quantity of two surveys of the same root: how far they differ, over the room their intervals leave. */
export interface SurveyChange {
  readonly path: string;
  /** Difference over the root of the sum of the squared half-widths; over 1 is more than the intervals allow. */
  readonly ratio: number;
  readonly text: string;
}

/**
 * Compares two surveys of one root: Facts by value; nadirs and plane in the root's own frame, against their stated
 * uncertainty. A Fact that only one of them has, or only one of them refuses, counts as an endless change; but the
 * topmost level follows the junction by whole millimetres and may be there once only.
 */
export function compareSurveys(a: RootSurvey, poseA: PhantomPose, b: RootSurvey, poseB: PhantomPose): readonly SurveyChange[] {
  const out: SurveyChange[] = [];
  const put = (path: string, off: number, roomA: number, roomB: number): void => {
    const room = Math.hypot(roomA, roomB);
    out.push({ path, ratio: off === 0 ? 0 : off / room, text: `${path}: ${off.toFixed(3)} of ${room.toFixed(3)}` });
  };
  const [inA, inB] = [listFacts(a), listFacts(b)];
  for (const path of new Set([...inA.keys(), ...inB.keys()])) {
    const [x, y] = [inA.get(path), inB.get(path)];
    if (x && y && x.value !== null && y.value !== null) put(path, Math.abs(x.value - y.value), (x.high! - x.low!) / 2, (y.high! - y.low!) / 2);
    else if ((!x || !y) && path.startsWith('levels')) continue;
    else if (!x || !y || x.value !== y.value) out.push({ path, ratio: Infinity, text: `${path}: ${x?.value} against ${y?.value}` });
  }
  for (const cusp of CUSPS) {
    const off = Math.hypot(...sub(rootFromLps(poseA, a.basalPlane.nadirsLps[cusp]), rootFromLps(poseB, b.basalPlane.nadirsLps[cusp])));
    put(`nadir ${cusp}`, off, a.basalPlane.nadirUncertaintyMm[cusp], b.basalPlane.nadirUncertaintyMm[cusp]);
  }
  const normalOf = (root: RootSurvey, pose: PhantomPose): Vec3 => {
    const { pointLps: p, normalLps: n } = root.basalPlane;
    return sub(rootFromLps(pose, [p[0] + n[0], p[1] + n[1], p[2] + n[2]]), rootFromLps(pose, p));
  };
  put('basal plane', angleDeg(normalOf(a, poseA), normalOf(b, poseB)), a.basalPlane.tiltUncertaintyDeg, b.basalPlane.tiltUncertaintyDeg);
  return out;
}
