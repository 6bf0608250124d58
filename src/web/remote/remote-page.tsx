import { useLocation, useRoute } from 'preact-iso';
import { useEffect, useState } from 'preact/hooks';
import { readShareOut } from '../../core/room/judge-recapture.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { LogOutWarning } from '../parts/log-out.tsx';
import { useTitle } from '../parts/title.ts';
import { DepthLine } from '../room/depth-line.tsx';
import { EnteredDepth } from '../room/entered-depth.tsx';
import { FractionTaps, HoldTaps, KitTaps, MovedTaps, NextPhase, PacingTaps, PhaseTaps, RecaptureTaps, ViewTaps, WallTaps, WireTaps } from '../room/event-taps.tsx';
import { JumpNotice } from '../room/jump-notice.tsx';
import { LogList } from '../room/log-list.tsx';
import { BalloonForm, BloodTaps, ClockForm, ContrastTaps, MovedForm, NoteForm, PressureForm, RadiationForm, ScreenForm } from '../room/number-forms.tsx';
import { RecaptureLine } from '../room/recapture-line.tsx';
import { RescuePanel } from '../room/rescue-panel.tsx';
import { RoomStatus } from '../room/room-status.tsx';
import { RoomTimers } from '../room/room-timers.tsx';
import { tap } from '../room/taps.ts';
import { UndoBar } from '../room/undo-bar.tsx';
import { openRoom, room, roomCase } from '../state/room-log.ts';
import { actingSession, askLogOut, readScope } from '../state/session.ts';
import '../style/room.css';

const TABS = ['tabSteps', 'tabEvents', 'tabNumbers', 'tabWall', 'tabRescue', 'tabLog'] as const;
type Tab = (typeof TABS)[number];

/** The room in one hand: large buttons, what the step needs on top, the last tap and its undo always below. */
export function RemotePage() {
  const { params } = useRoute();
  const { route } = useLocation();
  const caseId = params['caseId'] ?? readScope(actingSession.value)?.caseId ?? null;
  const [tab, setTab] = useState<Tab>('tabSteps');
  useEffect(() => {
    if (caseId !== null) void openRoom(caseId, 'remote');
    if (caseId !== null && params['caseId'] === undefined) route(`/remote/${caseId}`, true);
  }, [caseId]);
  const about = roomCase.value?.caseId === caseId ? roomCase.value : null;
  useTitle(ROOM_EN.remoteTitle, about?.label ?? '');
  if (caseId === null) {
    return <main class="alone" id="main"><h1>{ROOM_EN.remoteWhich}</h1><p>{ROOM_EN.remoteWhichSay}</p></main>;
  }
  const isRescue = room.value.rescue.length > 0;
  return (
    <main class="room remote" id="main">
      <header class="remote-head">
        <h1>{about?.label ?? ROOM_EN.remoteTitle}</h1>
        {about?.training && <p class="training-banner">{HOUSE_EN.training}</p>}
        <RoomStatus isDesk={false} />
      </header>
      <nav class="remote-tabs" aria-label={ROOM_EN.remoteTitle}>
        {TABS.map((each) => (
          <button key={each} type="button" class="tap" aria-current={each === tab ? 'page' : undefined} onClick={() => setTab(each)}>{ROOM_EN[each]}{each === 'tabRescue' && isRescue ? ' !' : ''}</button>
        ))}
      </nav>
      <div class="remote-body" key={tab}>{bodyOf(tab)}</div>
      <UndoBar hasKeys={false} />
    </main>
  );
}

function bodyOf(tab: Tab) {
  switch (tab) {
    case 'tabSteps': return <><JumpNotice isDesk={false} /><HoldTaps /><NextPhase /><PacingTaps /><DepthLine /><RecaptureLine /><PhaseTaps /></>;
    case 'tabEvents': return <><MovedTaps /><MovedForm /><FractionTaps /><RecaptureTaps /><ViewTaps /><WireTaps /><BalloonForm /></>;
    case 'tabNumbers': return <><ContrastTaps /><EnteredDepth view={room.value.view?.view ?? null} unsheathedRatio={readShareOut(room.value)?.ratio ?? null} onReading={(reading) => tap({ is: 'depth', reading })} /><BloodTaps /><PressureForm /><RadiationForm /><ClockForm /><RoomTimers /></>;
    case 'tabWall': return <><WallTaps /><ScreenForm /></>;
    case 'tabRescue': return <><RescuePanel /><KitTaps /></>;
    case 'tabLog': return <><NoteForm /><LogList /><LogOutWarning /><button type="button" class="tap" onClick={() => void askLogOut()}>{ROOM_EN.leave}</button></>;
  }
}
