import { WALL_ROOM_EN as T } from '../../core/text/wall-room-en.ts';
import { BOARD_CAP_MM, drawRect, PITCH_MM, type Pen, type Region } from './wall-pen.ts';
import { layOutRuler } from './lay-out-wall-ruler.ts';
import { fitPieces, layOutBars, layOutBlocks, measureBars } from './lay-out-wall-verdict.ts';
import { wrapText } from './lay-out-wall-card.ts';
import type { AnswerWords, BarsWords, CardWords, LineWords, WallMark } from './wall-sheet.ts';

/** Width of the ruler and its labels. */
const RULER_MM = 150;
/** Least width for an answer of four signs beside the ruler. */
const LEAST_BESIDE_MM = 145;

/** The question of the step over the whole card, at its foot. Gives where the card ends above it. */
export function layOutQuestion(card: CardWords, pen: Pen, region: Region): number {
  if (card.question === '') return region.bottom;
  const { k } = pen;
  const cap = BOARD_CAP_MM.text * k;
  const rows = wrapText(card.question, region.right - region.left, (t) => pen.widthOf('bold', cap, t));
  const first = region.bottom - 4 * k - (rows.length - 1) * PITCH_MM * k;
  rows.forEach((text, i) => pen.put('question', 'bold', cap, text, region.left, first + i * PITCH_MM * k));
  const top = first - cap - 5 * k;
  pen.shapes.push({ d: `M${region.left} ${top}H${region.right}`, fill: 'none', strokeMm: 0.8 * k });
  return top - 3 * k;
}

/** Title, then the ruler at the left where there is one, and answer, word and lines. */
export function layOutCard(card: CardWords, pen: Pen, region: Region): void {
  const { k } = pen;
  const cap = BOARD_CAP_MM.text * k;
  drawMark(card.mark, pen, region);
  const left = region.left + 15 * k;
  const titles = wrapText(card.title, region.right - left, (t) => pen.widthOf('bold', cap, t));
  titles.forEach((text, i) => pen.put('title', 'bold', cap, text, left, region.top + cap + i * PITCH_MM * k));
  let base = region.top + cap + (titles.length - 1) * PITCH_MM * k;
  if (card.because !== '') {
    const because = pen.widthOf('plain', cap, card.because);
    const isBeside = pen.widthOf('bold', cap, titles.at(-1) ?? '') + because + 8 * k <= region.right - left;
    if (isBeside) pen.put('title', 'plain', cap, card.because, region.right - because, base, 'soft');
    else for (const text of wrapText(card.because, region.right - left, (t) => pen.widthOf('plain', cap, t))) pen.put('title', 'plain', cap, text, left, (base += PITCH_MM * k), 'soft');
  }
  const top = base + 5 * k;
  if (card.blocks) return layOutBlocks(card.blocks, pen, { ...region, left, top });
  if (card.bars) return layOutVerdict(card, card.bars, pen, { ...region, left, top });
  if (!card.ruler) return void layOutWords(card, pen, { ...region, left, top });
  const beside = left + (RULER_MM + 11) * k;
  if (region.right - beside >= LEAST_BESIDE_MM * k) {
    layOutRuler(card.ruler, pen, { left, top: top + 4 * k, right: left + RULER_MM * k, bottom: region.bottom });
    return void layOutWords(card, pen, { ...region, left: beside, top });
  }
  // On an upright screen the ruler stands below the words.
  const foot = layOutWords(card, pen, { ...region, left, top });
  layOutRuler(card.ruler, pen, { left, top: foot + 8 * k, right: left + RULER_MM * k, bottom: region.bottom });
}

