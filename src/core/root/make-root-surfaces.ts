import { applyToPoint, invertAffine } from '../units/affine.ts';
import { makePoint, type Affine } from '../units/frames.ts';
import type { WallTable } from './find-junction.ts';
import { lpsFromCylinder, type RootFrame } from './root-frame.ts';
import type { CalciumDeposit } from './root-types.ts';
import { labelComponents } from '../volume/label-components.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { extractIsosurface } from '../surface/extract-isosurface.ts';
import type { TriangleMesh } from '../surface/mesh-types.ts';

/**
 * The lumen of the root as one closed surface: the wall between two heights, capped flat at both ends.
 *
 * Shape     azimuths x rows vertices, then the middles of the caps; the same table gives the same mesh
 * Units     mm
 * Frame     LPS; triangles run counter-clockwise seen from outside
 * Fails     null when fewer than two rows of the table lie within the heights, or a radius there is not positive
 * Accuracy  flat facets between samples: the volume is low by (2 pi / azimuths)^2 / 6, relative
 */
export function makeLumenSurface(frame: RootFrame, wall: WallTable, lowMm: number, highMm: number): TriangleMesh | null {
  const first = Math.max(0, Math.ceil((lowMm - wall.lowMm) / wall.stepMm - 1e-9));
  const last = Math.min(wall.heights - 1, Math.floor((highMm - wall.lowMm) / wall.stepMm + 1e-9));
  const rows = last - first + 1;
  const n = wall.azimuths;
  if (!(rows >= 2 && n >= 3)) return null;
  const verticesLpsMm = new Float32Array(3 * (rows * n + 2));
  const heightAt = (row: number): number => wall.lowMm + (first + row) * wall.stepMm;
  for (let row = 0, at = 0; row < rows; row++) {
    for (let a = 0; a < n; a++, at += 3) {
      const radiusMm = wall.radiusMm[(first + row) * n + a]!;
      if (!(radiusMm > 0 && Number.isFinite(radiusMm))) return null;
      verticesLpsMm.set(lpsFromCylinder(frame, { azimuthRad: (2 * Math.PI * a) / n, heightMm: heightAt(row), radiusMm }), at);
    }
  }
  const [below, above] = [rows * n, rows * n + 1];
  verticesLpsMm.set(lpsFromCylinder(frame, { azimuthRad: 0, heightMm: heightAt(0), radiusMm: 0 }), 3 * below);
  verticesLpsMm.set(lpsFromCylinder(frame, { azimuthRad: 0, heightMm: heightAt(rows - 1), radiusMm: 0 }), 3 * above);
  const triangles = new Uint32Array(3 * (2 * n * (rows - 1) + 2 * n));
  let to = 0;
  const put = (a: number, b: number, c: number): void => {
    triangles[to++] = a;
    triangles[to++] = b;
    triangles[to++] = c;
  };
  for (let a = 0; a < n; a++) {
    const b = (a + 1) % n;
    put(below, b, a);
    for (let row = 0; row + 1 < rows; row++) {
      const [here, up] = [row * n, (row + 1) * n];
      put(here + a, here + b, up + b);
      put(here + a, up + b, up + a);
    }
    put(above, (rows - 1) * n + a, (rows - 1) * n + b);
  }
  return { verticesLpsMm, triangles };
}

/** Beyond a deposit's own size, for those that are longer than they are wide. */
const DEPOSIT_MARGIN_MM = 4;
/** A bright spot belongs to a deposit when it comes this close to its centre, beyond its mean radius. */
const BELONGS_MM = 1.5;

/**
 * Surface of the calcium deposits: where the CT crosses the calcium threshold, around each deposit that was measured.
 * Bright spots that belong to no deposit (contrast in a coronary, bone) are left out.
 *
 * Units     mm, HU
 * Frame     LPS; triangles run counter-clockwise seen from outside
 * Fails     null when there is no deposit, or nothing at its place reaches the threshold
 * Accuracy  as seen: blur is not taken out, so the surface encloses more or less than the measured volumes say
 */
