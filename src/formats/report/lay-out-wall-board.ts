import { formatText } from '../../core/text/catalogue.ts';
import { WALL_ROOM_EN as T } from '../../core/text/wall-room-en.ts';
import { layOutCard, layOutQuestion } from './lay-out-wall-main.ts';
import { layOutStrip } from './lay-out-wall-strip.ts';
import { wrapText, type WallFonts } from './lay-out-wall-card.ts';
import { BOARD_CAP_MM, BOARD_MM, drawRect, makePen, PITCH_MM, type BoardLayout, type Pen, type Region } from './wall-pen.ts';
import type { WallSheet } from './wall-sheet.ts';

/** Length of the bar that is measured with a tape, as a share of the screen's width. */
export const BAR_RATIO = 0.8;
/** Long side of A4 paper (ISO 216). */
const PAPER_MM = 297;

/**
 * The whole wall in mm of its screen: head, warnings, one card, the strip and the foot. Letters never get smaller than
 * their least; what has no room is replaced by where to read it, never cut in the middle.
 * Shape     pure
 * Source    docs/methods/wall.md
 */
export function layOutWallBoard(sheet: WallSheet, screen: ScreenMm, fonts: WallFonts): BoardLayout {
  const layout = setBoard(sheet, screen, fonts);
  return layout.isCut ? setBoard({ ...sheet, warnings: [...sheet.warnings, T['warn-too-small']] }, screen, fonts) : layout;
}
interface ScreenMm {
  readonly widthMm: number;
  readonly heightMm: number;
}

function setBoard(sheet: WallSheet, { widthMm, heightMm }: ScreenMm, fonts: WallFonts): BoardLayout {
  const isUpright = widthMm < 1.15 * heightMm;
  const base = isUpright ? { width: BOARD_MM.height, height: BOARD_MM.width } : BOARD_MM;
  const fit = Math.min(widthMm / base.width, heightMm / base.height);
  const pen = makePen(fonts, Math.max(1, fit));
  const { k } = pen;
  const edge = 8 * k;
  const top = layOutHead(sheet, pen, { left: edge, top: edge, right: widthMm - edge, bottom: heightMm });
  const below = layOutWarnings(sheet.warnings, pen, { left: 0, top, right: widthMm, bottom: heightMm }, edge);
  const foot = layOutFoot(sheet, pen, { left: edge, top: below, right: widthMm - edge, bottom: heightMm - Math.min(edge, 9) });
  if (sheet.name === 'screen') {
    pen.shapes.push({ d: drawRect(((1 - BAR_RATIO) / 2) * widthMm, foot - 13 * k, BAR_RATIO * widthMm, 8 * k), fill: 'ink', strokeMm: 0 });
    pen.shapes.push({ d: drawRect(edge, foot - 26 * k, PAPER_MM, 8 * k), fill: 'none', strokeMm: 0.8 * k });
  }
  const body: Region = { left: edge, top: below + 5 * k, right: widthMm - edge, bottom: foot - (sheet.name === 'screen' ? 30 * k : 4) };
  const hasStrip = sheet.strip.length > 0;
  if (!hasStrip) layOutMain(sheet, pen, body);
  else if (isUpright) {
    const split = body.bottom - 104 * k;
    layOutMain(sheet, pen, { ...body, bottom: split - 6 * k });
    const middle = (body.left + body.right) / 2;
    layOutStrip(sheet.strip.slice(0, 2), pen, { ...body, top: split, right: middle - 4 * k });
    layOutStrip(sheet.strip.slice(2), pen, { ...body, top: split, left: middle + 4 * k });
  } else {
    const split = body.right - 152 * k;
    layOutMain(sheet, pen, { ...body, right: split - 10 * k });
    pen.shapes.push({ d: `M${split - 5 * k} ${body.top}V${body.bottom}`, fill: 'none', strokeMm: 0.8 * k });
    layOutStrip(sheet.strip, pen, { ...body, left: split });
  }
  return { widthMm, heightMm, texts: pen.texts, shapes: pen.shapes, isCut: pen.isCut };
}