/** Share of the width that the bars of the witnesses take beside the lines. */
const BARS_RATIO = 0.5;
/** Answer and word on one row, then the witnesses with the lines beside them, or below them on an upright screen. */
function layOutVerdict(card: CardWords, bars: BarsWords, pen: Pen, region: Region): void {
  const { k } = pen;
  const tone = card.mark === 'old' ? 'soft' : 'ink';
  const base = layOutAnswers(card.answer, pen, region, tone);
  const cap = BOARD_CAP_MM.word * k;
  const left = region.left + (card.answer[0] ? pen.widthOf('bold', BOARD_CAP_MM.answer * k, card.answer[0].glyphs) + 10 * k : 0);
  const rows = wrapText(card.word, region.right - left, (t) => pen.widthOf('bold', cap, t));
  // One row stands on the base line of the sign; more begin at its head.
  const first = rows.length === 1 ? base : region.top + 6 * k + cap;
  rows.forEach((text, i) => pen.put('word', 'bold', cap, text, left, first + i * (cap + 7 * k), tone));
  const top = Math.max(base, first + (rows.length - 1) * (cap + 7 * k)) + 6 * k;
  const isBeside = (region.right - region.left) * BARS_RATIO >= LEAST_BARS_MM * k;
  if (!isBeside) {
    const foot = top + measureBars(bars, pen);
    layOutBars(bars, pen, { ...region, top, bottom: foot }, tone);
    return void layOutLines(card.lines, pen, { ...region, top: foot + 2 * k });
  }
  const split = region.left + (region.right - region.left) * BARS_RATIO;
  layOutBars(bars, pen, { ...region, top, right: split - 6 * k }, tone);
  layOutLines(card.lines, pen, { ...region, top: top - 5 * k, left: split + 8 * k });
}
const LEAST_BARS_MM = 190;

function drawMark(mark: WallMark, pen: Pen, { left, top, bottom }: Region): void {
  if (mark === 'plain') return;
  const fill = mark === 'stop' ? 'ink' : mark === 'old' ? 'dots' : 'hatch';
  pen.shapes.push({ d: drawRect(left, top, 7 * pen.k, bottom - top), fill, strokeMm: mark === 'stop' ? 0 : 0.8 * pen.k });
}

function layOutWords(card: CardWords, pen: Pen, region: Region): number {
  const { k } = pen;
  let y = region.top;
  const tone = card.mark === 'old' ? 'soft' : 'ink';
  y = layOutAnswers(card.answer, pen, region, tone);
  if (card.word !== '') {
    const cap = BOARD_CAP_MM.word * k;
    for (const text of wrapText(card.word, region.right - region.left, (t) => pen.widthOf('bold', cap, t))) {
      y += cap + 7 * k;
      pen.put('word', 'bold', cap, text, region.left, y, tone);
    }
  }
  return layOutLines(card.lines, pen, { ...region, top: y + 4 * k });
}

/** Two answers stand side by side where they have room. Gives the foot. */
function layOutAnswers(rows: readonly AnswerWords[], pen: Pen, region: Region, tone: 'ink' | 'soft'): number {
  const { k } = pen;
  const widths = rows.map((r) => measureLead(r.lead, pen) + pen.widthOf('bold', BOARD_CAP_MM.answer * k, r.glyphs) + (r.unit === '' ? 0 : 6 * k + pen.widthOf('plain', BOARD_CAP_MM.text * k, r.unit)));
  const gap = 16 * k;
  if (rows.length === 2 && widths[0]! + gap + widths[1]! <= region.right - region.left) {
    layOutAnswer(rows[0]!, pen, region, tone);
    return layOutAnswer(rows[1]!, pen, { ...region, left: region.left + widths[0]! + gap }, tone);
  }
  return rows.reduce((top, row) => layOutAnswer(row, pen, { ...region, top }, tone), region.top);
}
/** LAO, RAO, CRA and CAU take the same room, so that the signs stand below one another. */
function measureLead(lead: string, pen: Pen): number {
  if (lead === '') return 0;
  const cap = BOARD_CAP_MM.word * pen.k;
  return Math.max(...[lead, 'CAU', 'RAO'].map((text) => pen.widthOf('bold', cap, text))) + 7 * pen.k;
}

