import { findWidestSinus } from '../../core/root/make-root-cuts.ts';
import type { LevelRing, RootSurvey } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import type { Fact } from '../../core/units/fact.ts';
import { formatCoordinate, isAnswered } from './format-number.ts';
import { drawArrow, drawBox, drawLine, drawPath, drawText, spreadLabels, wrapPicture } from './svg-parts.ts';

const WIDTH = 720;
const LEFT = 78;
const RIGHT = 236;
const TOP = 44;
const FOOT = 62;
const PX_PER_MM = 9.5;
/** Diameter from the area is marked at each second level, so that the rings stay apart. */
const AREA_STEP = 2;

interface Row {
  readonly heightMm: number;
  readonly mid: number;
  readonly low: number;
  readonly high: number;
  readonly min: number | null;
  readonly max: number | null;
  readonly area: number | null;
  readonly isDoubtful: boolean;
}

/**
 * Width by height: diameter from the perimeter as a line with its 95 % band, smallest to largest as a wide shade, and
 * brackets for the heights of ostia and junction.
 *
 * Shape     SVG text; null when fewer than 2 levels were measured
 * Source    docs/methods/pictures.md
 */
export function drawLevelsChart(root: RootSurvey, picture: { readonly id: string; readonly isTraining: boolean }): string | null {
  const levels = [...root.levels].filter((l) => Number.isFinite(l.heightMm) && Math.abs(l.heightMm) < 100).sort((a, b) => a.heightMm - b.heightMm);
  const rows = levels.map(readRow);
  const known = rows.filter((r): r is Row => r !== null);
  if (known.length < 2) return null;
  const [lowMm, highMm] = [levels[0]!.heightMm, levels[levels.length - 1]!.heightMm];
  const least = known.reduce((a, r) => Math.min(a, r.low, r.min ?? r.low), Infinity);
  const most = known.reduce((a, r) => Math.max(a, r.high, r.max ?? r.high), -Infinity);
  const [from, to] = [Math.floor(least - 1), Math.ceil(most + 1)];
  const bottom = TOP + (highMm - lowMm) * PX_PER_MM;
  const x = (mm: number): number => LEFT + ((mm - from) / (to - from)) * (WIDTH - LEFT - RIGHT);
  const y = (mm: number): number => TOP + (highMm - mm) * PX_PER_MM;
  const parts: string[] = [];
  const step = to - from > 24 ? 5 : 2;
  for (let mm = Math.ceil(from / step) * step; mm <= to; mm += step) {
    parts.push(drawLine('faint', x(mm), TOP, x(mm), bottom), drawText('mid', x(mm), bottom + 20, String(mm)));
  }
  for (let mm = Math.ceil(lowMm / 5) * 5; mm <= highMm; mm += 5) {
    parts.push(drawLine('rule', LEFT - 5, y(mm), LEFT, y(mm)));
    const text = mm === 0 ? REPORT_EN.onPlane : formatText(REPORT_EN, mm < 0 ? 'below' : 'above', { mm: Math.abs(mm) });
    if (mm !== 0) parts.push(drawText('end', LEFT - 9, y(mm) + 5, text));
  }
  for (const run of splitRuns(rows)) parts.push(drawRun(run, x, y, picture.id));
  parts.push(drawBox('frame', LEFT, TOP, WIDTH - LEFT - RIGHT, bottom - TOP));
  parts.push(drawText('mid', x((from + to) / 2), bottom + 42, REPORT_EN.chartAxis));
  parts.push(drawArrow(10, TOP - 8, TOP - 28), drawText('', 20, TOP - 13, REPORT_EN.toAorta));
  parts.push(drawArrow(10, bottom + 22, bottom + 42), drawText('', 20, bottom + 38, REPORT_EN.toVentricle));
  rows.forEach((row, i) => {
    if (row !== null) return;
    parts.push(drawBox('hatchbox', LEFT, y(levels[i]!.heightMm) - PX_PER_MM / 2, WIDTH - LEFT - RIGHT, PX_PER_MM, ` fill="url(#${picture.id}-hatch)"`));
  });
  parts.push(drawMarks(root, levels, lowMm, highMm, y, picture.id));
  return wrapPicture(
    {
      ...picture, width: WIDTH, height: bottom + FOOT, title: REPORT_EN.chartTitle, description: REPORT_EN.chartDesc,
      trainingAt: [WIDTH - 4, 16],
    },
    parts.join(''),
  );
}

function readRow(level: LevelRing): Row | null {
  const p = level.perimeterMm;
  if (!isAnswered(p)) return null;
  const valueOf = (fact: Fact): number | null => (isAnswered(fact) ? fact.value : null);
  const area = valueOf(level.areaMm2);
  return {
    heightMm: level.heightMm, mid: p.value / Math.PI, low: p.low / Math.PI, high: p.high / Math.PI,
    min: valueOf(level.minDiameterMm), max: valueOf(level.maxDiameterMm),
    area: area === null || area < 0 ? null : 2 * Math.sqrt(area / Math.PI), isDoubtful: p.status === 'doubtful',
  };
}

