import { along, distance, dot, scale, sub, type Vec3 } from '../math/vec3.ts';
import type { Xyz } from './root-types.ts';

/** A pull at one place bends this much of the ring to either side, mm along it. */
export const BEND_REACH_MM = 9;

/**
 * The ring after a person pulled one of its points: the neighbours follow, less with distance along the ring, the rest
 * stays.
 *
 * Shape     as many points as before, in the same order
 * Units     LPS mm
 * Equation  p(i) + w(s) d with w(s) = (1 + cos(pi s / reach)) / 2 within the reach, s along the ring; d without its part
 *           along the normal, so that the ring stays on its plane
 * Fails     the ring as it was when `index` is none of its points
 */
export function bendRing(contourLps: readonly Xyz[], index: number, toLps: Vec3, normalLps: Vec3, reachMm = BEND_REACH_MM): readonly Xyz[] {
  const n = contourLps.length;
  const pulled = contourLps[index];
  if (!pulled) return contourLps;
  const d = sub(toLps, pulled);
  const move = sub(d, scale(normalLps, dot(d, normalLps)));
  const out = contourLps.map((p): Xyz => p);
  out[index] = along(pulled, move, 1);
  // Never as far as the opposite side, so that both walks together meet each point once.
  for (const step of [1, -1] as const) {
    let s = 0;
    for (let k = 1; k <= (step === 1 ? Math.floor(n / 2) : Math.ceil(n / 2) - 1); k++) {
      const [from, to] = [contourLps[(index + step * (k - 1) + n) % n]!, (index + step * k + n) % n];
      s += distance(from, contourLps[to]!);
      if (s >= reachMm) break;
      out[to] = along(contourLps[to]!, move, (1 + Math.cos((Math.PI * s) / reachMm)) / 2);
    }
  }
  return out;
}

/** Numbers of the points by which a ring is pulled: `count` of them, even along it, the first at `firstLps`. */
export function chooseRingHandles(contourLps: readonly Xyz[], count: number, firstLps: Vec3): readonly number[] {
  const n = contourLps.length;
  if (n < count || count < 1) return contourLps.map((_, i) => i);
  let first = 0;
  contourLps.forEach((p, i) => {
    if (distance(p, firstLps) < distance(contourLps[first]!, firstLps)) first = i;
  });
  const lengths = contourLps.map((_, i) => distance(contourLps[(first + i) % n]!, contourLps[(first + i + 1) % n]!));
  const whole = lengths.reduce((a, b) => a + b, 0);
  const handles: number[] = [];
  let walked = 0;
  for (let i = 0; i < n && handles.length < count; i++) {
    if (walked >= (handles.length * whole) / count - 1e-9) handles.push((first + i) % n);
    walked += lengths[i]!;
  }
  return handles;
}
