import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import type { WallBoard } from '../../core/room/wall-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { WALL_ROOM_EN as T } from '../../core/text/wall-room-en.ts';
import { drawWallBoard } from './draw-wall-board.ts';
import { formatInstant } from '../../core/units/iso-time.ts';
import { escapeText } from './escape-text.ts';
import { formatDepthMm, roundWindow } from './format-wall.ts';
import { layOutWallBoard } from './lay-out-wall-board.ts';
import { BOARD_MM } from './wall-pen.ts';
import type { WallFonts } from './lay-out-wall-card.ts';
import type { WallSheet } from './wall-sheet.ts';

export interface WallPaper {
  readonly sheet: WallSheet;
  readonly board: WallBoard;
  readonly frozen: FrozenDocument | null;
  readonly frozenSha256: string | null;
}

/**
 * The last card on one A4 sheet, for when power or network fail: the wall as it was, its age, the whole hash of the plan,
 * the depths, and lines to go on by hand (job.md, D59 and E23).
 * Shape     HTML text for a print of 297 x 210 mm
 */
export function drawWallPaper({ sheet, board, frozen, frozenSha256 }: WallPaper, fonts: WallFonts): string {
  const picture = drawWallBoard(layOutWallBoard(sheet, { widthMm: BOARD_MM.width, heightMm: BOARD_MM.height * 0.94 }, fonts), 'paper', T.paperTitle);
  const stamp = (ms: number): string => `${formatInstant(ms)?.slice(0, 19).replace('T', ' ') ?? T.unknown} UTC`;
  const lines = [
    formatText(T, 'paperPrinted', { at: stamp(board.nowMs), newest: board.newestAgeMs === null ? T.paperNoEntry : stamp(board.nowMs - board.newestAgeMs) }),
    ...(board.strip && frozen && frozenSha256 ? [formatText(T, 'paperHash', { sha256: frozenSha256, label: frozen.label }), describeWindow(board)] : [T.paperNoPlan]),
    ...(board.training ? [HOUSE_EN.training] : []), HOUSE_EN.caution,
  ];
  return `${picture}<h2>${escapeText(T.paperTitle)}</h2>${lines.map((text) => `<p>${escapeText(text)}</p>`).join('')}<p>${escapeText(T.paperWrite)}</p><div class="write"></div><div class="write"></div>`;
}

function describeWindow({ strip }: WallBoard): string {
  const w = strip?.window;
  if (!w || w.aimLowMm === null || w.aimHighMm === null || w.stopMm === null || w.startMm === null) return T.paperNoWindow;
  return formatText(T, 'paperPlan', { start: formatDepthMm(Math.round(w.startMm * 10) / 10), ...roundWindow(w.aimLowMm, w.aimHighMm), stop: formatDepthMm(Math.floor(w.stopMm * 10 + 1e-9) / 10) });
}
