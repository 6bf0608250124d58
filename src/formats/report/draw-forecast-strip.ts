import { WORLDS, type ReleaseForecast, type World, type WorldForecast } from '../../core/release/release-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RELEASE_EN } from '../../core/text/release-en.ts';
import { formatNumber } from './format-number.ts';
import { drawBox, drawLine, drawPath, drawText, wrapPicture } from './svg-parts.ts';

const WIDTH = 720;
const LEFT = 92;
const RIGHT = 150;
const TOP = 26;
const ROW = 132;
const GAP = 16;
const MOST_MM = 6;
const COUNTS_MM = 1.5;

/**
 * The forecast strip: start depth across, one row per friction world with the band of the movement.
 * Shape     SVG text; null when nothing was forecast
 * Source    docs/methods/pictures.md
 */
export function drawForecastStrip(release: ReleaseForecast, picture: { readonly id: string; readonly isTraining: boolean }): string | null {
  const { sweep } = release;
  if (sweep.length < 2) return null;
  const [from, to] = [sweep[0]!.startMm, sweep[sweep.length - 1]!.startMm];
  const x = (mm: number): number => LEFT + ((mm - from) / (to - from)) * (WIDTH - LEFT - RIGHT);
  const bottom = TOP + WORLDS.length * (ROW + GAP) - GAP;
  const parts: string[] = [];
  WORLDS.forEach((world, k) => parts.push(drawRow(release, world, TOP + k * (ROW + GAP), x, picture.id)));
  for (let mm = Math.ceil(from); mm <= to; mm += 2) parts.push(drawLine('rule', x(mm), bottom, x(mm), bottom + 5), drawText('mid', x(mm), bottom + 21, nameDepth(mm)));
  parts.push(drawText('mid', (LEFT + WIDTH - RIGHT) / 2, bottom + 42, RELEASE_EN.stripAxis));
  parts.push(drawLine('bold', x(release.startMm), TOP - 8, x(release.startMm), bottom), drawText('mid', x(release.startMm), TOP - 11, formatText(RELEASE_EN, 'stripStart', { mm: formatNumber(release.startMm, 1) })));
  return wrapPicture({ ...picture, width: WIDTH, height: bottom + 66, title: RELEASE_EN.stripTitle, description: RELEASE_EN.stripDesc }, parts.join(''));
}

type Scale = (mm: number) => number;
/** An edge that leaves the landing zone stands at the end of the row. */
const edge = (v: number | null, leaves: 'none' | 'up' | 'down'): number => (leaves === 'up' ? MOST_MM : leaves === 'down' ? -MOST_MM : Math.max(-MOST_MM, Math.min(MOST_MM, v ?? 0)));

function drawRow(release: ReleaseForecast, world: World, top: number, x: Scale, id: string): string {
  const { sweep } = release;
  const y = (mm: number): number => top + ROW / 2 - (mm / MOST_MM) * (ROW / 2);
  const cells = sweep.map((s) => s.worlds[world]);
  const bands = cells.map((w) => ({ low: edge(w.movementMm.low, w.leaves.low), mid: edge(w.movementMm.mid, w.leaves.mid), high: edge(w.movementMm.high, w.leaves.high) }));
  const at = (i: number): number => x(sweep[i]!.startMm);
  const parts = [drawBox('frame', at(0), top, at(sweep.length - 1) - at(0), ROW)];
  const region = (low: readonly number[], high: readonly number[], first: number, last: number): string =>
    drawPath([...low.slice(first, last + 1).map((v, i) => [at(first + i), y(v)] as const), ...high.slice(first, last + 1).map((v, i) => [at(first + i), y(v)] as const).reverse()], true);
  parts.push(`<path class="band" d="${region(bands.map((b) => b.low), bands.map((b) => b.high), 0, bands.length - 1)}"/>`);
  // Where nothing can be said the row is hatched from half a step before to half a step after.
  for (let i = 0; i < cells.length; i++) {
    if (cells[i]!.answer !== 'cannot say') continue;
    const a = i === 0 ? at(0) : (at(i - 1) + at(i)) / 2;
    const b = i === cells.length - 1 ? at(i) : (at(i) + at(i + 1)) / 2;
    parts.push(drawBox('', a, top, b - a, ROW, ` fill="url(#${id}-hatch)"`));
  }
  for (const mm of [COUNTS_MM, -COUNTS_MM]) parts.push(`<path class="rule" stroke-dasharray="4 4" d="${drawPath([[at(0), y(mm)], [at(cells.length - 1), y(mm)]])}"/>`);
  parts.push(drawLine('line', at(0), y(0), at(cells.length - 1), y(0)));
  parts.push(`<path class="bold" d="${drawPath(bands.map((b, i) => [at(i), y(b.mid)]))}"/>`);
  cells.forEach((w, i) => parts.push(drawExits(w, at(i), y)));
  for (const mm of [4, -4]) parts.push(drawText('end', LEFT - 8, y(mm) + 5, `${formatNumber(Math.abs(mm), 0)} ${RELEASE_EN.unit}`));
  parts.push(drawText('end soft', LEFT - 8, top + 14, '↑'), drawText('end soft', LEFT - 8, top + ROW - 4, '↓'));
  const right = at(cells.length - 1) + 10;
  const here = sweep.find((s) => s.startMm === release.startMm)?.worlds[world];
  parts.push(drawText('', right, top + 18, RELEASE_EN[`world-${world}`]));
  if (world === 'middle') parts.push(drawText('soft', right, top + 36, RELEASE_EN.stripMiddle), drawText('soft', right, top + 53, RELEASE_EN.stripMiddleMore));
  if (here) parts.push(drawText('', right, top + ROW - 30, here.answer), drawText('soft', right, top + ROW - 12, describeBand(here)));
  return parts.join('');
}

function drawExits(w: WorldForecast, x: number, y: Scale): string {
  const arrow = (mm: number, back: number): string => `<path class="line" d="${drawPath([[x - 4, y(mm) + back], [x, y(mm)], [x + 4, y(mm) + back]])}"/>`;
  return (w.leaves.high === 'up' ? arrow(MOST_MM, 6) : '') + (w.leaves.low === 'down' ? arrow(-MOST_MM, -6) : '');
}

/** Above the plane in words, not by a sign. */
const nameDepth = (mm: number): string => (mm < 0 ? formatText(RELEASE_EN, 'stripAbove', { mm: formatNumber(-mm, 0) }) : formatNumber(mm, 0));

/** Whole millimetres with an arrow for the side; "out" where that end leaves the landing zone. */
function describeBand({ movementMm: { low, high }, leaves }: WorldForecast): string {
  const say = (v: number | null, exit: 'none' | 'up' | 'down'): string => {
    if (exit !== 'none') return `${RELEASE_EN.stripOut} ${exit === 'up' ? '↑' : '↓'}`;
    if (v === null) return '?';
    return Math.abs(v) < 0.5 ? '0' : `${Math.round(Math.abs(v))} mm ${v > 0 ? '↑' : '↓'}`;
  };
  return formatText(RELEASE_EN, 'stripBand', { low: say(low, leaves.low), high: say(high, leaves.high) });
}
