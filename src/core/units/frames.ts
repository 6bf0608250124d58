/**
 * Points, directions and affines whose frame is part of the type.
 * Patient space is DICOM LPS: +x left, +y posterior, +z head, mm (PS3.3 C.7.6.2.1.1).
 * Voxel space counts voxel centres: 10 voxels of 1 mm starting at 0 span -0.5 to 9.5 mm.
 */
declare const frameTag: unique symbol;
declare const kindTag: unique symbol;

/** `root` is the frame of the basal plane: +z toward the aorta, origin on the plane. */
export type Frame = 'voxel' | 'lps' | 'root';

/** Three coordinates in one frame. `voxel` counts voxel centres; the others are mm. */
export type Point<F extends Frame> = readonly [x: number, y: number, z: number] & {
  readonly [frameTag]: F;
  readonly [kindTag]: 'point';
};
/** A direction or difference in one frame; a unit vector where the name says `normal` or `axis`. */
export type Vector<F extends Frame> = readonly [x: number, y: number, z: number] & {
  readonly [frameTag]: F;
  readonly [kindTag]: 'vector';
};
export type LpsPoint = Point<'lps'>;
export type LpsVector = Vector<'lps'>;
export type VoxelPoint = Point<'voxel'>;

/** Takes `From` coordinates, gives `To`. Named <to>From<From>: lpsFromVoxel. Rows are 3 x 4, row by row. */
export interface Affine<To extends Frame, From extends Frame> {
  readonly to: To;
  readonly from: From;
  readonly rows: readonly number[];
}

export function makePoint<F extends Frame>(x: number, y: number, z: number): Point<F> {
  return [x, y, z] as unknown as Point<F>;
}
export function makeVector<F extends Frame>(x: number, y: number, z: number): Vector<F> {
  return [x, y, z] as unknown as Vector<F>;
}
export const lpsPoint = (x: number, y: number, z: number): LpsPoint => makePoint<'lps'>(x, y, z);
export const lpsVector = (x: number, y: number, z: number): LpsVector => makeVector<'lps'>(x, y, z);
