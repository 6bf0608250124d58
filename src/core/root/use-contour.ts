import { drawClosedSpline } from '../math/closed-spline.ts';
import { along, dot, sub, type Vec3 } from '../math/vec3.ts';
import { fail, succeed, type Result } from '../result.ts';
import type { Reason } from '../units/fact.ts';
import type { WallTable } from './find-junction.ts';
import { readTable } from './map-wall.ts';
import type { RingMeasures } from './measure-ring.ts';
import type { RingSpread } from './propagate.ts';
import type { RootFrame } from './root-frame.ts';
import type { BasalRing, Xyz } from './root-types.ts';

/**
 * A person's contour of the basal ring in place of the automatic one. Method page: docs/methods/ring-by-hand.md.
 */
export type ContourFailureCode =
  | 'contour-too-few-points' | 'contour-not-finite' | 'contour-has-gap' | 'contour-crosses-itself' | 'contour-folds-back'
  | 'contour-off-plane' | 'contour-off-wall';

export const CONTOUR_METHOD = 'root.ringByHand/1';
export const LEAST_POINTS = 8;
/** Farther from the plane a contour belongs to another level. */
export const MOST_OFF_PLANE_MM = 3;
/** Farther from the edge of the blood a contour belongs to something else. */
export const MOST_OFF_WALL_MM = 5;
/** Points closer than this count as one: a contour drawn by dragging is no finer than a pixel. */
const SAME_POINT_MM = 0.25;
const CURVE_STEP_MM = 0.25;
/** Between neighbouring points, seen from the middle: wider open stretches would be a guess. */
const WIDEST_GAP_RAD = (80 * Math.PI) / 180;
/** A ray from the middle may meet the curve several times within this. */
const MOST_FOLD_MM = 1.5;
/** Above: doubt. */
const UNEVEN_MM = 1.5;
const DIFFERS_MM = 2;
/** The difference to the automatic wall fades to nothing over this height. */
export const FADE_MM = 3;
/** Scatter of a reader's edge about the truth, one SD [M]: the whole ring in or out, and place by place. */
export const READER_COMMON_MM = 0.2;
export const READER_LOCAL_MM = 0.45;
/** Places that err independently around the ring; more clicks lie too close together to be independent [M]. */
const READER_PLACES = 12;
/** Wall leaning against the normal, mm per mm: what a point off the plane is off the ring (outflow tracts of the phantoms). */
const WALL_LEAN = 0.25;

/** A sound contour, flattened onto the basal plane. */
export interface PlaneContour {
  /** Centre of its area, LPS mm, on the plane. */
  readonly centreLps: Xyz;
  /** Dense curve about that centre: mm along u and v of the frame it was read in. */
  readonly curve: readonly (readonly [number, number])[];
  readonly points: number;
  /** Greatest and root mean square height of the points over the plane. */
  readonly mostOffPlaneMm: number;
  readonly offPlaneMm: number;
}

export interface UsedContour {
  /** The wall with the contour in it: at the plane it is the contour, from FADE_MM on the automatic wall. */
  readonly wall: WallTable;
  /** Share of the contour in the ring of a height: 1 on the plane, 0 from FADE_MM on. */
  shareAt(heightMm: number): number;
  /** SDs of the ring of a height, from the automatic ones of the same height. */
  spreadAt(heightMm: number, ring: RingMeasures, automatic: RingSpread): RingSpread;
  /** Doubts about the contour itself, and about what was carried from it to the rings beside it. */
  readonly doubts: readonly Reason[];
  readonly carried: Reason;
}

/**
 * Checks a contour by itself and against the basal plane.
 *
 * Shape     closed: n >= 8 points in order, either way round; the first may be repeated at the end
 * Units     LPS mm
 * Fails     contour-not-finite, contour-too-few-points, contour-off-plane, contour-has-gap, contour-crosses-itself
 * Source    docs/methods/ring-by-hand.md
 */
