import { WALL_ROOM_EN as T } from '../../core/text/wall-room-en.ts';
import { wrapText } from './lay-out-wall-card.ts';
import { BOARD_CAP_MM, drawRect, PITCH_MM, type Pen, type Region } from './wall-pen.ts';
import type { BarsWords, BlockWords } from './wall-sheet.ts';

/** Least and most room of one witness, mm at k = 1. */
const TIGHT_MM = 20;
const ROOMY_MM = 30;
/** A grade that is one number alone must still be seen from 2 m. */
const LEAST_BAR_MM = 7;
/** Numbers of the scale under its line; the words of its ends below them. */
const NUMBERS_MM = BOARD_CAP_MM.text + 6;

/** Height of the bars with the words of the scale. */
export const measureBars = ({ rows }: BarsWords, { k }: Pen): number => (rows.length * ROOMY_MM + NUMBERS_MM + PITCH_MM) * k;

/**
 * The witnesses on one scale, each with its name at the left: an interval is hatched with closed ends, an old one dotted with
 * dashed ends; a witness without an interval has its word in that place and no bar. With little room the rows come closer and
 * the words of the scale go; its numbers stay.
 */
export function layOutBars(bars: BarsWords, pen: Pen, region: Region, tone: 'ink' | 'soft'): void {
  const { k } = pen;
  const cap = BOARD_CAP_MM.text * k;
  const width = (t: string): number => pen.widthOf('plain', cap, t);
  const left = region.left + Math.max(...bars.rows.map((r) => pen.widthOf('bold', cap, r.label))) + 10 * k;
  const right = region.right - 7 * k;
  const room = region.bottom - region.top - NUMBERS_MM * k;
  const hasWords = room - PITCH_MM * k >= bars.rows.length * TIGHT_MM * k;
  const pitch = Math.min(ROOMY_MM * k, (room - (hasWords ? PITCH_MM * k : 0)) / bars.rows.length);
  const x = (grade: number): number => left + ((grade - bars.from) / (bars.to - bars.from)) * (right - left);
  const foot = region.top + bars.rows.length * pitch;
  const grades = Array.from({ length: bars.to - bars.from + 1 }, (_, i) => bars.from + i);
  pen.shapes.push({ d: `M${left} ${foot}H${right}${grades.map((g) => `M${x(g)} ${foot}v${3 * k}`).join('')}`, fill: 'none', strokeMm: 1.2 * k });
  const numbers = foot + 5 * k + cap;
  for (const grade of grades) pen.put('ruler', 'plain', cap, String(grade), x(grade) - width(String(grade)) / 2, numbers, 'soft');
  if (hasWords) {
    pen.put('ruler', 'plain', cap, bars.fromText, left - width(bars.fromText) / 2, numbers + PITCH_MM * k, 'soft');
    pen.put('ruler', 'plain', cap, bars.toText, region.right - width(bars.toText), numbers + PITCH_MM * k, 'soft');
  }
  bars.rows.forEach((row, i) => {
    const middle = region.top + (i + 0.5) * pitch;
    const half = Math.min(11 * k, pitch / 2 - 3 * k);
    const base = middle + cap / 2;
    pen.put('ruler', 'bold', cap, row.label, region.left, base, tone);
    // Over the middle of the scale: at its end a word would be taken for a grade.
    if (row.low === null || row.high === null) return void pen.put('ruler', 'plain', cap, row.says, (left + right - width(row.says)) / 2, base, tone);
    pen.shapes.push({ d: grades.map((g) => `M${x(g)} ${middle - half}V${middle + half}`).join(''), fill: 'none', strokeMm: 0.6 * k });
    const wide = Math.max(x(row.high) - x(row.low), LEAST_BAR_MM * k);
    const at = (x(row.low) + x(row.high) - wide) / 2;
    pen.shapes.push({ d: drawRect(at, middle - half, wide, 2 * half), fill: 'paper', strokeMm: 0 });
    pen.shapes.push({ d: drawRect(at, middle - half, wide, 2 * half), fill: row.isOld ? 'dots' : 'hatch', strokeMm: 1.8 * k, ...(row.isOld ? { dashMm: [3 * k, 2.5 * k] } : {}) });
  });
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
