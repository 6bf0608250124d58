/** Plain 3-vectors for inner loops. Frames are checked at the borders, not here. */
export type Vec3 = readonly [number, number, number];

export const add = (a: Vec3, b: Vec3): [number, number, number] => [a[0] + b[0], a[1] + b[1], a[2] + b[2]];
export const sub = (a: Vec3, b: Vec3): [number, number, number] => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
export const scale = (a: Vec3, s: number): [number, number, number] => [a[0] * s, a[1] * s, a[2] * s];
/** a + s b */
export const along = (a: Vec3, b: Vec3, s: number): [number, number, number] => [
  a[0] + s * b[0],
  a[1] + s * b[1],
  a[2] + s * b[2],
];
export const dot = (a: Vec3, b: Vec3): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
export const cross = (a: Vec3, b: Vec3): [number, number, number] => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];
export const norm = (a: Vec3): number => Math.sqrt(dot(a, a));
export const distance = (a: Vec3, b: Vec3): number => norm(sub(a, b));
/** Unit vector; the zero vector stays zero. */
export function unit(a: Vec3): [number, number, number] {
  const n = norm(a);
  return n > 0 ? scale(a, 1 / n) : [0, 0, 0];
}
/** Two unit vectors that complete `axis` to a right-handed set (u x v = axis); deterministic. */
export function completeBasis(axis: Vec3): { u: [number, number, number]; v: [number, number, number] } {
  const helper: Vec3 = Math.abs(axis[0]) < 0.9 ? [1, 0, 0] : [0, 1, 0];
  const u = unit(sub(helper, scale(axis, dot(helper, axis))));
  return { u, v: cross(axis, u) };
}
