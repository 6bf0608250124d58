import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { makeCalciumScoringScan } from '../../src/core/phantom/phantom-variants.ts';
import type { DepositTruth, PhantomScan } from '../../src/core/phantom/phantom-types.ts';
import type { CtVolume } from '../../src/core/volume/volume-types.ts';
import { writeCtSlice, type CtSeriesLabels } from '../../src/formats/dicom/write-ct-slice.ts';
import { labelSeries } from '../../src/host/cli/phantom-command.ts';

/** A calcium-scoring scan of the same field, with pixels of 0.7 mm so that it is quick to draw. */
export function makeCompanionScan(scan: PhantomScan): PhantomScan {
  const plain = makeCalciumScoringScan(scan);
  const [nx, ny] = [0, 1].map((axis) => Math.round((scan.dims[axis]! * scan.spacingMm[axis]!) / 0.7)) as [number, number];
  return { ...plain, dims: [nx, ny, plain.dims[2]], spacingMm: [0.7, 0.7, 3] };
}

/** The drawn volume as a DICOM series of the study that its seed names. */
export function writeSeries(folder: string, volume: CtVolume, scan: PhantomScan, change: Partial<CtSeriesLabels>): void {
  mkdirSync(folder, { recursive: true });
  const labels: CtSeriesLabels = { ...labelSeries({ scan }), ...change };
  for (let k = 0; k < volume.dims[2]; k++) writeFileSync(join(folder, `${labels.seriesNumber}-${k}.dcm`), writeCtSlice(volume, k, labels));
}

/**
 * Agatston score of a noise-free series by brute force: every lesion of the whole picture that comes within 6 mm of a
 * drawn deposit's centre counts, whole. No zone, no box, no shared code with the product.
 */
export function scoreDeposits(volume: CtVolume, deposits: readonly DepositTruth[]): number {
  const [nx, ny, nz] = volume.dims;
  const m = volume.lpsFromVoxel.rows;
  const pixelMm2 = volume.spacingMm[0] * volume.spacingMm[1];
  let total = 0;
  for (let k = 0; k < nz; k++) {
    const done = new Set<number>();
    for (let start = 0; start < nx * ny; start++) {
      if (volume.samplesHu[k * nx * ny + start]! < 130 || done.has(start)) continue;
      const open = [start];
      done.add(start);
      let [pixels, peakHu, isDeposit] = [0, -1000, false];
      while (open.length > 0) {
        const at = open.pop()!;
        const [i, j] = [at % nx, Math.floor(at / nx)];
        pixels++;
        peakHu = Math.max(peakHu, volume.samplesHu[k * nx * ny + at]!);
        const p = [0, 4, 8].map((r) => m[r]! * i + m[r + 1]! * j + m[r + 2]! * k + m[r + 3]!);
        isDeposit ||= deposits.some((d) => Math.hypot(...d.centreLps.map((c, axis) => c - p[axis]!)) < 6);
        for (const [a, b] of [[-1, -1], [0, -1], [1, -1], [-1, 0], [1, 0], [-1, 1], [0, 1], [1, 1]] as const) {
          const next = (j + b) * nx + i + a;
          if (i + a < 0 || i + a >= nx || j + b < 0 || j + b >= ny || done.has(next)) continue;
          if (volume.samplesHu[k * nx * ny + next]! < 130) continue;
          done.add(next);
          open.push(next);
        }
      }
      if (isDeposit && pixels * pixelMm2 >= 1) total += pixels * pixelMm2 * (peakHu >= 400 ? 4 : peakHu >= 300 ? 3 : peakHu >= 200 ? 2 : 1);
    }
  }
  return (total * volume.spacingMm[2]) / 3;
}
