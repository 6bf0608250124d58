import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { logOut, logOutWarning } from '../state/session.ts';
import { Notice } from './notice.tsx';

/** Taps that the server has not: who logs out is told, and what they stay for. */
export function LogOutWarning() {
  const count = logOutWarning.value;
  if (count === null) return null;
  return (
    <Notice title={DESK_EN.logOut} isUrgent>
      <p>{formatText(ROOM_EN, 'logOutWaiting', { count })} {ROOM_EN.logOutWaitingSay}</p>
      <button type="button" class="tap" onClick={() => (logOutWarning.value = null)}>{ROOM_EN.logOutStay}</button>{' '}
      <button type="button" class="tap" onClick={() => void logOut()}>{ROOM_EN.logOutAllTheSame}</button>
    </Notice>
  );
}