function splitRuns(rows: readonly (Row | null)[]): readonly (readonly Row[])[] {
  const runs: Row[][] = [[]];
  for (const row of rows) {
    if (row === null) runs.push([]);
    else runs[runs.length - 1]!.push(row);
  }
  return runs.filter((run) => run.length > 0);
}

type Scale = (mm: number) => number;

function drawRun(run: readonly Row[], x: Scale, y: Scale, id: string): string {
  const region = (rows: readonly Row[], low: (r: Row) => number, high: (r: Row) => number): string =>
    drawPath([...rows.map((r) => [x(low(r)), y(r.heightMm)] as const), ...[...rows].reverse().map((r) => [x(high(r)), y(r.heightMm)] as const)], true);
  const parts = [`<path class="shade" d="${region(run, (r) => r.min ?? r.low, (r) => r.max ?? r.high)}"/>`];
  parts.push(`<path class="band" d="${region(run, (r) => r.low, (r) => r.high)}"/>`);
  run.forEach((row, i) => {
    if (!row.isDoubtful) return;
    const above = run[i + 1] ?? row;
    parts.push(`<path fill="url(#${id}-hatch)" d="${region([row, above], (r) => r.min ?? r.low, (r) => r.max ?? r.high)}"/>`);
  });
  parts.push(`<path class="bold" d="${drawPath(run.map((r) => [x(r.mid), y(r.heightMm)]))}"/>`);
  run.forEach((r, i) => {
    if (r.area === null || i % AREA_STEP !== 0) return;
    parts.push(`<circle class="open" cx="${formatCoordinate(x(r.area))}" cy="${formatCoordinate(y(r.heightMm))}" r="3"/>`);
  });
  return parts.join('');
}

/** Level names and height brackets in the right margin. */
function drawMarks(root: RootSurvey, levels: readonly LevelRing[], lowMm: number, highMm: number, y: Scale, id: string): string {
  const right = WIDTH - RIGHT;
  const marks: { text: string; at: number; low: number; high: number; isDoubtful: boolean; isLine: boolean }[] = [];
  const putFact = (text: string, fact: Fact | undefined, isLine = false): void => {
    if (fact && isAnswered(fact)) marks.push({ text, at: fact.value, low: fact.low, high: fact.high, isDoubtful: fact.status === 'doubtful', isLine });
  };
  const putLine = (text: string, at: number): void => {
    marks.push({ text, at, low: at, high: at, isDoubtful: false, isLine: true });
  };
  putLine(REPORT_EN.basalPlane, 0);
  putLine(REPORT_EN.outflow, root.outflowTract.heightMm);
  const widest = findWidestSinus(levels, root.sinotubularJunction.heightMm.value);
  if (widest) putLine(REPORT_EN.widest, widest.heightMm);
  putFact(REPORT_EN.junction, root.sinotubularJunction.heightMm, true);
  putFact(REPORT_EN.leftOstiumShort, root.coronaries.left?.heightMm);
  putFact(REPORT_EN.rightOstiumShort, root.coronaries.right?.heightMm);
  const shown = marks.filter((m) => m.at >= lowMm && m.at <= highMm);
  const clamp = (mm: number): number => y(Math.max(lowMm, Math.min(highMm, mm)));
  const labelYs = spreadLabels(shown.map((m) => y(m.at) + 5), 18, TOP + 8, y(lowMm) + 4);
  // Brackets stand side by side, so that overlapping intervals can be told apart.
  let lane = 0;
  return shown.map((m, i) => {
    const labelY = labelYs[i]!;
    const parts: string[] = [];
    if (m.isLine) parts.push(drawLine(m.at === 0 ? 'bold' : 'rule', LEFT, y(m.at), right, y(m.at)));
    let start = right;
    if (m.high > m.low) {
      start = right + 8 + 10 * (lane++ % 3);
      if (m.isDoubtful) parts.push(drawBox('', start - 4, clamp(m.high), 8, clamp(m.low) - clamp(m.high), ` fill="url(#${id}-hatch)"`));
      parts.push(`<path class="line" d="M${formatCoordinate(start - 4)} ${formatCoordinate(clamp(m.high))}h8m-4 0V${formatCoordinate(clamp(m.low))}m-4 0h8"/>`);
      parts.push(`<circle class="open" cx="${formatCoordinate(start)}" cy="${formatCoordinate(y(m.at))}" r="3.4"/>`);
      start += 5;
    }
    parts.push(`<path class="rule" d="${drawPath([[start, y(m.at)], [right + 36, y(m.at)], [right + 44, labelY - 5], [right + 48, labelY - 5]])}"/>`);
    parts.push(drawText('', right + 52, labelY, m.isDoubtful ? `${m.text}, ${REPORT_EN.doubtful}` : m.text));
    return parts.join('');
  }).join('');
}
