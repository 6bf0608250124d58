import type { ComponentChildren } from 'preact';
import { useEffect } from 'preact/hooks';
import { splitCode } from '../../core/room/make-wall-board.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { Notice } from '../parts/notice.tsx';
import { loadNewer, lookForNewer, pageState } from '../state/offline.ts';
import { frozenSha256, frozenState, isKept, isOnline, newsAt, readClockDoubt, room, roomCase, roomFailure, stuck, waiting, waitingOfOthers } from '../state/room-log.ts';
import { isSessionOver, wantsLogIn } from '../state/session.ts';
import { formatSpan, useNow } from './times.ts';

/** A clock that may be wrong by more than this is said. */
const WIDE_MS = 2000;

/** One line: which plan, whether the server hears, what waits. Notices below it stand only while there is something to say. */
export function RoomStatus({ isDesk }: { readonly isDesk: boolean }) {
  const now = useNow();
  const heard = newsAt.value;
  const age = heard === null ? null : formatSpan(now - heard);
  const doubt = readClockDoubt();
  useEffect(() => {
    if (isOnline.value) lookForNewer();
  }, [isOnline.value]);
  return (
    <div class="room-status" role="group" aria-label={ROOM_EN.status}>
      <p class="room-line">
        <PlanCode />
        <span class={isOnline.value ? '' : 'tag'}>{isOnline.value ? formatText(ROOM_EN, 'online', { age: age ?? '–' }) : age === null ? ROOM_EN.offlineNever : formatText(ROOM_EN, 'offline', { age })}</span>
        <span class={waiting.value > 0 ? 'tag' : 'soft'}>{waiting.value > 0 ? formatText(ROOM_EN, 'waitingSome', { count: waiting.value }) : ROOM_EN.waitingNone}</span>
        {doubt === null ? <span class="soft">{ROOM_EN.clockNever}</span> : doubt > WIDE_MS ? <span class="tag">{formatText(ROOM_EN, 'clockWide', { s: Math.ceil(doubt / 1000) })}</span> : isDesk && <span class="soft">{formatText(ROOM_EN, 'clockWithin', { ms: Math.round(doubt) })}</span>}
      </p>
      <Notices isDesk={isDesk} />
    </div>
  );
}

function PlanCode() {
  const sha256 = frozenSha256.value;
  if (frozenState.value === 'mismatch') return <span class="tag">{ROOM_EN.planMismatch}</span>;
  if (roomCase.value?.frozen?.isOfAnother === true) return <span class="tag">{ROOM_EN.otherPatient}</span>;
  if (frozenState.value === 'reading') return <span class="tag">{ROOM_EN.planReading}</span>;
  if (frozenState.value === 'none' || sha256 === null) return <span class="tag">{ROOM_EN.planNone}</span>;
  return <b class="plan-code">{formatText(ROOM_EN, 'planCode', { code: splitCode(sha256).join(' ') })}</b>;
}

function Notices({ isDesk }: { readonly isDesk: boolean }) {
  const failure = roomFailure.value;
  const missing = room.value.holes.reduce((sum, hole) => sum + hole.missing.length, 0);
  const isOfAnother = roomCase.value?.frozen?.isOfAnother === true;
  const behind = roomCase.value?.frozen?.isBehind === true && !isOfAnother;
  const notices: [boolean, ComponentChildren][] = [
    [!isOnline.value, <p>{ROOM_EN.offlineSay}</p>],
    [isSessionOver.value, <><p>{isDesk ? ROOM_EN.sessionOver : ROOM_EN.sessionOverPair}</p><button type="button" class="tap" onClick={() => (wantsLogIn.value = true)}>{isDesk ? ROOM_EN.logInAgain : ROOM_EN.pairAgain}</button></>],
    [failure !== null && !isSessionOver.value, <><p>{ROOM_EN.roomRefused} {failure?.message}</p><p class="soft">{formatText(DESK_EN, 'next', { next: failure?.nextStep ?? '' })}</p></>],
    [pageState.value === 'newer', <><p>{ROOM_EN.newerPages}</p><button type="button" class="tap" onClick={() => void loadNewer()}>{ROOM_EN.loadNewer}</button></>],
    [frozenState.value === 'mismatch', <><p>{ROOM_EN.planMismatchSay}</p><p class="soft">{formatText(DESK_EN, 'next', { next: ROOM_EN.planMismatchNext })}</p></>],
    [frozenState.value === 'none' && roomCase.value !== null, <p>{ROOM_EN.planNoneSay}</p>],
    [isOfAnother, <><p><b>{ROOM_EN.otherPatientSay}</b></p><p class="soft">{formatText(DESK_EN, 'next', { next: ROOM_EN.otherPatientNext })}</p></>],
    [behind, <p>{ROOM_EN.planBehindPlain}</p>],
    [!isKept.value, <p>{ROOM_EN.notKept}</p>],
    [stuck.value.length > 0, <p>{formatText(ROOM_EN, 'stuck', { count: stuck.value.length })} {stuck.value[0]?.failure.message}</p>],
    [waitingOfOthers.value > 0, <p>{formatText(ROOM_EN, 'waitingOthers', { count: waitingOfOthers.value })}</p>],
    [missing > 0 && isOnline.value && waiting.value === 0, <p>{formatText(ROOM_EN, 'holes', { count: missing })}</p>],
  ];
  return <>{notices.map(([isSo, children], i) => isSo && <Notice key={i}>{children}</Notice>)}</>;
}
