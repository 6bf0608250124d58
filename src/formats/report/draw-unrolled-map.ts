import { fillIsoband, traceIsolines, type Isoline, type ScalarGrid } from '../../core/math/trace-isolines.ts';
import { uniformAt } from '../../core/math/random.ts';
import { makeSurveyFrame } from '../../core/root/make-survey-frame.ts';
import { cylinderFromLps } from '../../core/root/root-frame.ts';
import { CUSPS, type RootSurvey, type Xyz } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { formatCoordinate, formatNumber, isAnswered } from './format-number.ts';
import { drawArrow, drawBox, drawLine, drawPath, drawText, spreadLabels, wrapPicture } from './svg-parts.ts';

const WIDTH = 720;
const LEFT = 78;
const RIGHT = 118;
const TOP = 48;
const BELOW = 84;
const PX_PER_MM = 7.4;
const PX_PER_DEG = (WIDTH - LEFT - RIGHT) / 360;
const DOT_STEP = 5;
/** Wall that stands in less than this against the ring above it is not shaded. */
const BULGE_STEP_MM = 0.6;
const SEPTUM_REACH_DEG = 60;

/**
 * The unrolled landing zone: azimuth across, height up, radius as lines, calcium as dots, septal bulge as shade.
 * The cut runs between L and N, so that R, under which the septum lies, is whole and in the middle.
 *
 * Shape     SVG text; null when the map has no 2 x 2 places with a wall
 * Source    docs/methods/pictures.md
 */
