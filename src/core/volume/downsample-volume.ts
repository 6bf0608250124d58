import type { Affine } from '../units/frames.ts';
import type { CtVolume } from './volume-types.ts';

/** Outside Int16: compares unequal to every sample, so that one loop serves volumes with and without padding. */
const NOT_A_SAMPLE = 40000;

/** Whole voxels per block and axis so that the coarse spacing comes closest to `targetMm` without exceeding it. */
export function chooseBlockFactors(volume: CtVolume, targetMm: number): [number, number, number] {
  const [sx, sy, sz] = volume.spacingMm;
  const [nx, ny, nz] = volume.dims;
  // 1e-6: a 0.5 mm grid stored as 0.50000001 still takes four voxels for 2 mm.
  const pick = (spacing: number, count: number): number =>
    Math.max(1, Math.min(count, Math.floor(targetMm / spacing + 1e-6) || 1));
  return [pick(sx, nx), pick(sy, ny), pick(sz, nz)];
}

/**
 * Mean of blocks of fx x fy x fz voxels.
 *
 * Shape     dims floor(n / f) per axis: an incomplete block at the far end is left out, so every block centre is true;
 *           a factor above the axis length is taken as that length
 * Units     HU, rounded to whole HU
 * Frame     coarse voxel 0 is centred on fine voxel (f - 1) / 2 per axis: lpsFromVoxel is shifted by that half block
 * Equation  mean over the block; padding voxels do not count, a block of padding only stays padding
 * Source    docs/methods/resampling.md
 * Accuracy  rounding 0.5 HU
 */
export function downsampleVolume(volume: CtVolume, factors: readonly [number, number, number]): CtVolume {
  const [nx, ny, nz] = volume.dims;
  const limit = (f: number, n: number): number => Math.max(1, Math.min(n, Math.floor(f) || 1));
  const fx = limit(factors[0], nx);
  const fy = limit(factors[1], ny);
  const fz = limit(factors[2], nz);
  const cx = Math.floor(nx / fx);
  const cy = Math.floor(ny / fy);
  const cz = Math.floor(nz / fz);
  const out = new Int16Array(cx * cy * cz);
  meanBlocks(volume, out, volume.paddingHu ?? NOT_A_SAMPLE, fx, fy, fz, cx, cy, cz);

  const [sx, sy, sz] = volume.spacingMm;
  return {
    samplesHu: out,
    dims: [cx, cy, cz],
    lpsFromVoxel: coarsenAffine(volume.lpsFromVoxel, fx, fy, fz),
    spacingMm: [sx * fx, sy * fy, sz * fz],
    paddingHu: volume.paddingHu,
  };
}

/** lpsFromVoxel of the coarse grid: columns times the factor, origin at the centre of the first block. */
export function coarsenAffine(
  fine: Affine<'lps', 'voxel'>,
  fx: number,
  fy: number,
  fz: number,
): Affine<'lps', 'voxel'> {
  const rows: number[] = [];
  for (let r = 0; r < 12; r += 4) {
    const a = fine.rows[r]!;
    const b = fine.rows[r + 1]!;
    const c = fine.rows[r + 2]!;
    rows.push(a * fx, b * fy, c * fz, fine.rows[r + 3]! + (a * (fx - 1) + b * (fy - 1) + c * (fz - 1)) / 2);
  }
  return { to: 'lps', from: 'voxel', rows };
}

/** Sums in 32 bit: 65536 voxels per block at most. */
function meanBlocks(
  volume: CtVolume,
  out: Int16Array,
  paddingHu: number,
  fx: number,
  fy: number,
  fz: number,
  cx: number,
  cy: number,
  cz: number,
): void {
  const s = volume.samplesHu;
  const [nx, ny] = volume.dims;
  const sums = new Int32Array(cx);
  const counts = new Int32Array(cx);
  for (let c = 0, to = 0; c < cz; c++) {
    for (let b = 0; b < cy; b++) {
      sums.fill(0);
      counts.fill(0);
      for (let k = c * fz; k < (c + 1) * fz; k++) {
        for (let j = b * fy; j < (b + 1) * fy; j++) {
          let at = (k * ny + j) * nx;
          for (let a = 0; a < cx; a++) {
            let sum = 0;
            let count = 0;
            for (const end = at + fx; at < end; at++) {
              const value = s[at]!;
              if (value !== paddingHu) {
                sum += value;
                count++;
              }
            }
            sums[a] = sums[a]! + sum;
            counts[a] = counts[a]! + count;
          }
        }
      }
      for (let a = 0; a < cx; a++, to++) {
        out[to] = counts[a]! > 0 ? Math.round(sums[a]! / counts[a]!) : paddingHu;
      }
    }
  }
}
