import { composeAffine, applyToPoint, applyToVector } from '../../src/core/units/affine.ts';
import type { Affine, LpsPoint, LpsVector, VoxelPoint } from '../../src/core/units/frames.ts';

/**
 * Never called: checked by `tsc -p tsconfig.test.json`. Each line below must be an error; when the types stop
 * biting, the unused `@ts-expect-error` is one.
 */
export function neverCalled(
  lpsFromVoxel: Affine<'lps', 'voxel'>,
  rootFromLps: Affine<'root', 'lps'>,
  p: LpsPoint,
  v: LpsVector,
  index: VoxelPoint,
): readonly unknown[] {
  const right: LpsPoint = applyToPoint(lpsFromVoxel, index);
  const alsoRight: Affine<'root', 'voxel'> = composeAffine(rootFromLps, lpsFromVoxel);
  return [
    right,
    alsoRight,
    // @ts-expect-error a patient point is not a voxel index
    applyToPoint(lpsFromVoxel, p),
    // @ts-expect-error a voxel index is not a patient point
    applyToPoint(rootFromLps, index),
    // @ts-expect-error a direction is not a point
    applyToPoint(rootFromLps, v),
    // @ts-expect-error a point is not a direction
    applyToVector(rootFromLps, p),
    // @ts-expect-error inner frames do not meet
    composeAffine(lpsFromVoxel, rootFromLps),
    // @ts-expect-error three bare numbers have no frame
    applyToPoint(rootFromLps, [1, 2, 3]),
  ];
}
