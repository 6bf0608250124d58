import { formatText } from '../../core/text/catalogue.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { isOnline, lastTap, waiting } from '../state/room-log.ts';
import { isSessionOver } from '../state/session.ts';
import { KEY_OF } from './key-names.ts';
import { correcting, say, tapNews, undoLast } from './taps.ts';
import { formatClock } from './times.ts';

/** The last tap of this page and the button that takes it back: always at hand, always in the same place. */
export function UndoBar({ hasKeys }: { readonly hasKeys: boolean }) {
  const last = lastTap.value;
  const target = correcting.value;
  return (
    <div class="undo-bar">
      <p class="undo-last">
        <span class="soft">{ROOM_EN.last}</span>{' '}
        {last?.entry ? <><b>{say(last.entry)}</b> {formatClock(last.happenedAt)}</> : <span class="soft">{ROOM_EN.lastNone}</span>}
      </p>
      {(waiting.value > 0 || !isOnline.value || isSessionOver.value) && (
        <p class="undo-state">
          {!isOnline.value && <span class="tag">{ROOM_EN.offlineNever}</span>} {isSessionOver.value && <span class="tag">{ROOM_EN.sessionOverShort}</span>} {waiting.value > 0 && <span class="tag">{formatText(ROOM_EN, 'waitingSome', { count: waiting.value })}</span>}
        </p>
      )}
      <button type="button" class="tap undo" disabled={last === null} onClick={undoLast}>
        <span class="tap-name">{ROOM_EN.undo}</span>
        {hasKeys && <kbd aria-hidden="true">{KEY_OF.undo}</kbd>}
      </button>
      {target?.entry && (
        <p class="undo-correct"><span class="tag">{ROOM_EN.correct}</span> {formatText(ROOM_EN, 'correctTitle', { what: say(target.entry), at: formatClock(target.happenedAt) })} <button type="button" class="quiet" onClick={() => (correcting.value = null)}>{ROOM_EN.correctStop}</button></p>
      )}
      <p class="hidden" role="status" aria-live="polite">{tapNews.value}</p>
    </div>
  );
}
