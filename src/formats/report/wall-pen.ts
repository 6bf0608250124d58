import { measureText } from '../font/parse-font.ts';
import type { WallFonts } from './lay-out-wall-card.ts';

/** Heights of capitals and digits on the smallest full screen; least allowed: 38 for answers, 13 for everything else. */
export const BOARD_CAP_MM = { answer: 40, word: 20, value: 17, text: 13.3, foot: 13.1 } as const;
/** The screen the board is drawn for (24 inches, 16:9). On a larger one everything grows; on a smaller one less is shown. */
export const BOARD_MM = { width: 531, height: 299 } as const;

export type BoardTone = 'ink' | 'soft' | 'inverse';
export interface BoardText {
  readonly part: 'answer' | 'word' | 'value' | 'title' | 'line' | 'question' | 'head' | 'label' | 'note' | 'warning' | 'foot' | 'ruler';
  readonly font: keyof WallFonts;
  readonly text: string;
  readonly leftMm: number;
  readonly baselineMm: number;
  readonly widthMm: number;
  readonly fontMm: number;
  readonly capMm: number;
  readonly tone: BoardTone;
}
export interface BoardShape {
  /** Path data in mm. */
  readonly d: string;
  readonly fill: 'ink' | 'hatch' | 'dots' | 'paper' | 'none';
  readonly strokeMm: number;
  readonly dashMm?: readonly number[] | undefined;
}
export interface BoardLayout {
  readonly widthMm: number;
  readonly heightMm: number;
  readonly texts: readonly BoardText[];
  readonly shapes: readonly BoardShape[];
  /** Something that belongs here has no room. */
  readonly isCut: boolean;
}

/** Where things are put: text sizes in mm, and what has been placed so far. */
export interface Pen {
  readonly k: number;
  readonly texts: BoardText[];
  readonly shapes: BoardShape[];
  isCut: boolean;
  widthOf(font: keyof WallFonts, capMm: number, text: string): number;
  put(part: BoardText['part'], font: keyof WallFonts, capMm: number, text: string, leftMm: number, baselineMm: number, tone?: BoardTone): BoardText;
}
export interface Region {
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
}
export const PITCH_MM = 18.6;

export function makePen(fonts: WallFonts, k: number): Pen {
  const sizeOf = (font: keyof WallFonts, capMm: number): number => (capMm * fonts[font].unitsPerEm) / fonts[font].capHeight;
  const pen: Pen = {
    k, texts: [], shapes: [], isCut: false,
    widthOf: (font, capMm, text) => measureText(fonts[font], text) * sizeOf(font, capMm),
    put(part, font, capMm, text, leftMm, baselineMm, tone = 'ink') {
      const placed = { part, font, text, leftMm, baselineMm, widthMm: pen.widthOf(font, capMm, text), fontMm: sizeOf(font, capMm), capMm, tone };
      pen.texts.push(placed);
      return placed;
    },
  };
  return pen;
}
export const drawRect = (left: number, top: number, width: number, height: number): string => `M${left} ${top}h${width}v${height}h${-width}Z`;