export function readContour(contourLps: readonly Vec3[], frame: RootFrame): Result<PlaneContour, ContourFailureCode> {
  const broken = contourLps.filter((p) => !p.every((v) => Number.isFinite(v))).length;
  if (broken > 0) return fail('contour-not-finite', `${broken} points of the contour hold a value that is no number.`, 'Give each point as [x, y, z] in LPS mm.', { broken });
  const kept = dropRepeats(contourLps);
  if (kept.length < LEAST_POINTS) return failTooFew(kept.length);
  const flat = kept.map((p) => {
    const d = sub(p, frame.originLps);
    return { x: dot(d, frame.uLps), y: dot(d, frame.vLps), heightMm: dot(d, frame.normalLps) };
  });
  const mostOffPlaneMm = Math.max(...flat.map((p) => Math.abs(p.heightMm)));
  if (!(mostOffPlaneMm <= MOST_OFF_PLANE_MM)) {
    return fail('contour-off-plane', `The contour lies up to ${mostOffPlaneMm.toFixed(1)} mm off the basal plane; ${MOST_OFF_PLANE_MM} mm are the most.`,
      'Draw it on the cut through the basal plane, or mark the three nadirs too, so that the plane is yours.', { mostOffPlaneMm: round(mostOffPlaneMm) });
  }
  const polygon = flat.map((p) => [p.x, p.y] as const);
  const crossings = countCrossings(polygon);
  if (crossings > 0) return fail('contour-crosses-itself', `The contour crosses itself ${crossings === 1 ? 'once' : `${crossings} times`}.`, 'Give the points in their order around the ring. Draw the contour again on the cut through the basal plane, or leave contourLps out to use the automatic ring.', { crossings });
  const curve = drawClosedSpline(polygon, CURVE_STEP_MM);
  const centre = findCentre(curve);
  const gap = Math.max(...polygon.map((p, i) => {
    const q = polygon[(i + 1) % polygon.length]!;
    const turn = Math.atan2(q[1] - centre[1], q[0] - centre[0]) - Math.atan2(p[1] - centre[1], p[0] - centre[0]);
    return Math.abs(Math.atan2(Math.sin(turn), Math.cos(turn)));
  }));
  if (!(gap <= WIDEST_GAP_RAD)) {
    return fail('contour-has-gap', `Between two neighbouring points of the contour ${Math.round((gap * 180) / Math.PI)} degrees of the ring are open; 80 are the most.`,
      'Set points all around the ring.', { gapDeg: Math.round((gap * 180) / Math.PI) });
  }
  const centreLps = along(along(frame.originLps, frame.uLps, centre[0]), frame.vLps, centre[1]);
  return succeed({
    centreLps, curve: curve.map(([x, y]) => [x - centre[0], y - centre[1]] as const), points: kept.length, mostOffPlaneMm,
    offPlaneMm: Math.sqrt(flat.reduce((sum, p) => sum + p.heightMm ** 2, 0) / flat.length),
  });
}

export function failTooFew(points: number): ReturnType<typeof fail<'contour-too-few-points'>> {
  return fail('contour-too-few-points', `The contour has ${points} different points; ${LEAST_POINTS} are the least.`, 'Set at least 8 points all around the ring.', { points });
}

/** Without points that repeat their forerunner, and without the start repeated at the end. */
export function dropRepeats(points: readonly Vec3[]): Vec3[] {
  const isApart = (a: Vec3, b: Vec3): boolean => !(Math.hypot(...sub(a, b)) < SAME_POINT_MM);
  const kept: Vec3[] = [];
  for (const p of points) if (kept.length === 0 || isApart(p, kept[kept.length - 1]!)) kept.push(p);
  while (kept.length > 1 && !isApart(kept[0]!, kept[kept.length - 1]!)) kept.pop();
  return kept;
}

const round = (v: number): number => Math.round(v * 100) / 100;

