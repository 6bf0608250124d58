import type { SizeAnswer } from '../../core/device/size-types.ts';
import type { Fact } from '../../core/units/fact.ts';
import { LANDING_EN } from '../../core/text/landing-en.ts';
import { formatNumber, formatShare, isAnswered } from './format-number.ts';
import { drawBox, drawLine, drawText, wrapPicture } from './svg-parts.ts';

const WIDTH = 720;
const LEFT = 10;
const RIGHT = 10;
const TOP = 34;
const ROW = 74;
const BOX = 38;

/** Sizes as boxes along the perimeter, one row per device; the ring as a line with its 95 % shade through all rows. */
export function drawSizeLadder(size: SizeAnswer, perimeter: Fact, picture: { readonly id: string; readonly isTraining: boolean }): string | null {
  if (!isAnswered(perimeter)) return null;
  const { table } = size;
  const ranges = table.devices.flatMap((d) => d.sizes.map((s) => s.basalPerimeterMm));
  const from = Math.floor(Math.min(perimeter.low, ...ranges.map((r) => r[0])) - 2);
  const to = Math.ceil(Math.max(perimeter.high, ...ranges.map((r) => r[1])) + 2);
  const x = (mm: number): number => LEFT + ((mm - from) / (to - from)) * (WIDTH - LEFT - RIGHT);
  const bottom = TOP + ROW * table.devices.length;
  const parts = [drawBox('band', x(perimeter.low), TOP - 8, x(perimeter.high) - x(perimeter.low), bottom - TOP + 8)];
  parts.push(drawLine('bold', x(perimeter.value), TOP - 8, x(perimeter.value), bottom));
  table.devices.forEach((device, row) => {
    const y = TOP + ROW * row + 24;
    parts.push(drawText('halo', LEFT, y - 8, device.id));
    for (const s of device.sizes) {
      const c = size.candidates.find((k) => k.device === device.id && k.size === s.label);
      const [a, b] = [x(s.basalPerimeterMm[0]), x(s.basalPerimeterMm[1])];
      const isIt = size.byDevice.find((d) => d.device === device.id)?.size === s.label;
      parts.push(drawBox(isIt ? 'chosen' : 'frame', a, y, b - a, BOX, isIt ? ' fill="none" stroke="currentColor" stroke-width="2.8"' : ''));
      // The ring's line must not run through a label: it goes into the wider part beside the line.
      const at = placeLabel(a, b, x(perimeter.value));
      parts.push(drawText('mid halo', at, y + 17, s.label), drawText('mid soft halo', at, y + 33, c ? formatShare(c.fitProbability) : ''));
    }
  });
  const isRight = x(perimeter.value) > WIDTH * 0.7;
  parts.push(drawText(isRight ? 'end halo' : 'halo', x(perimeter.value) + (isRight ? -7 : 7), TOP - 14, `${LANDING_EN.ladderRing} ${formatNumber(perimeter.value, 1)} mm`));
  for (let mm = Math.ceil(from / 5) * 5; mm <= to; mm += 5) parts.push(drawLine('rule', x(mm), bottom, x(mm), bottom + 5), drawText('mid', x(mm), bottom + 21, String(mm)));
  parts.push(drawLine('rule', LEFT, bottom, WIDTH - RIGHT, bottom), drawText('mid', WIDTH / 2, bottom + 42, LANDING_EN.ladderAxis));
  return wrapPicture({ ...picture, width: WIDTH, height: bottom + 66, title: LANDING_EN.ladderTitle, description: LANDING_EN.ladderDesc }, parts.join(''));
}

function placeLabel(left: number, right: number, line: number): number {
  const middle = (left + right) / 2;
  if (Math.abs(line - middle) > LABEL / 2) return middle;
  return line - left > right - line ? (left + line) / 2 : (line + right) / 2;
}
const LABEL = 52;
