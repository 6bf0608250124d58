import type { ReaderAgreement } from '../../core/root/compare-readings.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { VIEWER_EN } from '../../core/text/viewer-en.ts';
import { escapeText } from './escape-text.ts';
import { formatCoordinate, formatNumber } from './format-number.ts';
import { drawBox, drawLine, drawText, spreadLabels, wrapPicture } from './svg-parts.ts';

const WIDTH = 560;
const HEIGHT = 340;
const LEFT = 62;
const RIGHT = 470;
const TOP = 24;
const FOOT = 286;

/**
 * Agreement of two readers over a set: difference over mean, bias solid, limits dashed, their 95 % intervals as bands.
 * Shape     SVG text
 * Source    docs/methods/reading-agreement.md
 */
export function drawAgreement(agreement: ReaderAgreement, words: { readonly measure: string; readonly unit: string }, picture: { readonly id: string; readonly isTraining: boolean }): string {
  const { points, bias, lowerLimit, upperLimit } = agreement;
  const means = points.map((p) => p.mean);
  const [xLow, xHigh] = widen(Math.min(...means), Math.max(...means), 0.06);
  const all = [...points.map((p) => p.difference), lowerLimit.low, upperLimit.high, 0];
  const [yLow, yHigh] = widen(Math.min(...all), Math.max(...all), 0.05);
  const x = (v: number): number => LEFT + ((v - xLow) / (xHigh - xLow)) * (RIGHT - LEFT);
  const y = (v: number): number => FOOT - ((v - yLow) / (yHigh - yLow)) * (FOOT - TOP);
  const parts: string[] = [drawBox('frame', LEFT, TOP, RIGHT - LEFT, FOOT - TOP)];
  for (const e of [lowerLimit, bias, upperLimit]) parts.push(drawBox('shade', LEFT, y(e.high), RIGHT - LEFT, y(e.low) - y(e.high)));
  const digits = Math.max(0, Math.min(3, 2 - Math.floor(Math.log10(Math.max(1e-9, yHigh - yLow)))));
  for (const tick of listTicks(yLow, yHigh)) parts.push(drawLine('faint', LEFT, y(tick), RIGHT, y(tick)), drawText('soft end', LEFT - 6, y(tick) + 5, formatNumber(tick, digits)));
  for (const tick of listTicks(xLow, xHigh)) parts.push(drawLine('rule', x(tick), FOOT, x(tick), FOOT + 5), drawText('soft mid', x(tick), FOOT + 20, formatNumber(tick, Math.max(0, Math.min(3, 2 - Math.floor(Math.log10(Math.max(1e-9, xHigh - xLow))))))));
  parts.push(drawLine('hair', LEFT, y(0), RIGHT, y(0)));
  parts.push(drawLine('bold', LEFT, y(bias.value), RIGHT, y(bias.value)));
  for (const e of [lowerLimit, upperLimit]) parts.push(drawLine('cusp-L', LEFT, y(e.value), RIGHT, y(e.value)));
  for (const p of points) parts.push(`<circle class="open" cx="${formatCoordinate(x(p.mean))}" cy="${formatCoordinate(y(p.difference))}" r="4"/>`);
  const lines = [
    { at: upperLimit.value, text: `${VIEWER_EN.plotLimit} ${formatNumber(upperLimit.value, digits)}` },
    { at: bias.value, text: `${VIEWER_EN.plotBias} ${formatNumber(bias.value, digits)}` },
    { at: lowerLimit.value, text: `${VIEWER_EN.plotLimit} ${formatNumber(lowerLimit.value, digits)}` },
  ];
  const heights = spreadLabels(lines.map((l) => y(l.at)), 17, TOP + 4, FOOT - 4);
  lines.forEach((l, i) => parts.push(drawText('', RIGHT + 6, heights[i]! + 5, l.text)));
  parts.push(drawText('mid', (LEFT + RIGHT) / 2, FOOT + 42, `${VIEWER_EN.plotMean}, ${words.unit}`));
  parts.push(`<text class="mid" transform="translate(14 ${(TOP + FOOT) / 2}) rotate(-90)">${escapeText(`${VIEWER_EN.plotDifference}, ${words.unit}`)}</text>`);
  return wrapPicture({ ...picture, width: WIDTH, height: HEIGHT, title: formatText(VIEWER_EN, 'plotTitle', { measure: words.measure }), description: VIEWER_EN.plotDesc }, parts.join(''));
}

/** Some room at both ends; a range without width gets one. */
function widen(low: number, high: number, share: number): readonly [number, number] {
  const room = high > low ? (high - low) * share : Math.max(0.5, Math.abs(high) * 0.02);
  return [low - room, high + room];
}

/** Round numbers within a range, some four to eight of them. */
function listTicks(low: number, high: number): readonly number[] {
  const rough = (high - low) / 5;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough) ?? rough;
  const ticks: number[] = [];
  for (let k = Math.ceil(low / step); k * step <= high; k++) ticks.push(k * step);
  return ticks;
}