export function drawUnrolledMap(root: RootSurvey, picture: { readonly id: string; readonly isTraining: boolean }): string | null {
  const frame = makeSurveyFrame(root);
  const azimuthOf = (p: Xyz): number => (cylinderFromLps(frame, p).azimuthRad * 180) / Math.PI;
  const nadirDeg = { R: azimuthOf(root.basalPlane.nadirsLps.R), L: azimuthOf(root.basalPlane.nadirsLps.L), N: azimuthOf(root.basalPlane.nadirsLps.N) };
  const seamDeg = wrapDeg(nadirDeg.L + wrapDeg(nadirDeg.N - nadirDeg.L) / 2);
  const radius = unrollGrid(root.map.azimuthDeg, root.map.heightMm, root.map.radiusMm, seamDeg);
  if (!radius) return null;
  const [lowMm, highMm] = [radius.ys[0]!, radius.ys[radius.ys.length - 1]!];
  const x = (deg: number): number => LEFT + deg * PX_PER_DEG;
  const y = (mm: number): number => TOP + (highMm - mm) * PX_PER_MM;
  const bottom = y(lowMm);
  const height = bottom + BELOW;
  const place: Place = ([deg, mm]) => [x(deg), y(mm)];
  const column = (deg: number): number => x(wrapDeg(deg - seamDeg));
  const isShown = (mm: number): boolean => mm >= lowMm && mm <= highMm;

  const parts: string[] = [];
  parts.push(drawUnknown(radius, x, y, picture.id));
  const hasBulge = lowMm < 0 && highMm >= 0;
  if (hasBulge) parts.push(drawBulge(radius, place));
  const { value: junctionMm } = root.sinotubularJunction.heightMm;
  const isolines = drawIsolines(radius, place, CUSPS.map((c) => column(nadirDeg[c])), [y(0), y(junctionMm ?? 0)]);
  parts.push(isolines.lines);
  parts.push(drawBox('frame', LEFT, TOP, WIDTH - LEFT - RIGHT, bottom - TOP));
  for (const mm of ticks(lowMm, highMm, 5)) {
    if (mm === 0) continue;
    parts.push(drawLine('rule', LEFT - 5, y(mm), LEFT, y(mm)));
    parts.push(drawText('end', LEFT - 9, y(mm) + 5, formatText(REPORT_EN, mm < 0 ? 'below' : 'above', { mm: Math.abs(mm) })));
  }
  for (const deg of [0, 60, 120, 180, 240, 300]) {
    parts.push(drawLine('rule', column(deg), bottom, column(deg), bottom + 5));
    parts.push(drawText('mid', column(deg), bottom + 20, `${deg}°`));
  }
  parts.push(drawText('soft end', WIDTH - RIGHT, bottom + 39, REPORT_EN.mapAngle));
  for (const cusp of CUSPS) {
    parts.push(drawLine(`cusp-${cusp}`, column(nadirDeg[cusp]), TOP - 6, column(nadirDeg[cusp]), bottom));
    parts.push(drawText('letter', column(nadirDeg[cusp]), TOP - 14, cusp));
  }
  const { calcium } = root;
  const heat = unrollGrid(root.map.azimuthDeg, root.map.heightMm, root.map.calciumHu, seamDeg);
  if (calcium && heat) parts.push(drawStipple(heat, calcium.thresholdHu, x, y));
  parts.push(isolines.labels);

  const labels: { readonly mm: number; readonly text: string }[] = [{ mm: 0, text: REPORT_EN.basalPlane }];
  if (isShown(0)) parts.push(drawLine('bold', LEFT, y(0), WIDTH - RIGHT, y(0)));
  for (const cusp of CUSPS) {
    if (isShown(0)) parts.push(`<circle class="solid" cx="${formatCoordinate(column(nadirDeg[cusp]))}" cy="${formatCoordinate(y(0))}" r="5"/>`);
  }
  const junction = root.sinotubularJunction.heightMm;
  if (isAnswered(junction) && isShown(junction.value)) {
    parts.push(drawLine('line', LEFT, y(junction.value), WIDTH - RIGHT, y(junction.value)));
    labels.push({ mm: junction.value, text: REPORT_EN.junction });
  }
  if (isShown(root.outflowTract.heightMm)) {
    labels.push({ mm: root.outflowTract.heightMm, text: REPORT_EN.outflow });
    parts.push(drawLine('rule', WIDTH - RIGHT - 12, y(root.outflowTract.heightMm), WIDTH - RIGHT, y(root.outflowTract.heightMm)));
  }
  for (const side of ['left', 'right'] as const) {
    const ostium = root.coronaries[side];
    if (!ostium) continue;
    const at = cylinderFromLps(frame, ostium.ostiumLps);
    if (!isShown(at.heightMm)) continue;
    const [cx, cy] = [column((at.azimuthRad * 180) / Math.PI), y(at.heightMm)];
    parts.push(`<circle class="open" cx="${formatCoordinate(cx)}" cy="${formatCoordinate(cy)}" r="6.5"/><circle class="solid" cx="${formatCoordinate(cx)}" cy="${formatCoordinate(cy)}" r="1.8"/>`);
    const isRoomRight = cx < WIDTH - RIGHT - 120;
    const words = side === 'left' ? REPORT_EN.leftOstiumShort : REPORT_EN.rightOstiumShort;
    parts.push(drawText(`halo${isRoomRight ? '' : ' end'}`, cx + (isRoomRight ? 12 : -12), cy + (side === 'left' ? 22 : -9), words));
  }
  const bulge = hasBulge ? findBulge(radius) : null;
  if (bulge && isAnswered(root.septum.bulgeMm)) {
    parts.push(drawText('halo mid', x(bulge.deg), Math.min(y(bulge.mm) + 5, y(lowMm) - 6), REPORT_EN.septalBulge));
  }
  const wanted = labels.map((l) => y(l.mm) + 5);
  spreadLabels(wanted, 17, TOP + 10, bottom).forEach((labelY, i) => {
    parts.push(drawText('', WIDTH - RIGHT + 8, labelY, labels[i]!.text));
  });
  parts.push(drawArrow(10, TOP - 12, TOP - 32), drawText('', 20, TOP - 17, REPORT_EN.toAorta));
  parts.push(drawArrow(10, bottom + 20, bottom + 40), drawText('', 20, bottom + 36, REPORT_EN.toVentricle));
  parts.push(drawKey(height - 14, picture.id, calcium !== undefined));
  return wrapPicture(
    {
      ...picture, width: WIDTH, height, title: REPORT_EN.mapTitle,
      description: formatText(REPORT_EN, 'mapDesc', {
        calcium: calcium ? REPORT_EN.mapCalcium : REPORT_EN.mapNoCalcium, bulge: hasBulge ? REPORT_EN.mapBulge : '',
      }),
      trainingAt: [WIDTH - 4, 16],
    },
    parts.join(''),
  );
}

function wrapDeg(deg: number): number {
  return ((deg % 360) + 360) % 360;
}

function ticks(low: number, high: number, step: number): number[] {
  const out: number[] = [];
  for (let v = Math.ceil(low / step) * step; v <= high && out.length < 60; v += step) out.push(v + 0);
  return out;
}

/** The map turned so that the seam is at both edges; the edge columns are interpolated, rows and columns ascend. */
function unrollGrid(
  azimuthDeg: readonly number[], heightMm: readonly number[], values: readonly (readonly (number | null)[])[], seamDeg: number,
): ScalarGrid | null {
  const columns = azimuthDeg
    .map((deg, i) => ({ deg: wrapDeg(deg - seamDeg), i }))
    .filter((c) => Number.isFinite(c.deg)).sort((a, b) => a.deg - b.deg);
  const rows = heightMm.map((mm, i) => ({ mm, i })).filter((r) => Number.isFinite(r.mm) && Math.abs(r.mm) < 100).sort((a, b) => a.mm - b.mm);
  const [first, last] = [columns[0], columns[columns.length - 1]];
  if (!first || !last || columns.length < 3 || rows.length < 2) return null;
  const gap = first.deg + 360 - last.deg;
  const t = gap > 0 ? (360 - last.deg) / gap : 0;
  const read = (row: number, column: number): number | null => {
    const v = values[row]?.[column];
    return typeof v === 'number' && Number.isFinite(v) ? v : null;
  };
  const grid = rows.map((row) => {
    const [a, b] = [read(row.i, last.i), read(row.i, first.i)];
    const edge = a === null || b === null ? null : a + t * (b - a);
    return [edge, ...columns.map((c) => read(row.i, c.i)), edge];
  });
  return { xs: [0, ...columns.map((c) => c.deg), 360], ys: rows.map((r) => r.mm), values: grid };
}

