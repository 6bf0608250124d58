import type { CameraView } from '../../core/projection/camera-view.ts';
import type { FramePoint, FrameSize } from './picture-pose.ts';

/** What is marked on a frame. N cusp and both inflow ends give a depth; the rest is optional. */
export const POINTS = ['cuspN', 'inflowA', 'inflowB', 'axisA', 'axisB', 'cuspR', 'cuspL', 'knownA', 'knownB'] as const;
export type PointName = (typeof POINTS)[number];
/** In the order in which they are asked for. */
export const NEEDED: readonly PointName[] = ['cuspN', 'inflowA', 'inflowB'];
export interface Click {
  readonly point: PointName;
  readonly at: FramePoint;
}
/** Where a picture's millimetres come from. Whatever is null is asked for. */
export interface Geometry {
  readonly view: CameraView | null;
  readonly sourceToImageMm: number | null;
  readonly sourceToPatientMm: number | null;
  readonly pixelMm: number | null;
  readonly pixelAt: 'detector' | 'isocentre';
  /** True distance of the two `known` points, mm: a catheter's or frame's size; null: not used. */
  readonly knownMm: number | null;
}
/** One frame as it is marked. Clicks are kept in the order they came, so that the last one can be taken back. */
export interface Shot {
  /** null: marks are entered without a picture. */
  readonly run: { readonly runId: string; readonly frame: number } | null;
  readonly size: FrameSize;
  readonly geometry: Geometry;
  readonly clicks: readonly Click[];
}
export interface PointMean {
  readonly point: PointName;
  readonly at: FramePoint;
  readonly clicks: readonly FramePoint[];
  /** Root mean square distance of a click from their mean, per axis, px; null with one click. */
  readonly sdPx: number | null;
}
/** More clicks on one point than this add nothing a reading could still use. */
export const MOST_CLICKS = 12;

export function listMeans(shot: Pick<Shot, 'clicks'>): readonly PointMean[] {
  return POINTS.flatMap((point) => {
    const clicks = listClicks(shot, point);
    if (clicks.length === 0) return [];
    const mean = meanOf(clicks);
    const squares = clicks.reduce((sum, [c, r]) => sum + (c - mean[0]) ** 2 + (r - mean[1]) ** 2, 0);
    return [{ point, at: mean, clicks, sdPx: clicks.length < 2 ? null : Math.sqrt(squares / (2 * (clicks.length - 1))) }];
  });
}
export const listClicks = ({ clicks }: Pick<Shot, 'clicks'>, point: PointName): readonly FramePoint[] => clicks.flatMap((c) => (c.point === point ? [c.at] : []));
export const hasNeeded = (shot: Pick<Shot, 'clicks'>): boolean => NEEDED.every((point) => listClicks(shot, point).length > 0);
/** Fewest clicks on any point that a depth needs. */
export const countRounds = (shot: Pick<Shot, 'clicks'>): number => Math.min(...NEEDED.map((point) => listClicks(shot, point).length));

/** What the next click marks: of the needed points that with the fewest clicks, in their order. */
export function findNext(shot: Pick<Shot, 'clicks'>): PointName {
  const counts = NEEDED.map((point) => listClicks(shot, point).length);
  return NEEDED[counts.indexOf(Math.min(...counts))]!;
}

/**
 * The shot with one click more. A click meant for one end of the frame that clearly lies at the other goes there: hands
 * do not keep the order of two ends over many rounds.
 */
export function addClick(shot: Shot, point: PointName, at: FramePoint): Shot {
  const meant = swapEnd(shot, point, at);
  return listClicks(shot, meant).length >= MOST_CLICKS ? shot : { ...shot, clicks: [...shot.clicks, { point: meant, at }] };
}
const PARTNER: Readonly<Partial<Record<PointName, PointName>>> = { inflowA: 'inflowB', inflowB: 'inflowA', knownA: 'knownB', knownB: 'knownA' };
function swapEnd(shot: Shot, point: PointName, at: FramePoint): PointName {
  const other = PARTNER[point];
  const [own, others] = [listClicks(shot, point), other ? listClicks(shot, other) : []];
  if (!other || own.length === 0 || others.length === 0) return point;
  const [a, b] = [meanOf(own), meanOf(others)];
  const far = Math.hypot(a[0] - b[0], a[1] - b[1]);
  return Math.hypot(at[0] - b[0], at[1] - b[1]) < far / 3 ? other : point;
}
export const undoClick = (shot: Shot): Shot => ({ ...shot, clicks: shot.clicks.slice(0, -1) });
export const clearPoint = (shot: Shot, point: PointName): Shot => ({ ...shot, clicks: shot.clicks.filter((c) => c.point !== point) });

function meanOf(points: readonly FramePoint[]): FramePoint {
  const sum = points.reduce<readonly [number, number]>(([c, r], p) => [c + p[0], r + p[1]], [0, 0]);
  return [sum[0] / points.length, sum[1] / points.length];
}
