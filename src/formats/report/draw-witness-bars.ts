import type { LeakVerdict } from '../../core/verdict/fuse-witnesses.ts';
import { showNumber } from '../../core/verdict/make-reason.ts';
import { WITNESS_KINDS, type LeakInterval, type WitnessKind } from '../../core/verdict/verdict-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_SHEET_EN } from '../../core/text/result-sheet-en.ts';
import { drawBox, drawLine, drawPath, drawText, wrapPicture } from './svg-parts.ts';

const WIDTH = 470;
const LEFT = 26;
const RIGHT = 40;
const TOP = 62;
const ROW = 58;
const BAR = 24;
/** A grade without width is still seen. */
const LEAST = 8;

const x = (grade: number): number => LEFT + (Math.max(0, Math.min(4, grade)) / 4) * (WIDTH - LEFT - RIGHT);

/**
 * The three witnesses as bars on the scale from 0 to 4, what all of them allow, and the signed line. Each witness has its own
 * pattern: filled, lines, dots.
 * Shape     SVG text
 * Source    docs/methods/verdict.md
 */
export function drawWitnessBars(verdict: LeakVerdict, picture: { readonly id: string; readonly isTraining: boolean }): string {
  const bottom = TOP + ROW * WITNESS_KINDS.length;
  const line = verdict.decisionLine;
  const parts: string[] = [];
  for (const grade of [0, 1, 2, 3, 4] as const) {
    const anchor = grade === 0 ? '' : grade === 4 ? 'end ' : 'mid ';
    const at = grade === 0 ? 4 : grade === 4 ? WIDTH - 4 : x(grade);
    parts.push(drawLine('faint', x(grade), TOP - 8, x(grade), bottom), drawText(`${anchor}soft`, at, grade === 3 ? 14 : 30, RESULT_SHEET_EN[`tick-${grade}`]));
    if (grade === 3) parts.push(drawText('mid soft', x(3), 30, RESULT_SHEET_EN['tick-3-more']));
    parts.push(drawText('mid', x(grade), 47, String(grade)));
  }
  parts.push(drawLine('rule', LEFT, TOP - 8, x(4), TOP - 8));
  if (line !== null) {
    // Through bars and bracket, and on below the words under the bracket, which it must not cross.
    const at = x(line.value);
    parts.push(`<path class="bold broken" d="${drawPath([[at, TOP - 8], [at, bottom + 16]])}${drawPath([[at, bottom + 40], [at, bottom + 52]])}"/>`);
    parts.push(drawText('mid halo', Math.max(66, Math.min(WIDTH - 66, at)), bottom + 67, formatText(RESULT_SHEET_EN, 'barLine', { grade: showNumber(line.value) })));
  }
  WITNESS_KINDS.forEach((kind, i) => parts.push(drawWitness(verdict, kind, TOP + ROW * i)));
  parts.push(drawCommon(verdict, bottom));
  return wrapPicture({ ...picture, width: WIDTH, height: bottom + (picture.isTraining ? 96 : 76), title: RESULT_SHEET_EN.barsTitle, description: `${RESULT_SHEET_EN.barsDesc} ${describeBars(verdict)}` }, parts.join(''));
}

/** The same in words, for who does not see the picture. */
export function describeBars(verdict: LeakVerdict): string {
  return [...WITNESS_KINDS.map((kind) => nameBar(verdict, kind)), nameCommon(verdict)].filter((s) => s !== '').map((s) => `${s}.`).join(' ');
}

