import { HOUSE_EN } from '../../core/text/house-en.ts';
import { WALL_EN } from '../../core/text/wall-en.ts';
import { measureText, type TrueTypeFont } from '../font/parse-font.ts';
import type { WallCard } from './list-wall-cards.ts';

/** A3 landscape. */
export const CARD_MM = { width: 420, height: 297 } as const;
/** Heights of capitals and digits; least allowed: 38 and 13. */
export const ANSWER_CAP_MM = 40;
export const TEXT_CAP_MM = 13.3;

export interface WallFonts {
  readonly bold: TrueTypeFont;
  readonly plain: TrueTypeFont;
}
export interface PlacedText {
  readonly part: 'title' | 'code' | 'answer' | 'unit' | 'line' | 'training' | 'caution';
  readonly font: keyof WallFonts;
  readonly text: string;
  readonly leftMm: number;
  readonly baselineMm: number;
  readonly widthMm: number;
  readonly fontMm: number;
}
export interface CardSheet {
  readonly card: WallCard;
  readonly texts: readonly PlacedText[];
  /** Place of the rule above the foot. */
  readonly ruleMm: number;
  /** The pattern at the left edge. */
  readonly strip: { readonly leftMm: number; readonly topMm: number; readonly widthMm: number; readonly heightMm: number };
}

const LEFT = 27;
const RIGHT = 12;
const TOP = 11;
const BOTTOM = 9;
const PITCH = 18.6;
const ANSWER_GAP = 9;
const WIDTH = CARD_MM.width - LEFT - RIGHT;
/** From the base line of the title to the top of the answer, and from that of the answer to the top of the first line. */
const BELOW_TITLE = 11;
const BELOW_ANSWER = 8;

/**
 * Where each text of a card stands, in mm; the page and the PDF draw the same places.
 * Shape     pure. A line of the plan's own words that is longer than its room is replaced by where to read it; sizes are never reduced
 * Source    docs/methods/pictures.md
 */
export function layOutWallCard(given: WallCard, fonts: WallFonts): CardSheet {
  const sizeOf = (font: keyof WallFonts, capMm: number): number => (capMm * fonts[font].unitsPerEm) / fonts[font].capHeight;
  const textMm = { bold: sizeOf('bold', TEXT_CAP_MM), plain: sizeOf('plain', TEXT_CAP_MM) };
  const answerMm = sizeOf('bold', ANSWER_CAP_MM);
  const widthOf = (font: keyof WallFonts, fontMm: number, text: string): number => measureText(fonts[font], text) * fontMm;
  const put = (part: PlacedText['part'], font: keyof WallFonts, fontMm: number, text: string, leftMm: number, baselineMm: number): PlacedText =>
    ({ part, font, text, leftMm, baselineMm, widthMm: widthOf(font, fontMm, text), fontMm });
  const card = fitAnswer(given, (text) => widthOf('bold', answerMm, text));

  const title = TOP + TEXT_CAP_MM;
  const texts = [put('title', 'bold', textMm.bold, card.title, LEFT, title)];
  const code = put('code', 'bold', textMm.bold, card.code, 0, title);
  texts.push({ ...code, leftMm: CARD_MM.width - RIGHT - code.widthMm });

  let y = title + BELOW_TITLE - ANSWER_GAP;
  for (const text of card.answer) texts.push(put('answer', 'bold', answerMm, text, LEFT, (y += ANSWER_GAP + ANSWER_CAP_MM)));
  const last = texts[texts.length - 1]!;
  if (card.unit !== '') texts.push(put('unit', 'bold', textMm.bold, card.unit, LEFT + last.widthMm + 6, y));

  const descentMm = (fonts.plain.descent / fonts.plain.unitsPerEm) * textMm.plain;
  const caution = wrapText(HOUSE_EN.caution, WIDTH, (t) => widthOf('plain', textMm.plain, t));
  const firstCaution = CARD_MM.height - BOTTOM - descentMm - (caution.length - 1) * PITCH;
  const footTop = firstCaution - TEXT_CAP_MM - (card.training ? PITCH : 0) - 4;
  const lastLine = footTop - 1 - descentMm;
  const firstLine = y + BELOW_ANSWER + TEXT_CAP_MM;
  const room = Math.max(0, Math.floor((lastLine - firstLine) / PITCH + 1 + 1e-9));
  fitRows(card.lines, room, WIDTH, (t) => widthOf('plain', textMm.plain, t)).forEach((text, i) => texts.push(put('line', 'plain', textMm.plain, text, LEFT, firstLine + i * PITCH)));

  if (card.training) texts.push(put('training', 'bold', textMm.bold, HOUSE_EN.training, LEFT, firstCaution - PITCH));
  caution.forEach((text, i) => texts.push(put('caution', 'plain', textMm.plain, text, LEFT, firstCaution + i * PITCH)));
  return { card, texts, ruleMm: footTop, strip: { leftMm: 9, topMm: TOP, widthMm: 10, heightMm: CARD_MM.height - TOP - BOTTOM } };
}

/** A label that is too long for its size is not made smaller: the card points to the plan and says it among the lines. */
function fitAnswer(card: WallCard, widthOf: (text: string) => number): WallCard {
  const unit = card.unit === '' ? 0 : UNIT_ROOM;
  if (card.answer.every((text, i) => widthOf(text) + (i === card.answer.length - 1 ? unit : 0) <= WIDTH)) return card;
  return { ...card, answer: [WALL_EN.seePlan], unit: '', mark: 'doubt', lines: [card.answer.join(' '), ...card.lines.slice(0, 3)] };
}
const UNIT_ROOM = 92;

type Widths = (text: string) => number;

/** Lines of at most `width`; a word that is longer is broken. */
export function wrapText(text: string, width: number, widthOf: Widths): readonly string[] {
  const rows: string[] = [];
  let row = '';
  for (const word of text.split(/\s+/).filter((w) => w !== '').flatMap((w) => breakWord(w, width, widthOf))) {
    const longer = row === '' ? word : `${row} ${word}`;
    if (row !== '' && widthOf(longer) > width) {
      rows.push(row);
      row = word;
    } else row = longer;
  }
  return row === '' ? rows : [...rows, row];
}

function breakWord(word: string, width: number, widthOf: Widths): readonly string[] {
  const parts: string[] = [];
  let part = '';
  for (const sign of word) {
    if (part !== '' && widthOf(part + sign) > width) {
      parts.push(part);
      part = '';
    }
    part += sign;
  }
  return [...parts, part];
}

/**
 * Each line has one row; the rows left go to the first lines that want more. A line that still does not fit is not cut:
 * half a sentence may say the opposite. The plan page is named in its place.
 */
function fitRows(lines: readonly string[], room: number, width: number, widthOf: Widths): readonly string[] {
  const wrapped = lines.map((line) => wrapText(line, width, widthOf)).filter((rows) => rows.length > 0).slice(0, room);
  let left = room - wrapped.length;
  const fitted = wrapped.flatMap((rows) => {
    if (rows.length - 1 > left) return [WALL_EN.seeRest];
    left -= rows.length - 1;
    return rows;
  });
  return fitted.filter((row, i) => row !== WALL_EN.seeRest || fitted.indexOf(row) === i);
}
