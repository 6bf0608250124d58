/**
 * Distances to simple bodies, negative inside, in mm. First-order exact at the surface (which is all that drawing
 * needs); far away they may be off by the ratio of the axes, so callers that prune use a margin.
 */
export interface Ellipsoid {
  readonly centre: readonly [number, number, number];
  readonly axes: readonly [number, number, number];
}

/** k0 (k0 - 1) / k1 with k0 = |p / a|, k1 = |p / a^2| (the implicit function over its gradient). */
export function ellipsoidDistance(e: Ellipsoid, x: number, y: number, z: number): number {
  const [a, b, c] = e.axes;
  const px = (x - e.centre[0]) / a;
  const py = (y - e.centre[1]) / b;
  const pz = (z - e.centre[2]) / c;
  const k0 = Math.sqrt(px * px + py * py + pz * pz);
  if (k0 < 0.05) return -0.95 * Math.min(a, b, c);
  const qx = px / a;
  const qy = py / b;
  const qz = pz / c;
  return (k0 * (k0 - 1)) / Math.sqrt(qx * qx + qy * qy + qz * qz);
}

/** A column with elliptic section along z, without ends. */
export function columnDistance(cx: number, cy: number, a: number, b: number, x: number, y: number): number {
  const px = (x - cx) / a;
  const py = (y - cy) / b;
  const k0 = Math.sqrt(px * px + py * py);
  if (k0 < 0.05) return -0.95 * Math.min(a, b);
  return (k0 * (k0 - 1)) / Math.sqrt((px / a) ** 2 + (py / b) ** 2);
}

/** A chain of capsules: six numbers per segment are kept (start, end - start), the radii at both ends, 1 / length^2. */
export interface Tube {
  readonly count: number;
  readonly data: Float64Array;
  /** Box around it: min x y z, max x y z. */
  readonly box: Float64Array;
}

export function makeTube(points: readonly (readonly [number, number, number])[], radiiMm: readonly number[]): Tube {
  const count = points.length - 1;
  const data = new Float64Array(count * 9);
  const box = Float64Array.of(Infinity, Infinity, Infinity, -Infinity, -Infinity, -Infinity);
  points.forEach((p, i) => {
    for (let k = 0; k < 3; k++) {
      box[k] = Math.min(box[k]!, p[k]! - radiiMm[i]!);
      box[k + 3] = Math.max(box[k + 3]!, p[k]! + radiiMm[i]!);
    }
    if (i === count) return;
    const q = points[i + 1]!;
    const d = [q[0] - p[0], q[1] - p[1], q[2] - p[2]] as const;
    const squared = d[0] * d[0] + d[1] * d[1] + d[2] * d[2];
    data.set([...p, ...d, radiiMm[i]!, radiiMm[i + 1]!, squared > 0 ? 1 / squared : 0], i * 9);
  });
  return { count, data, box };
}

/** Distance to a tube; beyond `enough` of its box only a lower bound is given. */
export function tubeDistance(t: Tube, x: number, y: number, z: number, enough: number): number {
  const b = t.box;
  const far = Math.max(b[0]! - x, x - b[3]!, b[1]! - y, y - b[4]!, b[2]! - z, z - b[5]!);
  if (far > enough) return far;
  const d = t.data;
  let best = Infinity;
  for (let i = 0, o = 0; i < t.count; i++, o += 9) {
    const px = x - d[o]!;
    const py = y - d[o + 1]!;
    const pz = z - d[o + 2]!;
    const vx = d[o + 3]!;
    const vy = d[o + 4]!;
    const vz = d[o + 5]!;
    const raw = (px * vx + py * vy + pz * vz) * d[o + 8]!;
    const h = raw < 0 ? 0 : raw > 1 ? 1 : raw;
    const ex = px - h * vx;
    const ey = py - h * vy;
    const ez = pz - h * vz;
    const s = Math.sqrt(ex * ex + ey * ey + ez * ez) - (d[o + 6]! + h * (d[o + 7]! - d[o + 6]!));
    if (s < best) best = s;
  }
  return best;
}

/** Union with a fillet of size k; equal to the smaller of both where they differ by k or more. */
export function blendUnion(a: number, b: number, k: number): number {
  const h = Math.max(k - Math.abs(a - b), 0) / k;
  return Math.min(a, b) - h * h * k * 0.25;
}

/** Points on a Catmull-Rom curve through the given ones (`per` pieces between neighbours). */
export function smoothPath(points: readonly (readonly [number, number, number])[], per: number): [number, number, number][] {
  const out: [number, number, number][] = [];
  for (let i = 0; i + 1 < points.length; i++) {
    const [p0, p1, p2, p3] = [points[Math.max(0, i - 1)]!, points[i]!, points[i + 1]!, points[Math.min(points.length - 1, i + 2)]!];
    for (let s = 0; s < per; s++) {
      const t = s / per;
      const at = (k: 0 | 1 | 2): number =>
        0.5 * (2 * p1[k] + (p2[k] - p0[k]) * t + (2 * p0[k] - 5 * p1[k] + 4 * p2[k] - p3[k]) * t * t + (3 * p1[k] - p0[k] - 3 * p2[k] + p3[k]) * t * t * t);
      out.push([at(0), at(1), at(2)]);
    }
  }
  const last = points[points.length - 1]!;
  out.push([last[0], last[1], last[2]]);
  return out;
}

/** The same tube in pieces of a few segments, each with its own box: most points then meet one or two pieces. */
export function splitTube(points: readonly (readonly [number, number, number])[], radiiMm: readonly number[], per: number): Tube[] {
  const out: Tube[] = [];
  for (let i = 0; i + 1 < points.length; i += per) out.push(makeTube(points.slice(i, i + per + 1), radiiMm.slice(i, i + per + 1)));
  return out;
}
