import type { Vec3 } from '../../core/math/vec3.ts';
import { fail, type Failure } from '../../core/result.ts';
import { CUSPS, type Landmarks } from '../../core/root/root-types.ts';
import { applyToPoint, invertAffine } from '../../core/units/affine.ts';
import { makePoint } from '../../core/units/frames.ts';
import type { CtVolume } from '../../core/volume/volume-types.ts';

/** A small file that a person handed in, with the hash that goes into the plan. */
export interface HandedFile<T> {
  readonly content: T;
  readonly sha256: string;
}
export type LandmarksMisfitCode = 'landmarks-other-frame' | 'landmarks-outside-scan';

/**
 * Whether marks can belong to this volume.
 * Fails   landmarks-other-frame (both sides name a frame of reference and they differ), landmarks-outside-scan
 */
export function checkLandmarks(marks: Landmarks, volume: CtVolume, frameOfReferenceUid: string | null): Failure<LandmarksMisfitCode> | null {
  const theirs = marks.frameOfReferenceUid;
  if (theirs !== undefined && theirs !== '' && frameOfReferenceUid !== null && theirs !== frameOfReferenceUid) {
    return fail('landmarks-other-frame', 'The landmarks were set in another frame of reference than this series has.',
      'Choose the series they belong to with --series, or set them again on this one.').failure;
  }
  const voxelFromLps = invertAffine(volume.lpsFromVoxel);
  const outside = listMarks(marks).filter((mark) => {
    const at = voxelFromLps ? applyToPoint(voxelFromLps, makePoint<'lps'>(...mark)) : null;
    return !at || at.some((v, axis) => !(v >= -0.5 && v <= volume.dims[axis]! - 0.5));
  }).length;
  if (outside === 0) return null;
  return fail('landmarks-outside-scan', `${outside} of the marks lie outside this scan.`,
    'Check that they are LPS mm (not RAS) and belong to this series.', { outside }).failure;
}

/** Every marked point. */
export function listMarks(marks: Landmarks): Vec3[] {
  const nadirs = marks.nadirsLps ? CUSPS.map((cusp) => marks.nadirsLps![cusp]) : [];
  const ostia = [marks.ostiaLps?.left, marks.ostiaLps?.right].filter((mark) => mark !== undefined);
  return [...nadirs, ...ostia, ...(marks.contourLps ?? [])];
}
