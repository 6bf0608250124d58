import { invertAffine, applyToPoint } from '../units/affine.ts';
import { lpsPoint, type Affine } from '../units/frames.ts';
import type { HeartAnatomy } from './heart-anatomy.ts';
import type { PhantomScan } from './phantom-types.ts';
import { lpsFromScene } from './place-phantom.ts';

/** Bright and dark rays from where the lead crosses a slice; amplitude stated at 10 mm, falling with the distance. */
export function addStreaks(out: Float32Array, heart: HeartAnatomy, scan: PhantomScan, lpsFromVoxel: Affine<'lps', 'voxel'>, slice: number, amplitudeHu: number): void {
  const voxelFromLps = invertAffine(lpsFromVoxel);
  if (!heart.lead || !voxelFromLps) return;
  const [nx, ny] = scan.dims;
  const [sx, sy] = scan.spacingMm;
  const d = heart.lead.data;
  for (let s = 0; s < heart.lead.count; s++) {
    const at = (t: number): readonly [number, number, number] => {
      const o = s * 9;
      const p = lpsFromScene(heart.place, [d[o]! + t * d[o + 3]!, d[o + 1]! + t * d[o + 4]!, d[o + 2]! + t * d[o + 5]!]);
      return applyToPoint(voxelFromLps, lpsPoint(p[0], p[1], p[2]));
    };
    const [a, b] = [at(0), at(1)];
    const t = (slice - a[2]) / (b[2] - a[2]);
    if (!(t >= 0 && t < 1)) continue;
    const cx = a[0] + t * (b[0] - a[0]);
    const cy = a[1] + t * (b[1] - a[1]);
    for (let y = 0; y < ny; y++) {
      for (let x = 0; x < nx; x++) {
        const px = (x - cx) * sx;
        const py = (y - cy) * sy;
        const angle = Math.atan2(py, px);
        const rays = Math.cos(7 * angle + 0.9 * slice) + 0.6 * Math.cos(18 * angle + 2.3 * slice);
        out[y * nx + x] = out[y * nx + x]! + (amplitudeHu * 10 * rays) / (10 + Math.hypot(px, py));
      }
    }
  }
}
