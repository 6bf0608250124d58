import type { Vec3 } from '../math/vec3.ts';
import { applyToPoint, invertAffine } from '../units/affine.ts';
import { lpsPoint } from '../units/frames.ts';
import type { CtVolume } from './volume-types.ts';

/**
 * The part of a volume that holds a ball, on the volume's own grid.
 *
 * Shape     dims of the smallest box of whole voxels around the ball, cut at the volume's edges
 * Units     mm, HU
 * Frame     LPS; lpsFromVoxel is shifted to the box
 * Fails     never; null when the ball lies outside the volume, or fewer than two voxels are left along an axis
 */
export function cropAroundBall(volume: CtVolume, centreLps: Vec3, radiusMm: number): CtVolume | null {
  const voxelFromLps = invertAffine(volume.lpsFromVoxel);
  if (!voxelFromLps) return null;
  const centre = applyToPoint(voxelFromLps, lpsPoint(centreLps[0], centreLps[1], centreLps[2]));
  const low = [0, 0, 0];
  const high = [0, 0, 0];
  for (let axis = 0; axis < 3; axis++) {
    // A row of the inverse is the gradient of that index over space: its length times the radius is the ball's reach.
    const r = axis * 4;
    const reach = radiusMm * Math.hypot(voxelFromLps.rows[r]!, voxelFromLps.rows[r + 1]!, voxelFromLps.rows[r + 2]!);
    low[axis] = Math.max(0, Math.floor(centre[axis]! - reach));
    high[axis] = Math.min(volume.dims[axis]! - 1, Math.ceil(centre[axis]! + reach));
    if (!(high[axis]! - low[axis]! >= 1)) return null;
  }
  const [i0, j0, k0] = low as [number, number, number];
  const [cx, cy, cz] = [0, 1, 2].map((axis) => high[axis]! - low[axis]! + 1) as [number, number, number];
  const [nx, ny] = volume.dims;
  const samplesHu = new Int16Array(cx * cy * cz);
  for (let k = 0, to = 0; k < cz; k++) {
    for (let j = 0; j < cy; j++, to += cx) {
      const from = ((k + k0) * ny + j + j0) * nx + i0;
      samplesHu.set(volume.samplesHu.subarray(from, from + cx), to);
    }
  }
  const { rows } = volume.lpsFromVoxel;
  const shifted = [0, 4, 8].flatMap((r) => [rows[r]!, rows[r + 1]!, rows[r + 2]!, rows[r + 3]! + rows[r]! * i0 + rows[r + 1]! * j0 + rows[r + 2]! * k0]);
  return { samplesHu, dims: [cx, cy, cz], lpsFromVoxel: { to: 'lps', from: 'voxel', rows: shifted }, spacingMm: volume.spacingMm, paddingHu: volume.paddingHu };
}
