import { WALL_ROOM_EN as T } from '../../core/text/wall-room-en.ts';
import { wrapText } from './lay-out-wall-card.ts';
import { BOARD_CAP_MM, drawRect, PITCH_MM, type Pen, type Region } from './wall-pen.ts';
import type { BarsWords, BlockWords } from './wall-sheet.ts';

/** Rows of a bar with its label beside it, mm at k = 1. */
const TIGHT_MM = 20;
/** From here on the label has a row of its own above the bar. */
const ROOMY_MM = 29;
/** A grade that is one number alone must still be seen from 2 m. */
const LEAST_BAR_MM = 7;

/** Height of the bars where they have no more than they need. */
export const measureBars = ({ rows }: BarsWords, { k }: Pen): number => (rows.length * TIGHT_MM + BOARD_CAP_MM.text + 7) * k;

/**
 * The witnesses on one scale: each interval hatched with closed ends, what is old on dots with dashed ends; a witness without
 * an interval has its word in that place and no bar.
 */
export function layOutBars(bars: BarsWords, pen: Pen, region: Region, tone: 'ink' | 'soft'): void {
  const { k } = pen;
  const cap = BOARD_CAP_MM.text * k;
  const names = Math.max(...bars.rows.map((r) => pen.widthOf('bold', cap, r.label)));
  const axisTop = region.bottom - cap - 5 * k;
  const pitch = Math.min(36 * k, (axisTop - region.top) / bars.rows.length);
  const isRoomy = pitch >= ROOMY_MM * k;
  // Beside the labels the scale is short: its ends are numbers there.
  const [fromText, toText] = isRoomy ? [bars.fromText, bars.toText] : [String(bars.from), String(bars.to)];
  const ends = [fromText, toText].map((t) => pen.widthOf('plain', cap, t) / 2);
  const left = region.left + (isRoomy ? ends[0]! : Math.max(names + 8 * k, ends[0]!));
  const right = region.right - ends[1]!;
  const x = (grade: number): number => left + ((grade - bars.from) / (bars.to - bars.from)) * (right - left);
  const foot = region.top + bars.rows.length * pitch;
  for (let grade = bars.from; grade <= bars.to; grade++) {
    const isEnd = grade === bars.from || grade === bars.to;
    pen.shapes.push({ d: `M${x(grade)} ${region.top}V${foot + 2 * k}`, fill: 'none', strokeMm: (isEnd ? 1.2 : 0.6) * k });
    const text = grade === bars.from ? fromText : grade === bars.to ? toText : String(grade);
    pen.put('ruler', 'plain', cap, text, x(grade) - pen.widthOf('plain', cap, text) / 2, foot + 4 * k + cap, 'soft');
  }
  bars.rows.forEach((row, i) => {
    const top = region.top + i * pitch;
    const [barTop, height] = isRoomy ? [top + cap + 5 * k, pitch - cap - 8 * k] : [top + (pitch - cap) / 2, cap];
    putClear(pen, 'bold', row.label, region.left, isRoomy ? top + cap + 1.5 * k : barTop + cap, tone);
    if (row.low === null || row.high === null) return void putClear(pen, 'plain', row.says, isRoomy ? right - pen.widthOf('plain', cap, row.says) + ends[1]! : x(bars.from) + 4 * k, isRoomy ? top + cap + 1.5 * k : barTop + cap, 'soft');
    const wide = Math.max(x(row.high) - x(row.low), LEAST_BAR_MM * k);
    const at = (x(row.low) + x(row.high) - wide) / 2;
    pen.shapes.push({ d: drawRect(at, barTop, wide, height), fill: 'paper', strokeMm: 0 });
    pen.shapes.push({ d: drawRect(at, barTop, wide, height), fill: row.isOld ? 'dots' : 'hatch', strokeMm: 1.8 * k, ...(row.isOld ? { dashMm: [3 * k, 2.5 * k] } : {}) });
  });

  /** A word over a line of the scale has free ground around it. */
  function putClear(to: Pen, font: 'bold' | 'plain', text: string, at: number, base: number, shade: 'ink' | 'soft'): void {
    to.shapes.push({ d: drawRect(at - 2 * k, base - cap - 1 * k, to.widthOf(font, cap, text) + 4 * k, cap + 2 * k), fill: 'paper', strokeMm: 0 });
    to.put('ruler', font, cap, text, at, base, shade);
  }
}

