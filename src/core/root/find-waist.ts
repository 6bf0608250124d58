import { along, completeBasis, unit, type Vec3 } from '../math/vec3.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { findRayExits, medianOf } from './find-wall.ts';
import { samplePolarBlock } from './polar-block.ts';
import { makeRootFrame } from './root-frame.ts';

export interface Waist {
  readonly centreLps: Vec3;
  readonly axisLps: Vec3;
  readonly radiusMm: number;
}

const AZIMUTHS = 32;
const DARK_MM = 2.2;
const LEAK_RATIO = 1.4;

/** Mean-square radius of the lumen cut by one plane, recentred; leaks into neighbours are cut off. */
function cutLumen(volume: CtVolume, centre: Vec3, axis: Vec3, bloodHu: number, tissueHu: number): Waist | null {
  let at = centre;
  let radiusMm = NaN;
  for (let pass = 0; pass < 2; pass++) {
    const frame = makeRootFrame(at, axis);
    const block = samplePolarBlock(volume, frame, {
      lowMm: 0, heightStepMm: 1, heights: 1, azimuths: AZIMUTHS, radiusStepMm: 0.5, radii: 44,
    });
    const exits = findRayExits(block, bloodHu, tissueHu, DARK_MM);
    const median = medianOf(exits);
    if (!(median > 3)) return null;
    let x = 0;
    let y = 0;
    let sum = 0;
    let cut = 0;
    for (let a = 0; a < AZIMUTHS; a++) {
      const e = exits[a]!;
      if (e !== e) cut++;
      const r = e === e ? Math.min(e, LEAK_RATIO * median) : median;
      const t = (2 * Math.PI * a) / AZIMUTHS;
      x += (2 * r * Math.cos(t)) / AZIMUTHS;
      y += (2 * r * Math.sin(t)) / AZIMUTHS;
      sum += (r * r) / AZIMUTHS;
    }
    if (cut > AZIMUTHS / 4) return null;
    radiusMm = Math.sqrt(Math.max(1, sum - (x * x + y * y) / 2));
    if (pass === 0) {
      const far = Math.hypot(x, y);
      const share = Math.min(1, 4 / Math.max(far, 1e-9));
      at = along(along(at, frame.uLps, x * share), frame.vLps, y * share);
    }
  }
  return { centreLps: at, axisLps: axis, radiusMm };
}

/**
 * The narrowest cut between tube and chamber: planes tilted up to 34 degrees and shifted along the axis are compared
 * by the mean square of their radius, coarse to fine. A rough first plane for the crown, not a measurement.
 */
export function findWaist(volume: CtVolume, start: Vec3, axis: Vec3, bloodHu: number, tissueHu: number): Waist | null {
  let best: Waist | null = null;
  let bestAt = { x: 0, y: 0, z: 0 };
  const { u, v } = completeBasis(axis);
  const seen = new Set<string>();
  for (const [reach, step, heights] of [
    [0.6, 0.2, [-8, -4, 0, 4, 8]],
    [0.1, 0.1, [-2, 0, 2]],
    [0.05, 0.05, [-1, 0, 1]],
  ] as const) {
    const from = bestAt;
    for (let dx = -reach; dx <= reach + 1e-9; dx += step) {
      for (let dy = -reach; dy <= reach + 1e-9; dy += step) {
        const x = from.x + dx;
        const y = from.y + dy;
        if (Math.hypot(x, y) > 0.68) continue;
        for (const dz of heights) {
          const z = from.z + dz;
          const key = `${x.toFixed(3)} ${y.toFixed(3)} ${z}`;
          if (seen.has(key)) continue;
          seen.add(key);
          const tilted = unit(along(along(axis, u, x), v, y));
          const cut = cutLumen(volume, along(start, axis, z), tilted, bloodHu, tissueHu);
          if (cut && (!best || cut.radiusMm < best.radiusMm)) {
            best = cut;
            bestAt = { x, y, z };
          }
        }
      }
    }
    if (!best) return null;
  }
  return best;
}
