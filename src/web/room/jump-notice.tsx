import { makeCauseBoard } from '../../core/room/cause-board.ts';
import { BOARD_EN } from '../../core/text/board-en.ts';
import { frozen, room } from '../state/room-log.ts';
import './board.css';
import { sayMovement, sayStandOut } from './jump-words.ts';

/** While the cause board is open: what moved and what speaks most for a cause, at the top, with the way to the board, which the desk alone has. */
export function JumpNotice({ isDesk }: { readonly isDesk: boolean }) {
  const plan = frozen.value;
  if (!plan) return null;
  const board = makeCauseBoard(plan, room.value);
  if (!board.event || board.closed) return null;
  return (
    <div class="jump-notice" role="status">
      <p><b>{sayMovement(board)}</b> {sayStandOut(board)}</p>
      {isDesk ? <button type="button" class="tap" onClick={goToBoard}>{BOARD_EN.openBoard}</button> : <p class="soft">{BOARD_EN.boardAtDesk}</p>}
    </div>
  );
}

function goToBoard(): void {
  const place = document.getElementById('jump-board-name');
  place?.focus({ preventScroll: true });
  place?.scrollIntoView({ block: 'start' });
}