type Flat = readonly [number, number];
const side = (a: Flat, b: Flat, c: Flat): number => (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);

function countCrossings(polygon: readonly Flat[]): number {
  const n = polygon.length;
  let count = 0;
  for (let i = 0; i < n; i++) {
    const [a, b] = [polygon[i]!, polygon[(i + 1) % n]!];
    for (let k = i + 2; k < n; k++) {
      if (i === 0 && k === n - 1) continue; // neighbours share a point
      const [c, d] = [polygon[k]!, polygon[(k + 1) % n]!];
      if (side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0) count++;
    }
  }
  return count;
}

function findCentre(polygon: readonly Flat[]): Flat {
  let [twice, x, y] = [0, 0, 0];
  polygon.forEach((p, i) => {
    const q = polygon[(i + 1) % polygon.length]!;
    const w = p[0] * q[1] - p[1] * q[0];
    twice += w;
    x += (w * (p[0] + q[0])) / 3;
    y += (w * (p[1] + q[1])) / 3;
  });
  return Math.abs(twice) > 1e-9 ? [x / twice, y / twice] : polygon[0]!;
}

/** Radius of the curve at each azimuth: the middle one where a ray meets it several times; NaN where it folds back. */
function readRadii(curve: readonly Flat[], azimuths: number): Float64Array {
  return Float64Array.from({ length: azimuths }, (_, a) => {
    const [c, s] = [Math.cos((2 * Math.PI * a) / azimuths), Math.sin((2 * Math.PI * a) / azimuths)];
    const radii: number[] = [];
    curve.forEach((p, i) => {
      const q = curve[(i + 1) % curve.length]!;
      const [before, after] = [p[1] * c - p[0] * s, q[1] * c - q[0] * s];
      if (before < 0 === after < 0) return; // a vertex on the ray belongs to one side, so it counts once
      const t = before / (before - after);
      const radius = (p[0] + t * (q[0] - p[0])) * c + (p[1] + t * (q[1] - p[1])) * s;
      if (radius > 0) radii.push(radius);
    });
    const sorted = radii.sort((a, b) => a - b);
    const isSound = sorted.length % 2 === 1 && sorted[sorted.length - 1]! - sorted[0]! <= MOST_FOLD_MM;
    return isSound ? sorted[sorted.length >> 1]! : NaN;
  });
}

/**
 * Puts a contour into the wall. `frame` is that of the wall: same normal and azimuths as the contour was read in, axis
 * through the contour's centre.
 * Fails     contour-folds-back, contour-off-wall
 * Source    docs/methods/ring-by-hand.md
 */
export function useContour(contour: PlaneContour, wall: WallTable): Result<UsedContour, ContourFailureCode> {
  const radii = readRadii(contour.curve, wall.azimuths);
  const bad = radii.reduce((n, r) => n + (r > 0 ? 0 : 1), 0);
  if (bad > 0) {
    return fail('contour-folds-back', `Seen from its middle the contour folds back on itself over ${Math.ceil((bad * 360) / wall.azimuths)} degrees.`, 'Draw the contour again on the cut through the basal plane, or leave contourLps out to use the automatic ring.',
      { foldedDeg: Math.ceil((bad * 360) / wall.azimuths) });
  }
  const off = radii.map((r, a) => r - readTable(wall, a, 0));
  const mostOffWallMm = off.reduce((most, v) => Math.max(most, Math.abs(v)), 0);
  if (!(mostOffWallMm <= MOST_OFF_WALL_MM)) return failOffWall(mostOffWallMm);
  const shareAt = (heightMm: number): number => Math.max(0, 1 - Math.abs(heightMm) / FADE_MM);
  const radiusMm = wall.radiusMm.map((r, i) => r + shareAt(wall.lowMm + Math.floor(i / wall.azimuths) * wall.stepMm) * off[i % wall.azimuths]!);
  const meanOffMm = Math.sqrt(off.reduce((sum, v) => sum + v * v, 0) / off.length);
  return succeed({
    wall: { ...wall, radiusMm }, shareAt,
    spreadAt: (heightMm, ring, automatic) => spreadOf(contour, meanOffMm, shareAt(heightMm), ring, automatic),
    doubts: listDoubts(contour, mostOffWallMm),
    carried: {
      code: 'contour-carried', text: `The contour by hand was carried to the rings less than ${FADE_MM} mm from the plane, fading with the distance.`,
      next: 'Look at the long cuts: does the line still follow the wall just above and below the ring?',
    },
  });
}

