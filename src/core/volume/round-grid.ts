import type { CtVolume } from './volume-types.ts';

/** A micrometre: far below what any scanner knows of its place. */
const PLACE_DIGITS = 3;
/** Times 2,000 voxels this is a fiftieth of a micrometre. */
const STEP_DIGITS = 8;

/**
 * The volume with its grid rounded to what is information. The same CT states its place with 4-byte numbers in one
 * format and with decimals in another; without this the last digits would differ, and with them, in rare ties, a choice
 * made during measuring.
 *
 * Units     mm
 * Accuracy  moves the volume by at most 0.5 micrometre
 */
export function roundGrid(volume: CtVolume): CtVolume {
  const rows = volume.lpsFromVoxel.rows.map((v, i) => roundAt(v, i % 4 === 3 ? PLACE_DIGITS : STEP_DIGITS));
  const [x, y, z] = volume.spacingMm.map((mm) => roundAt(mm, STEP_DIGITS)) as [number, number, number];
  return { ...volume, lpsFromVoxel: { ...volume.lpsFromVoxel, rows }, spacingMm: [x, y, z] };
}

function roundAt(value: number, digits: number): number {
  const scale = 10 ** digits;
  return Math.round(value * scale) / scale + 0;
}