type Place = (p: readonly [number, number]) => [number, number];

function drawIsolines(grid: ScalarGrid, place: Place, keepClearX: readonly number[], keepClearY: readonly number[]): { readonly lines: string; readonly labels: string } {
  const all = grid.values.flat().filter((v): v is number => v !== null);
  if (all.length === 0) return { lines: '', labels: '' };
  const [low, high] = [Math.ceil(all.reduce((a, b) => Math.min(a, b))), Math.floor(all.reduce((a, b) => Math.max(a, b)))];
  const step = Math.max(1, Math.ceil((high - low) / 20));
  const parts: string[] = [];
  const labels: string[] = [];
  for (let level = Math.ceil(low / step) * step; level <= high; level += step) {
    const lines = traceIsolines(grid, level);
    const isMajor = (level / step) % 2 === 0;
    const d = lines.map((line) => drawPath(line.points.map(place), line.isClosed)).join('');
    if (d) parts.push(`<path class="${isMajor ? 'iso2' : 'iso'}" d="${d}"/>`);
    if (isMajor) labels.push(...labelLines(lines, place, keepClearX, keepClearY, formatNumber(level, 0)));
  }
  return { lines: parts.join(''), labels: labels.join('') };
}

/** A number on each long line of a level, where the line runs most nearly level. */
function labelLines(lines: readonly Isoline[], place: Place, keepClearX: readonly number[], keepClearY: readonly number[], text: string): string[] {
  return lines.flatMap((line) => {
    const points = line.points.map(place);
    const length = points.reduce((sum, p, i) => (i === 0 ? 0 : sum + Math.hypot(p[0] - points[i - 1]![0], p[1] - points[i - 1]![1])), 0);
    if (length < 110) return [];
    let best = -1;
    let flattest = Infinity;
    points.forEach((p, i) => {
      const [a, b] = [points[i - 2], points[i + 2]];
      if (!a || !b || p[0] < LEFT + 24 || p[0] > WIDTH - RIGHT - 24) return;
      if (keepClearX.some((x) => Math.abs(p[0] - x) < 15) || keepClearY.some((y) => Math.abs(p[1] - y) < 13)) return;
      const slope = Math.abs(b[1] - a[1]) / (1e-6 + Math.hypot(b[0] - a[0], b[1] - a[1]));
      if (slope < flattest - 1e-9) [flattest, best] = [slope, i];
    });
    const at = points[best];
    return at ? [drawText('soft halo mid', at[0], at[1] + 5, text)] : [];
  });
}

/** Difference to the ring at height 0 at the same azimuth, positive where the wall below stands further in. */
function bulgeGrid(grid: ScalarGrid): ScalarGrid {
  const zero = grid.ys.findIndex((mm) => mm >= 0);
  const rows = grid.ys.map((mm, i) => ({ mm, i })).filter((r) => r.mm <= 0);
  return {
    xs: grid.xs, ys: rows.map((r) => r.mm),
    values: rows.map((r) => grid.xs.map((_, c) => {
      const [ring, wall] = [grid.values[zero]?.[c], grid.values[r.i]?.[c]];
      return typeof ring === 'number' && typeof wall === 'number' ? ring - wall : null;
    })),
  };
}

function drawBulge(grid: ScalarGrid, place: Place): string {
  const bulge = bulgeGrid(grid);
  return [1, 2, 3, 4, 5].map((k) => {
    const d = fillIsoband(bulge, k * BULGE_STEP_MM).map((polygon) => drawPath(polygon.map(place), true)).join('');
    return d ? `<path class="shade" d="${d}"/>` : '';
  }).join('');
}

function findBulge(grid: ScalarGrid): { readonly deg: number; readonly mm: number } | null {
  const bulge = bulgeGrid(grid);
  let deepest = BULGE_STEP_MM;
  let at: { deg: number; mm: number } | null = null;
  bulge.values.forEach((row, r) => row.forEach((v, c) => {
    // The septum lies below the R cusp; a narrowing elsewhere is no bulge of it.
    const deg = bulge.xs[c]! - 360 * Math.round(bulge.xs[c]! / 360);
    if (v !== null && v > deepest && Math.abs(deg) <= SEPTUM_REACH_DEG) {
      deepest = v;
      at = { deg: bulge.xs[c]!, mm: bulge.ys[r]! };
    }
  }));
  return at;
}