/** Rows of equal rank in one column, or two that are read one after the other. Name and state always stand; of the rest as many sentences as fit. */
export function layOutBlocks(blocks: readonly BlockWords[], pen: Pen, region: Region): void {
  const { k } = pen;
  const gap = 14 * k;
  const isWide = region.right - region.left >= 2 * LEAST_COLUMN_MM * k + gap;
  const half = (region.right - region.left - gap) / 2;
  const count = isWide ? Math.ceil(blocks.length / 2) : blocks.length;
  for (let i = 0; i * count < blocks.length; i++) {
    const left = region.left + i * (half + gap);
    layOutColumn(blocks.slice(i * count, (i + 1) * count), pen, { ...region, left, right: isWide ? left + half : region.right });
  }
  if (isWide) pen.shapes.push({ d: `M${region.left + half + gap / 2} ${region.top + 4 * k}V${region.bottom - 2 * k}`, fill: 'none', strokeMm: 0.8 * k });
}
const LEAST_COLUMN_MM = 205;

function layOutColumn(blocks: readonly BlockWords[], pen: Pen, region: Region): void {
  const { k } = pen;
  const cap = BOARD_CAP_MM.text * k;
  const pitch = PITCH_MM * k;
  const bar = 9 * k;
  const left = region.left + bar;
  const widthOf = (t: string): number => pen.widthOf('plain', cap, t);
  const rows = Math.floor((region.bottom - region.top - 3.5 * k) / pitch + 1e-6);
  const said = shareRows(blocks, rows - blocks.length, region.right - left, widthOf, pen);
  const used = blocks.length + said.reduce((sum, s) => sum + s.length, 0);
  const air = Math.max(0, Math.min(9 * k, (region.bottom - region.top - 3.5 * k - used * pitch) / blocks.length));
  let y = region.top;
  blocks.forEach((block, i) => {
    const details = said[i]!;
    const base = y + pitch;
    // Without an outline where it stands open: the word beside it says the same.
    const height = cap + details.length * pitch;
    pen.shapes.push({ d: drawRect(region.left, base - cap, 5 * k, height), fill: block.mark === 'stop' ? 'ink' : block.mark === 'doubt' ? 'hatch' : 'none', strokeMm: block.mark === 'stop' ? 0 : 0.8 * k });
    pen.put('line', 'plain', cap, block.text, left, base);
    pen.put('line', 'bold', cap, block.state, region.right - pen.widthOf('bold', cap, block.state), base);
    details.forEach((text, n) => pen.put('line', 'plain', cap, text, left, base + (n + 1) * pitch, 'soft'));
    y += (1 + details.length) * pitch + air;
  });
}

/** One piece more for each block in turn, as long as there are rows: no block is silent while another says a second sentence. */
function shareRows(blocks: readonly BlockWords[], room: number, width: number, widthOf: (t: string) => number, pen: Pen): readonly (readonly string[])[] {
  const said: (readonly string[])[] = blocks.map(() => []);
  let left = room;
  for (let turn = 1, isDone = false; !isDone; turn++) {
    isDone = true;
    blocks.forEach(({ pieces }, i) => {
      if (turn > pieces.length) return;
      const rows = wrapText(joinPieces(pieces, turn), width, widthOf);
      const instead = turn === 1 ? wrapText(T.remedyDesk, width, widthOf) : null;
      // Each later block keeps a row for its own first sentence.
      const kept = turn === 1 ? blocks.slice(i + 1).filter((b) => b.pieces.length > 0).length : 0;
      const next = rows.length - said[i]!.length <= left - kept ? rows : instead !== null && instead.length <= left - kept ? instead : null;
      if (next === null) {
        if (turn === 1) pen.isCut = true;
        return;
      }
      if (turn > 1 && next === instead) return;
      left -= next.length - said[i]!.length;
      said[i] = next;
      if (turn < pieces.length) isDone = false;
    });
  }
  return said;
}

/** The first sentences, with a sign that more follows. */
const joinPieces = (pieces: readonly string[], count: number): string => {
  const text = pieces.slice(0, count).join(' ');
  return count === pieces.length ? text : `${text.replace(/[.;:]$/, '')} …`;
};

/** As many of the pieces as these rows hold; null: not even the first. */
export function fitPieces(pieces: readonly string[], rows: number, width: number, widthOf: (t: string) => number): readonly string[] | null {
  for (let count = pieces.length; count > 0; count--) {
    const set = wrapText(joinPieces(pieces, count), width, widthOf);
    if (set.length <= rows) return set;
  }
  return null;
}
