import { CUSPS, type RootCalcium } from '../../core/root/root-types.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import type { Fact } from '../../core/units/fact.ts';
import { formatCoordinate, formatFact, isAnswered } from './format-number.ts';
import { drawBox, drawLine, drawPath, drawText, wrapPicture } from './svg-parts.ts';

const WIDTH = 520;
const LEFT = 108;
const RIGHT = 148;
const ROW = 24;
const GROUP = 64;

/**
 * Calcium volume of each cusp and of the outflow tract below it, as bars with 95 % intervals; the bar's edge is drawn
 * in the line of its cusp (R solid, L dashed, N dotted).
 */
export function drawCalciumChart(calcium: RootCalcium, picture: { readonly id: string; readonly isTraining: boolean }): string {
  const facts = CUSPS.flatMap((cusp) => [calcium.byCuspMm3[cusp], calcium.outflowByCuspMm3[cusp]]);
  const most = facts.reduce((a, f) => (isAnswered(f) ? Math.max(a, f.high) : a), 10);
  const length = (mm3: number): number => (Math.max(0, mm3) / most) * (WIDTH - LEFT - RIGHT);
  const drawBar = (fact: Fact, cusp: string, name: string, top: number): string => {
    const middle = top + ROW / 2;
    const label = drawText('soft end', LEFT - 8, middle + 5, name);
    const words = formatFact(fact);
    if (!words || !isAnswered(fact)) return label + drawBox('hatchbox', LEFT, top + 4, 40, ROW - 8, ` fill="url(#${picture.id}-hatch)"`) + drawText('', LEFT + 48, middle + 5, REPORT_EN.refused);
    const [x, low, high] = [LEFT + length(fact.value), LEFT + length(fact.low), LEFT + length(fact.high)];
    const hatch = fact.status === 'doubtful' ? drawBox('hatchbox', LEFT, top + 4, x - LEFT, ROW - 8, ` fill="url(#${picture.id}-hatch)"`) : '';
    return (
      label + drawBox('band', LEFT, top + 4, x - LEFT, ROW - 8) + hatch +
      `<path class="cusp-${cusp}" d="${drawPath([[LEFT, top + 4], [x, top + 4], [x, top + ROW - 4], [LEFT, top + ROW - 4]])}"/>` +
      drawLine('line', low, middle, high, middle) +
      `<path class="line" d="M${formatCoordinate(low)} ${formatCoordinate(middle - 4)}v8M${formatCoordinate(high)} ${formatCoordinate(middle - 4)}v8"/>` +
      drawText('halo', Math.max(high, x) + 8, middle + 5, `${words.value} ${words.interval}`)
    );
  };
  const body = CUSPS.map((cusp, i) => {
    const top = 10 + i * GROUP;
    return (
      `<text class="letter" x="20" y="${formatCoordinate(top + ROW + 8)}">${cusp}</text>` +
      drawBar(calcium.byCuspMm3[cusp], cusp, REPORT_EN.calciumAtCusp, top) +
      drawBar(calcium.outflowByCuspMm3[cusp], cusp, REPORT_EN.calciumBelow, top + ROW)
    );
  }).join('');
  const height = 10 + 3 * GROUP + (picture.isTraining ? 16 : 0);
  return wrapPicture(
    { ...picture, width: WIDTH, height, title: REPORT_EN.calciumTitle, description: REPORT_EN.calciumDesc },
    body + drawLine('rule', LEFT, 6, LEFT, 6 + 3 * GROUP - 10),
  );
}