export function makeCalciumSurface(volume: CtVolume, deposits: readonly CalciumDeposit[], thresholdHu: number): TriangleMesh | null {
  const box = findBox(volume, deposits);
  if (!box) return null;
  const { from, dims } = box;
  const samples = cropSamples(volume, from, dims);
  const mask = new Uint8Array(samples.length);
  for (let i = 0; i < mask.length; i++) if (samples[i]! >= thresholdHu) mask[i] = 1;
  const labelled = labelComponents(mask, dims, { connectivity: 26, order: 'first' });
  if (!labelled.ok) return null;
  const { labels, count } = labelled.value;
  const lpsFromVoxel = shiftGrid(volume.lpsFromVoxel, from);
  const isKept = findKept(labels, count, dims, lpsFromVoxel, deposits);
  if (!isKept.includes(1)) return null;
  const dark = Math.min(32767, Math.ceil(thresholdHu)) - 1;
  for (let i = 0; i < samples.length; i++) if (labels[i] !== 0 && isKept[labels[i]!] === 0) samples[i] = dark;
  const surface = extractIsosurface({ samples, dims, lpsFromVoxel }, thresholdHu, { border: 'closed' });
  return surface.ok && surface.value.triangles.length > 0 ? surface.value : null;
}

const reachMm = (deposit: CalciumDeposit): number => Math.cbrt((3 * deposit.volumeMm3) / (4 * Math.PI));

type Triple = readonly [number, number, number];

/** Smallest box of voxels that holds every deposit with its margin, within the volume. */
function findBox(volume: CtVolume, deposits: readonly CalciumDeposit[]): { from: Triple; dims: Triple } | null {
  const voxelFromLps = invertAffine(volume.lpsFromVoxel);
  if (!voxelFromLps || deposits.length === 0) return null;
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (const deposit of deposits) {
    const centre = applyToPoint(voxelFromLps, makePoint<'lps'>(...deposit.centreLps));
    const reach = 2 * reachMm(deposit) + DEPOSIT_MARGIN_MM;
    for (let axis = 0; axis < 3; axis++) {
      // A sphere of radius r reaches r times the length of the inverse's row along each voxel axis.
      const [x, y, z] = voxelFromLps.rows.slice(axis * 4, axis * 4 + 3) as [number, number, number];
      const half = reach * Math.hypot(x, y, z);
      low[axis] = Math.min(low[axis]!, centre[axis]! - half);
      high[axis] = Math.max(high[axis]!, centre[axis]! + half);
    }
  }
  const from = low.map((v) => Math.max(0, Math.floor(v))) as unknown as Triple;
  const dims = high.map((v, axis) => Math.min(volume.dims[axis]! - 1, Math.ceil(v)) - from[axis]! + 1) as unknown as Triple;
  return dims.every((n) => n >= 2) ? { from, dims } : null;
}

function cropSamples(volume: CtVolume, from: Triple, dims: Triple): Int16Array {
  const out = new Int16Array(dims[0] * dims[1] * dims[2]);
  const [nx, ny] = volume.dims;
  for (let k = 0, at = 0; k < dims[2]; k++) {
    for (let j = 0; j < dims[1]; j++, at += dims[0]) {
      const start = ((from[2] + k) * ny + from[1] + j) * nx + from[0];
      out.set(volume.samplesHu.subarray(start, start + dims[0]), at);
    }
  }
  return out;
}

function shiftGrid(grid: Affine<'lps', 'voxel'>, from: Triple): Affine<'lps', 'voxel'> {
  const corner = applyToPoint(grid, makePoint<'voxel'>(...from));
  const rows = [...grid.rows];
  for (let r = 0; r < 3; r++) rows[r * 4 + 3] = corner[r]!;
  return { to: 'lps', from: 'voxel', rows };
}

/** Per label: 1 when one of its voxels lies at a deposit's place. */
function findKept(labels: Int32Array, count: number, dims: Triple, grid: Affine<'lps', 'voxel'>, deposits: readonly CalciumDeposit[]): Uint8Array {
  const isKept = new Uint8Array(count + 1);
  const r = grid.rows;
  for (let k = 0, at = 0; k < dims[2]; k++) {
    for (let j = 0; j < dims[1]; j++) {
      for (let i = 0; i < dims[0]; i++, at++) {
        const label = labels[at]!;
        if (label === 0 || isKept[label] === 1) continue;
        const x = r[0]! * i + r[1]! * j + r[2]! * k + r[3]!;
        const y = r[4]! * i + r[5]! * j + r[6]! * k + r[7]!;
        const z = r[8]! * i + r[9]! * j + r[10]! * k + r[11]!;
        for (const deposit of deposits) {
          const [cx, cy, cz] = deposit.centreLps;
          if (Math.hypot(x - cx, y - cy, z - cz) <= reachMm(deposit) + BELONGS_MM) {
            isKept[label] = 1;
            break;
          }
        }
      }
    }
  }
  return isKept;
}
