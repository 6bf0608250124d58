import { succeed, fail, type Result } from '../result.ts';
import { makeFact, type Fact, type FactStamp } from '../units/fact.ts';
import { coverCircle } from './cover-circle.ts';
import { findPlane } from './trace-line.ts';
import { USUAL_CLICK, type ClickError, type TraceFailureCode, type TracePoint, type TraceRegion } from './trace-region.ts';

export interface ClockTrace {
  /** Hours of each jet, clockwise from begin to end, 0 to 12; 12 on top of the picture. */
  readonly hours: readonly (readonly [from: number, to: number])[];
  readonly extentPercent: Fact;
  readonly centre: TracePoint;
  /** Mean radius of the ring marks about the centre, cm. */
  readonly radiusCm: number;
}
export const LEAST_RING_MARKS = 4;
/** Marks of one ring lie within this share of its radius about the circle; a frame is an ellipse at the most [A]. */
const ROUND_SHARE = 0.35;
const HOURS = 12;

const turn = (value: number, whole: number): number => ((value % whole) + whole) % whole;

/**
 * Jets round the frame in a short axis: marks on the ring give its centre, two marks each jet, clockwise.
 *
 * Equation  hour = 12 atan2(x, up) / 2 pi about the centre of the circle through the ring marks (least squares, Kasa); extent = union of
 *           the arcs over the whole round
 * Units     pixels in; hours and % out
 * Refuses   ring-too-few-marks, ring-not-round, as findPlane
 * Accuracy  band: each end of a jet by click and edge error seen from the centre
 */
export function traceClock(ring: readonly TracePoint[], jets: readonly (readonly [TracePoint, TracePoint])[], regions: readonly TraceRegion[], stamp: FactStamp, error: ClickError = USUAL_CLICK): Result<ClockTrace, TraceFailureCode> {
  const found = findPlane(regions, [...ring, ...jets.flat()]);
  if (!found.ok) return found;
  if (ring.length < LEAST_RING_MARKS) return fail('ring-too-few-marks', `${ring.length} marks are no ring.`, `Mark the frame in ${LEAST_RING_MARKS} places or more, all round.`, { marks: ring.length });
  const [sx, sy] = [Math.abs(found.value.deltaX), Math.abs(found.value.deltaY)];
  const at = ([column, row]: TracePoint): readonly [number, number] => [column * sx, -row * sy];
  const circle = fitCircle(ring.map(at));
  if (circle === null || ring.some((p) => Math.abs(Math.hypot(at(p)[0] - circle.x, at(p)[1] - circle.y) / circle.radius - 1) > ROUND_SHARE) || widestGap(ring.map(at), circle) > Math.PI) {
    return fail('ring-not-round', 'The marks of the ring do not go round one place.', 'Mark the frame all round in a true short axis.', { marks: ring.length });
  }
  const angle = (p: TracePoint): number => turn(Math.atan2(at(p)[0] - circle.x, at(p)[1] - circle.y), 2 * Math.PI);
  const arcs = jets.map(([from, to]): readonly [number, number] => [angle(from), angle(to)]);
  const covered = coverCircle(arcs.map(([from, to]) => [from, turn(to - from, 2 * Math.PI)] as const), 2 * Math.PI);
  const clickCm = Math.hypot(error.clickPx, error.edgePx) * Math.max(sx, sy);
  const half = Math.sqrt(jets.flat().reduce((sum, p) => sum + (clickCm / Math.max(clickCm, Math.hypot(at(p)[0] - circle.x, at(p)[1] - circle.y))) ** 2, 0));
  const percent = (rad: number): number => (100 * rad) / (2 * Math.PI);
  return succeed({
    hours: arcs.map(([from, to]) => [(from * HOURS) / (2 * Math.PI), (to * HOURS) / (2 * Math.PI)] as const),
    extentPercent: makeFact(percent(covered), Math.max(0, percent(covered - half)), Math.min(100, percent(covered + half)), '%', 'arcs of the jets about the centre of the ring', ['trace'], stamp),
    centre: [circle.x / sx, -circle.y / sy], radiusCm: circle.radius,
  });
}

/** Least squares of x^2 + y^2 + ax + by + c; null: the marks lie on a line. */
function fitCircle(points: readonly (readonly [number, number])[]): { readonly x: number; readonly y: number; readonly radius: number } | null {
  const n = points.length;
  const [mx, my] = [points.reduce((s, p) => s + p[0], 0) / n, points.reduce((s, p) => s + p[1], 0) / n];
  let [uu, uv, vv, uz, vz] = [0, 0, 0, 0, 0];
  for (const [x, y] of points) {
    const [u, v] = [x - mx, y - my];
    const z = u * u + v * v;
    [uu, uv, vv, uz, vz] = [uu + u * u, uv + u * v, vv + v * v, uz + u * z, vz + v * z];
  }
  const det = uu * vv - uv * uv;
  if (!(det > 1e-9 * (uu + vv) ** 2)) return null;
  const [cu, cv] = [(uz * vv - vz * uv) / (2 * det), (vz * uu - uz * uv) / (2 * det)];
  return { x: mx + cu, y: my + cv, radius: Math.sqrt(cu * cu + cv * cv + (uu + vv) / n) };
}

function widestGap(points: readonly (readonly [number, number])[], { x, y }: { readonly x: number; readonly y: number }): number {
  const angles = points.map((p) => turn(Math.atan2(p[1] - y, p[0] - x), 2 * Math.PI)).sort((a, b) => a - b);
  return angles.reduce((most, a, i) => Math.max(most, turn((angles[i + 1] ?? angles[0]! + 2 * Math.PI) - a, 2 * Math.PI)), 0);
}