/** Hatch over each place without a wall, one box per run in a row. */
function drawUnknown(grid: ScalarGrid, x: (deg: number) => number, y: (mm: number) => number, id: string): string {
  const edge = (list: readonly number[], i: number): number =>
    i <= 0 ? list[0]! : i >= list.length ? list[list.length - 1]! : (list[i - 1]! + list[i]!) / 2;
  const boxes: string[] = [];
  grid.values.forEach((row, r) => {
    for (let c = 0; c < row.length; c++) {
      if (row[c] !== null) continue;
      const start = c;
      while (c + 1 < row.length && row[c + 1] === null) c++;
      const [x1, x2] = [x(edge(grid.xs, start)), x(edge(grid.xs, c + 1))];
      const [y1, y2] = [y(edge(grid.ys, r + 1)), y(edge(grid.ys, r))];
      boxes.push(`M${formatCoordinate(x1)} ${formatCoordinate(y1)}H${formatCoordinate(x2)}V${formatCoordinate(y2)}H${formatCoordinate(x1)}Z`);
    }
  });
  return boxes.length > 0 ? `<path fill="url(#${id}-hatch)" d="${boxes.join('')}"/>` : '';
}

/** Dots on a shaken lattice, the same each time; bigger where the attenuation stands further above the threshold. */
function drawStipple(heat: ScalarGrid, thresholdHu: number, x: (deg: number) => number, y: (mm: number) => number): string {
  const [small, large]: [string[], string[]] = [[], []];
  const [left, right] = [x(0), x(360)];
  const [top, bottom] = [y(heat.ys[heat.ys.length - 1]!), y(heat.ys[0]!)];
  for (let row = 0; row * DOT_STEP < bottom - top; row++) {
    for (let column = 0; column * DOT_STEP < right - left; column++) {
      const index = row * 4096 + column;
      const px = left + (column + 0.15 + 0.7 * uniformAt(1, index, 0)) * DOT_STEP;
      const py = top + (row + 0.15 + 0.7 * uniformAt(1, index, 1)) * DOT_STEP;
      const hu = readGrid(heat, (px - left) / PX_PER_DEG, heat.ys[heat.ys.length - 1]! - (py - top) / PX_PER_MM);
      if (hu === null || !(hu > thresholdHu)) continue;
      (hu > 1.4 * thresholdHu ? large : small).push(`M${formatCoordinate(px)} ${formatCoordinate(py)}h.01`);
    }
  }
  return [[small, 2.4], [large, 3.6]].map(([dots, size]) =>
    (dots as string[]).length > 0 ? `<path class="dots" stroke-width="${size as number}" d="${(dots as string[]).join('')}"/>` : '').join('');
}

function readGrid(grid: ScalarGrid, xAt: number, yAt: number): number | null {
  const c = grid.xs.findIndex((v) => v > xAt) - 1;
  const r = grid.ys.findIndex((v) => v > yAt) - 1;
  if (c < 0 || r < 0) return null;
  const u = (xAt - grid.xs[c]!) / (grid.xs[c + 1]! - grid.xs[c]!);
  const v = (yAt - grid.ys[r]!) / (grid.ys[r + 1]! - grid.ys[r]!);
  const [a, b, d, e] = [grid.values[r]![c]!, grid.values[r]![c + 1]!, grid.values[r + 1]![c]!, grid.values[r + 1]![c + 1]!];
  if (a === null || b === null || d === null || e === null) return null;
  return (1 - v) * ((1 - u) * a + u * b) + v * ((1 - u) * d + u * e);
}

function drawKey(y: number, id: string, hasCalcium: boolean): string {
  const parts: string[] = [];
  let at = 6;
  const put = (glyph: string, text: string): void => {
    parts.push(`<g transform="translate(${formatCoordinate(at)} ${formatCoordinate(y - 5)})">${glyph}</g>`, drawText('soft', at + 26, y, text));
    at += 44 + text.length * 7.4;
  };
  if (hasCalcium) put('<path class="dots" stroke-width="3" d="M2 -3h.01M9 2h.01M15 -4h.01M19 3h.01M5 4h.01"/>', REPORT_EN.mapKeyCalcium);
  put(drawBox('shade', 0, -7, 20, 14) + drawBox('shade', 6, -7, 14, 14), REPORT_EN.mapKeyBulge);
  put(drawBox('hatchbox', 0, -7, 20, 14, ` fill="url(#${id}-hatch)"`), REPORT_EN.mapKeyNoWall);
  return parts.join('');
}
