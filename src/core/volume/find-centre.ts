import { applyToPoint } from '../units/affine.ts';
import { makePoint, type LpsPoint } from '../units/frames.ts';
import type { CtVolume } from './volume-types.ts';

/** Middle of a volume: half way between its outermost voxel centres. LPS mm. */
export function findCentre({ dims, lpsFromVoxel }: Pick<CtVolume, 'dims' | 'lpsFromVoxel'>): LpsPoint {
  return applyToPoint(lpsFromVoxel, makePoint<'voxel'>((dims[0] - 1) / 2, (dims[1] - 1) / 2, (dims[2] - 1) / 2));
}
