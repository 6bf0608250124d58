/**
 * Closed curve through points of a plane: the periodic cubic spline with continuous curvature, by chord length.
 *
 * Shape     n >= 3 points, the first not repeated; gives a polyline with steps of at most `stepMm`, closed by its start
 * Units     those of the points
 * Equation  h(i-1) M(i-1) + 2 (h(i-1) + h(i)) M(i) + h(i) M(i+1) = 6 (slope(i) - slope(i-1)), indices modulo n
 * Fails     never; neighbours must lie apart (chord length > 0)
 * Accuracy  circle through 8 points: radius low by at most 0.12 %; through 16: 0.007 %
 */
export function drawClosedSpline(points: readonly (readonly [number, number])[], stepMm: number): [number, number][] {
  const n = points.length;
  const chord = points.map((p, i) => Math.hypot(points[(i + 1) % n]![0] - p[0], points[(i + 1) % n]![1] - p[1]));
  const bends = [0, 1].map((axis) => solveBends(points.map((p) => p[axis]!), chord));
  const out: [number, number][] = [];
  for (let i = 0; i < n; i++) {
    const h = chord[i]!;
    const parts = Math.max(1, Math.ceil(h / stepMm));
    const [p, q] = [points[i]!, points[(i + 1) % n]!];
    for (let s = 0; s < parts; s++) {
      const b = s / parts;
      const a = 1 - b;
      const at = (axis: 0 | 1): number =>
        a * p[axis] + b * q[axis] + ((a ** 3 - a) * bends[axis]![i]! + (b ** 3 - b) * bends[axis]![(i + 1) % n]!) * ((h * h) / 6);
      out.push([at(0), at(1)]);
    }
  }
  return out;
}

/** Second derivatives at the points: a cyclic three-band system, by one elimination for two right sides (Sherman-Morrison). */
function solveBends(values: readonly number[], chord: readonly number[]): Float64Array {
  const n = values.length;
  const before = (i: number): number => (i + n - 1) % n;
  const rise = (i: number): number => (values[(i + 1) % n]! - values[i]!) / chord[i]!;
  const corner = chord[n - 1]!;
  const diagonal = Float64Array.from({ length: n }, (_, i) => 2 * (chord[before(i)]! + chord[i]!));
  const right = Float64Array.from({ length: n }, (_, i) => 6 * (rise(i) - rise(before(i))));
  const gamma = -diagonal[0]!;
  const other = new Float64Array(n);
  other[0] = gamma;
  other[n - 1] = corner;
  const main = Float64Array.from(diagonal);
  main[0]! -= gamma;
  main[n - 1]! -= (corner * corner) / gamma;
  for (let i = 1; i < n; i++) {
    const w = chord[i - 1]! / main[i - 1]!;
    main[i]! -= w * chord[i - 1]!;
    right[i]! -= w * right[i - 1]!;
    other[i]! -= w * other[i - 1]!;
  }
  for (let i = n - 1; i >= 0; i--) {
    const next = i + 1 < n ? chord[i]! : 0;
    right[i] = (right[i]! - next * (right[i + 1] ?? 0)) / main[i]!;
    other[i] = (other[i]! - next * (other[i + 1] ?? 0)) / main[i]!;
  }
  const ratio = corner / gamma;
  const share = (right[0]! + ratio * right[n - 1]!) / (1 + other[0]! + ratio * other[n - 1]!);
  return right.map((v, i) => v - share * other[i]!);
}
