import type { CauseBoard } from '../../core/room/cause-types.ts';
import type { CauseCode } from '../../core/room/room-types.ts';
import { BOARD_EN } from '../../core/text/board-en.ts';
import { formatText } from '../../core/text/catalogue.ts';

/** The movement of the board in one sentence. */
export function sayMovement({ event }: CauseBoard): string {
  const { motion, attempt, direction } = event!;
  const far = motion === null || motion.mm === null ? BOARD_EN.movedUnread
    : motion.from === 'depth' ? formatText(BOARD_EN, 'movedMeasured', sayBand(Math.abs(motion.mm), motion.mm < 0 ? -motion.highMm : motion.lowMm, motion.mm < 0 ? -motion.lowMm : motion.highMm))
      : formatText(BOARD_EN, 'movedByEye', { mm: Math.abs(motion.mm).toFixed(0) });
  return formatText(BOARD_EN, 'moved', { number: attempt, direction: BOARD_EN[`direction-${direction}`], mm: far });
}
const sayBand = (mm: number, low: number, high: number): { readonly mm: string; readonly low: string; readonly high: string } => ({ mm: mm.toFixed(1), low: low.toFixed(1), high: high.toFixed(1) });

export const listNames = (codes: readonly CauseCode[]): string => codes.map((c) => BOARD_EN[`cause-${c}`]).join('; ');
export function sayStandOut(board: CauseBoard): string {
  return board.standOut.length === 0 ? BOARD_EN.standsNone : formatText(BOARD_EN, 'standsOut', { list: listNames(board.standOut) });
}