function nameBar({ speaking, missing }: LeakVerdict, kind: WitnessKind): string {
  const name = RESULT_SHEET_EN[`bar-${kind}`];
  const spoken = speaking.find((w) => w.kind === kind)?.interval ?? null;
  if (spoken) return nameBand(name, spoken);
  return formatText(RESULT_SHEET_EN, missing.includes(kind) ? 'barMissing' : 'barSilent', { name });
}
function nameBand(name: string, [low, high]: LeakInterval): string {
  return low === high ? formatText(RESULT_SHEET_EN, 'barOne', { name, low: showNumber(low) }) : formatText(RESULT_SHEET_EN, 'barBand', { name, low: showNumber(low), high: showNumber(high) });
}
function nameCommon({ common, speaking }: LeakVerdict): string {
  if (speaking.length < 2) return '';
  if (common === null || common[0] > common[1]) return RESULT_SHEET_EN.barNoCommon;
  const [low, high] = [showNumber(common[0]), showNumber(common[1])];
  return low === high ? formatText(RESULT_SHEET_EN, 'barCommonOne', { low }) : formatText(RESULT_SHEET_EN, 'barCommon', { low, high });
}

function drawWitness(verdict: LeakVerdict, kind: WitnessKind, top: number): string {
  const spoken = verdict.speaking.find((w) => w.kind === kind)?.interval ?? null;
  const y = top + 20;
  const parts: string[] = [];
  if (spoken) {
    const [a, b] = readEnds(spoken);
    parts.push(drawBox('open', a, y, b - a, BAR), drawPattern(kind, a, y, b - a));
  } else {
    // No bar, frame or line, any of which could be read as an interval: a word between hatches of doubt.
    parts.push(drawLack(verdict.missing.includes(kind) ? RESULT_SHEET_EN.wordMissing : RESULT_SHEET_EN.wordSilent, y));
  }
  parts.push(drawText('halo', LEFT, top + 13, spoken ? nameBar(verdict, kind) : RESULT_SHEET_EN[`bar-${kind}`]));
  return parts.join('');
}
function drawLack(word: string, y: number): string {
  const [left, width] = [x(2) - 105, 210];
  const lines: string[] = [];
  for (const from of [left, left + width - 22]) for (let at = from; at <= from + 16; at += 6) lines.push(drawPath([[at, y + BAR - 3], [at + 6, y + 3]]));
  return `<rect fill="var(--sheet)" x="${left}" y="${y}" width="${width}" height="${BAR}"/><path class="hatch" fill="none" d="${lines.join('')}"/>${drawText('mid', x(2), y + BAR / 2 + 5, word).replace('<text ', '<text font-weight="700" ')}`;
}
function readEnds([low, high]: LeakInterval): readonly [number, number] {
  const [a, b] = [x(low), x(high)];
  const lack = Math.max(0, LEAST - (b - a)) / 2;
  return [a - lack, b + lack];
}

/** Filled, slanted lines, or dots: told apart in greyscale and on paper. */
function drawPattern(kind: WitnessKind, left: number, top: number, width: number): string {
  if (kind === 'pressure') return drawBox('solid', left, top, width, BAR, ' fill-opacity="0.5"');
  const parts: string[] = [];
  if (kind === 'echo') {
    for (let at = left - BAR + 7; at < left + width; at += 7) {
      const from = Math.max(left, at);
      const to = Math.min(left + width, at + BAR);
      if (to > from) parts.push(drawPath([[from, top + BAR - (from - at)], [to, top + BAR - (to - at)]]));
    }
    return `<path class="line" d="${parts.join('')}"/>`;
  }
  for (let row = 0; row < 3; row++) {
    for (let at = left + 5 + (row % 2) * 4; at <= left + width - 3; at += 8) parts.push(`<circle class="solid" cx="${at.toFixed(1)}" cy="${top + 5 + row * 7}" r="1.7"/>`);
  }
  return parts.join('');
}

/** A bracket under what all allow; two brackets with their backs to one another would be read as a range. */
function drawCommon(verdict: LeakVerdict, bottom: number): string {
  const text = nameCommon(verdict);
  if (text === '') return '';
  const y = bottom + 12;
  const { common } = verdict;
  if (common === null || common[0] > common[1]) return drawText('halo', LEFT, y + 22, text);
  const [a, b] = readEnds(common);
  const middle = Math.max(110, Math.min(WIDTH - 110, (a + b) / 2));
  return `<path class="bold" d="${drawPath([[a, y - 8], [a, y], [b, y], [b, y - 8]])}"/>` + drawText('mid halo', middle, y + 20, text);
}
