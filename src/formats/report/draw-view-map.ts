import { traceIsolines, type ScalarGrid } from '../../core/math/trace-isolines.ts';
import type { PlanViews } from '../../core/projection/view-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { LANDING_EN } from '../../core/text/landing-en.ts';
import { formatNumber } from './format-number.ts';
import { drawBox, drawLine, drawPath, drawText, wrapPicture } from './svg-parts.ts';

const WIDTH = 720;
const LEFT = 96;
const RIGHT = 30;
const TOP = 16;
const HEIGHT = 380;
const FOOT = 64;
/** Depth error in mm per 10 mm of radius that gets a line. */
const LINES = [1, 2, 3, 4, 6];

/**
 * The view-error map: every camera angle with its depth error, the curve of the plane on edge, the room's reach.
 * Shape     SVG text; null when the angles are withheld
 * Source    docs/methods/pictures.md
 */
export function drawViewMap(views: PlanViews, picture: { readonly id: string; readonly isTraining: boolean }): string | null {
  const map = views.errorMap;
  if (!map) return null;
  const [p0, p1] = [map.primaryDeg[0]!, map.primaryDeg[map.primaryDeg.length - 1]!];
  const [s0, s1] = [map.secondaryDeg[0]!, map.secondaryDeg[map.secondaryDeg.length - 1]!];
  const x = (p: number): number => LEFT + ((p - p0) / (p1 - p0)) * (WIDTH - LEFT - RIGHT);
  const y = (s: number): number => TOP + ((s1 - s) / (s1 - s0)) * HEIGHT;
  const isInside = (s: number): boolean => s >= s0 && s <= s1;
  const parts: string[] = [];
  /** Drawn last: a frame or curve must not run through a number. */
  const labels: string[] = [];
  for (let p = -90; p <= 90; p += 15) parts.push(drawLine('faint', x(p), TOP, x(p), TOP + HEIGHT), drawText('mid', x(p), TOP + HEIGHT + 20, p % 30 === 0 ? nameAngle(p, 'RAO', 'LAO') : ''));
  for (let s = -50; s <= 50; s += 10) parts.push(drawLine('faint', LEFT, y(s), WIDTH - RIGHT, y(s)), drawText('end', LEFT - 8, y(s) + 5, s % 20 === 0 ? nameAngle(s, 'CAU', 'CRA') : ''));
  parts.push(drawBox('frame', LEFT, TOP, WIDTH - LEFT - RIGHT, HEIGHT));
  // The signed angle off the plane is smooth, the error itself has a crease on the curve: lines are traced on the angle.
  const grid = { xs: map.primaryDeg, ys: map.secondaryDeg, values: map.offPlaneDeg };
  for (const level of LINES) {
    const offDeg = (Math.asin(level / 10) * 180) / Math.PI - map.tilt95Deg;
    if (offDeg <= 0) continue;
    for (const side of [-1, 1]) {
      const drawn = drawIsolines(grid, side * offDeg, formatText(LANDING_EN, 'mapLine', { mm: level }), x, y);
      parts.push(drawn.lines);
      labels.push(drawn.labels);
    }
  }
  const curve = views.perpendicular.filter((v) => isInside(v.secondaryDeg));
  parts.push(`<path class="bold" d="${drawPath(curve.map((v) => [x(v.primaryDeg), y(v.secondaryDeg)]))}"/>`);
  const reach = views.reachLimits;
  if (reach) {
    const [right, left] = [x(Math.min(p1, reach.laoDeg)), x(Math.max(p0, -reach.raoDeg))];
    const [top, foot] = [y(Math.min(s1, reach.cranialDeg)), y(Math.max(s0, -reach.caudalDeg))];
    parts.push(`<path class="cusp-L" d="${drawPath([[left, top], [right, top], [right, foot], [left, foot]], true)}"/>`);
    parts.push(drawText('halo', left + 6, top + 17, LANDING_EN.mapReach));
  }
  parts.push(...labels);
  const placed: [number, number][] = [];
  views.chosen.forEach((v, i) => {
    if (Math.abs(v.primaryDeg) > 90 || !isInside(v.secondaryDeg)) return;
    const at: [number, number] = [x(v.primaryDeg), y(v.secondaryDeg)];
    // Discs that would cover one another step aside along a short stalk.
    let shift = 0;
    while (placed.some((q) => Math.hypot(q[0] - at[0], q[1] - (at[1] - shift)) < 24)) shift += 26;
    placed.push([at[0], at[1] - shift]);
    if (shift > 0) parts.push(drawLine('line', at[0], at[1], at[0], at[1] - shift));
    parts.push(`<circle class="open" cx="${at[0].toFixed(2)}" cy="${(at[1] - shift).toFixed(2)}" r="11"/>`, drawText('mid', at[0], at[1] - shift + 5, String(i + 1)));
  });
  parts.push(drawText('mid', (LEFT + WIDTH - RIGHT) / 2, TOP + HEIGHT + 44, LANDING_EN.mapPrimary));
  parts.push(`<text class="mid" transform="translate(20 ${TOP + HEIGHT / 2}) rotate(-90)">${LANDING_EN.mapSecondary}</text>`);
  return wrapPicture({ ...picture, width: WIDTH, height: TOP + HEIGHT + FOOT, title: LANDING_EN.mapTitle, description: LANDING_EN.mapDesc }, parts.join(''));
}

type Scale = (v: number) => number;
/** Sides by name: the sign of an angle is easily lost. */
const nameAngle = (deg: number, below: string, above: string): string => (deg === 0 ? '0' : `${deg < 0 ? below : above} ${formatNumber(Math.abs(deg), 0)}`);

function drawIsolines(grid: ScalarGrid, level: number, name: string, x: Scale, y: Scale): { readonly lines: string; readonly labels: string } {
  const drawn = traceIsolines(grid, level).map((line) => {
    const points = line.points.map(([p, s]) => [x(p), y(s)] as const).sort((a, b) => a[0] - b[0]);
    const at = points[Math.floor(points.length * 0.92)];
    const label = at && points.length > 4 ? drawText('mid soft halo', Math.min(at[0], WIDTH - RIGHT - 24), at[1] + 5, name) : '';
    return [`<path class="iso" d="${drawPath(line.points.map(([p, s]) => [x(p), y(s)] as const), line.isClosed)}"/>`, label] as const;
  });
  return { lines: drawn.map(([path]) => path).join(''), labels: drawn.map(([, label]) => label).join('') };
}