/** Lead, signs and unit on one base line; a unit without room stands below. Gives the foot of the row. */
function layOutAnswer(row: AnswerWords, pen: Pen, region: Region, tone: 'ink' | 'soft'): number {
  const { k } = pen;
  const [big, word, text] = [BOARD_CAP_MM.answer * k, BOARD_CAP_MM.word * k, BOARD_CAP_MM.text * k];
  const base = region.top + 6 * k + big;
  let x = region.left;
  if (row.lead !== '') {
    pen.put('word', 'bold', word, row.lead, x, base, tone);
    x += measureLead(row.lead, pen);
  }
  x += pen.put('answer', 'bold', big, row.glyphs, x, base, tone).widthMm + 6 * k;
  if (row.unit === '') return base;
  const isBeside = x + pen.widthOf('plain', text, row.unit) <= region.right;
  pen.put('line', 'plain', text, row.unit, isBeside ? x : region.left, isBeside ? base : base + PITCH_MM * k, tone);
  return isBeside ? base : base + PITCH_MM * k;
}

/** Each line whole or not at all; rows left over go to the first that want more. What has no room is named. Gives the foot. */
function layOutLines(lines: readonly LineWords[], pen: Pen, region: Region): number {
  const { k } = pen;
  const cap = BOARD_CAP_MM.text * k;
  const pitch = PITCH_MM * k;
  const tick = 17 * k;
  const widthOf = (t: string): number => pen.widthOf('plain', cap, t);
  const room = Math.floor((region.bottom - region.top - 3.5 * k) / pitch + 1e-6);
  const set = lines.map((line): { readonly line: LineWords; readonly left: number; rows: readonly string[] } => {
    const left = region.left + (line.box ? tick : 0);
    const right = region.right - (line.end === undefined ? 0 : pen.widthOf('bold', cap, line.end) + 6 * k);
    return { line, left, rows: wrapText(line.text, right - left, widthOf) };
  });
  for (const each of set) {
    if (!each.line.pieces) continue;
    const others = set.reduce((sum, s) => sum + (s === each ? 0 : s.rows.length), 0);
    each.rows = fitPieces(each.line.pieces, room - others, region.right - each.left, widthOf) ?? each.rows;
  }
  let left = room;
  let count = 0;
  while (count < set.length && set[count]!.rows.length <= left - (count < set.length - 1 ? 1 : 0)) left -= set[count++]!.rows.length;
  // Ticked lists go on by themselves: the next line comes up when one is done.
  const isWhole = count === set.length || set[count]!.line.box !== undefined;
  if (!isWhole && count < set.length && left >= set[count]!.rows.length && count === set.length - 1) count += 1;
  let y = region.top;
  for (const { line, left: at, rows } of set.slice(0, count)) {
    if (line.box) pen.shapes.push({ d: drawRect(region.left + 1 * k, y + pitch - cap, 11 * k, 11 * k), fill: line.box === 'ticked' ? 'ink' : 'none', strokeMm: 1.4 * k });
    // Beside a line only the solid bar is wide enough to be seen from 2 m; doubt and age stand in its words.
    if (line.mark === 'stop') pen.shapes.push({ d: drawRect(region.left - 5.5 * k, y + pitch - cap, 3.2 * k, cap + (rows.length - 1) * pitch), fill: 'ink', strokeMm: 0 });
    rows.forEach((text, i) => pen.put('line', 'plain', cap, text, at, y + (i + 1) * pitch, line.mark === 'old' ? 'soft' : 'ink'));
    if (line.end !== undefined) pen.put('line', 'bold', cap, line.end, region.right - pen.widthOf('bold', cap, line.end), y + pitch);
    y += rows.length * pitch;
  }
  if (count === set.length) return y;
  pen.isCut ||= !isWhole;
  if (!isWhole && left >= 1) pen.put('line', 'plain', cap, T.seeDesk, region.left, (y += pitch), 'soft');
  return y;
}