/** Whether the contour lies about this root at all: before the wall is looked for about its middle. */
export function checkContourPlace(contour: PlaneContour, frame: RootFrame): ReturnType<typeof failOffWall> | null {
  const away = Math.hypot(...sub(contour.centreLps, frame.originLps));
  return away <= MOST_OFF_WALL_MM ? null : failOffWall(away);
}

function failOffWall(mm: number): ReturnType<typeof fail<'contour-off-wall'>> {
  return fail('contour-off-wall', `The contour lies up to ${mm.toFixed(1)} mm off the edge of the blood; ${MOST_OFF_WALL_MM} mm are the most.`,
    'Check that the points are LPS mm of this series and follow the ring. Draw the contour again on the cut through the basal plane, or leave contourLps out to use the automatic ring.', { mostOffWallMm: round(mm) });
}

/**
 * First-order: a common shift s of the edge changes the area by P s, the perimeter by 2 pi s, each width by 2 s;
 * independent places average out in the first two.
 */
function spreadOf(contour: PlaneContour, meanOffMm: number, share: number, ring: RingMeasures, automatic: RingSpread): RingSpread {
  const places = Math.min(contour.points, READER_PLACES);
  const lean = WALL_LEAN * contour.offPlaneMm;
  const mean = Math.hypot(READER_COMMON_MM, READER_LOCAL_MM / Math.sqrt(places), lean);
  const width = Math.hypot(2 * READER_COMMON_MM, Math.SQRT2 * READER_LOCAL_MM, 2 * lean);
  // What was carried to a neighbouring ring is least certain half way between hand and picture.
  const carried = share * (1 - share) * meanOffMm;
  const mix = (byHand: number, own: number, perMm: number): number => Math.hypot(share * byHand + (1 - share) * own, perMm * carried);
  return {
    areaMm2: mix(ring.perimeterMm * mean, automatic.areaMm2, ring.perimeterMm),
    perimeterMm: mix(2 * Math.PI * mean, automatic.perimeterMm, 2 * Math.PI),
    minDiameterMm: mix(width, automatic.minDiameterMm, 2),
    maxDiameterMm: mix(width, automatic.maxDiameterMm, 2),
  };
}

function listDoubts(contour: PlaneContour, mostOffWallMm: number): Reason[] {
  const doubts: Reason[] = [];
  if (contour.mostOffPlaneMm > UNEVEN_MM) {
    doubts.push({
      code: 'contour-not-flat', text: `The contour by hand stands up to ${contour.mostOffPlaneMm.toFixed(1)} mm off the basal plane; it was projected onto it.`,
      next: 'Draw it on the cut through the basal plane.',
    });
  }
  if (mostOffWallMm > DIFFERS_MM) {
    doubts.push({
      code: 'contour-differs', text: `The contour by hand and the edge of the blood as found lie up to ${mostOffWallMm.toFixed(1)} mm apart.`,
      next: 'Look at the cut through the basal plane: which of the two follows the wall?',
    });
  }
  return doubts;
}

/** Whether the ring of a survey is a person's contour. */
export function isContourByHand(ring: Pick<BasalRing, 'areaMm2'>): boolean {
  return ring.areaMm2.source.method === CONTOUR_METHOD;
}