function layOutMain(sheet: WallSheet, pen: Pen, region: Region): void {
  const bottom = layOutQuestion(sheet.card, pen, region);
  layOutCard(sheet.card, pen, { ...region, bottom });
}

/** Code and time always; the case's label as far as it fits, the age of the log where there is room. Gives the foot of the row. */
function layOutHead({ head }: WallSheet, pen: Pen, region: Region): number {
  const cap = BOARD_CAP_MM.text * pen.k;
  const y = region.top + cap;
  const gap = 9 * pen.k;
  const code = pen.put('head', 'bold', cap, head.code, region.left, y);
  const clock = pen.widthOf('bold', cap, head.clock);
  pen.put('head', 'bold', cap, head.clock, region.right - clock, y);
  let right = region.right - clock - gap;
  const newest = pen.widthOf('plain', cap, head.newest);
  const left = region.left + code.widthMm + gap;
  if (right - newest > left + 20 * pen.k) {
    pen.put('head', 'plain', cap, head.newest, right - newest, y);
    right -= newest + gap;
  }
  const label = shorten(head.label, right - left, (text) => pen.widthOf('plain', cap, text));
  if (label !== '') pen.put('head', 'plain', cap, label, left, y);
  return y + 5 * pen.k;
}
/** A name that is too long ends in "…": it says whose wall this is together with the code. */
function shorten(text: string, width: number, widthOf: (text: string) => number): string {
  if (widthOf(text) <= width) return text;
  const signs = [...text];
  while (signs.length > 0 && widthOf(`${signs.join('')}…`) > width) signs.pop();
  return signs.length < 3 ? '' : `${signs.join('')}…`;
}

/** Dark on light over the whole width: as many as one row holds, and how many more there are; the first always stands whole. */
function layOutWarnings(warnings: readonly string[], pen: Pen, region: Region, edge: number): number {
  if (warnings.length === 0) return region.top;
  const cap = BOARD_CAP_MM.text * pen.k;
  const room = region.right - region.left - 2 * edge;
  const say = (count: number): string => warnings.slice(0, count).join(' · ') + (count < warnings.length ? ` ${formatText(T, 'more', { count: warnings.length - count })}` : '');
  let count = warnings.length;
  while (count > 1 && pen.widthOf('bold', cap, say(count)) > room) count -= 1;
  const rows = wrapText(say(count), room, (text) => pen.widthOf('bold', cap, text));
  const height = (20 + (rows.length - 1) * PITCH_MM) * pen.k;
  pen.shapes.push({ d: drawRect(region.left, region.top, region.right - region.left, height), fill: 'ink', strokeMm: 0 });
  rows.forEach((text, i) => pen.put('warning', 'bold', cap, text, region.left + edge, region.top + 10 * pen.k + cap / 2 + i * PITCH_MM * pen.k, 'inverse'));
  return region.top + height;
}

/** Least height and one pixel of a 75-inch screen with 3840 of them. */
const FOOT_MOST_MM = 13.6;
/** Caution and training mark, in letters of the least size. Gives the top of the foot. */
function layOutFoot(sheet: WallSheet, pen: Pen, region: Region): number {
  // On a larger screen a pixel is larger too: a capital that is drawn in whole pixels must not come out below 13 mm.
  const cap = Math.min(FOOT_MOST_MM, BOARD_CAP_MM.foot * pen.k);
  const marks = [...(sheet.training ? [T.training] : sheet.hasUnverified ? [T.unverified] : []), T.caution];
  const rows = wrapText(marks.join(' '), region.right - region.left, (text) => pen.widthOf('plain', cap, text));
  const first = region.bottom - 3.5 - (rows.length - 1) * PITCH_MM;
  rows.forEach((text, i) => pen.put('foot', 'plain', cap, text, region.left, first + i * PITCH_MM, 'soft'));
  const top = first - cap - 4;
  pen.shapes.push({ d: `M${region.left} ${top}H${region.right}`, fill: 'none', strokeMm: 0.6 });
  return top;
}
