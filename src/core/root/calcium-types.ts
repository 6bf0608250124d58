import type { Ellipsoid3 } from './calcium-ellipsoid.ts';
import type { DrawBox } from './calcium-zone.ts';

/** What would be there without the calcium, and which voxels each deposit may have touched. */
export interface CalciumBackground {
  /** HU; the smoothed image itself away from deposits. */
  readonly levelHu: Float32Array;
  /** 0 = untouched, else the number of the nearest deposit + 1. */
  readonly owner: Int16Array;
  /** Touched voxels, deposit by deposit in rising order. */
  readonly touched: readonly Int32Array[];
}

/** One deposit, measured. */
export interface DepositFit {
  readonly box: DrawBox;
  /** The ellipsoid as the scanner shows it, in its box, at this blur. */
  readonly drawn: Float32Array;
  readonly drawnBlurMm: number;
  readonly ellipsoid: Ellipsoid3;
  readonly plateauHu: number;
  /** Mean plateau above its background, over the deposit. */
  readonly contrastHu: number;
  readonly volumeMm3: number;
  /** By how much counting lumps of unequal density each against its own plateau has moved the volume, mm3. */
  readonly lumpMm3: number;
  /** Share of the volume per touched voxel (order of background.touched), sum 1. */
  readonly shares: Float32Array;
  /** Voxels in the drawn edge, where noise moves the answer. */
  readonly edgeVoxels: number;
}
