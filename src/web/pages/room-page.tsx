import type { ComponentChildren } from 'preact';
import { useRoute } from 'preact-iso';
import { useEffect } from 'preact/hooks';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { CaseLine } from '../parts/case-line.tsx';
import { Section } from '../parts/section.tsx';
import { useTitle } from '../parts/title.ts';
import { DepthLine } from '../room/depth-line.tsx';
import { DepthPanel } from '../room/depth-panel.tsx';
import { FractionTaps, HoldTaps, KitTaps, MovedTaps, NextPhase, PacingTaps, PhaseTaps, RecaptureTaps, ViewTaps, WallTaps, WireTaps } from '../room/event-taps.tsx';
import { JumpBoard } from '../room/jump-board.tsx';
import { JumpNotice } from '../room/jump-notice.tsx';
import { LogList } from '../room/log-list.tsx';
import { BalloonForm, BloodTaps, ClockForm, ContrastTaps, MovedForm, NoteForm, PressureForm, RadiationForm, ScreenForm } from '../room/number-forms.tsx';
import { PairingPanel } from '../room/pairing-panel.tsx';
import { RecaptureLine } from '../room/recapture-line.tsx';
import { RescuePanel } from '../room/rescue-panel.tsx';
import { areKeysOn, setKeys, useRoomKeys } from '../room/room-keys.ts';
import { RoomDoubts } from '../room/room-doubts.tsx';
import { RoomStatus } from '../room/room-status.tsx';
import { RoomTimers } from '../room/room-timers.tsx';
import { UndoBar } from '../room/undo-bar.tsx';
import { caseState, openCase, planJob, shownPlan } from '../state/open-case.ts';
import { listPageStates } from '../state/page-states.ts';
import { isOnline, openRoom, room, roomCase } from '../state/room-log.ts';
import '../style/room.css';

/**
 * In the room, at the desk: what was frozen, what the room said, and one tap for everything that happens. It opens and
 * goes on without the server, so it asks for nothing that the browser does not keep.
 */
export function RoomPage() {
  const { params } = useRoute();
  const caseId = params['caseId'] ?? '';
  useEffect(() => void openRoom(caseId, 'desk'), [caseId]);
  useEffect(() => {
    if (isOnline.value) void openCase(caseId); // for the case line and the runs; the room itself does without
  }, [caseId, isOnline.value]);
  useRoomKeys();
  const state = caseState.value?.caseId === caseId ? caseState.value : null;
  const about = roomCase.value?.caseId === caseId ? roomCase.value : null;
  const label = about?.label ?? state?.label ?? caseId;
  const isTraining = about?.training ?? state?.training ?? false;
  useTitle(ROOM_EN.title, label);
  const isRescue = room.value.rescue.length > 0; // an open card stands on top
  return (
    <div class="case room">
      {isTraining && <div class="watermark" aria-hidden="true">{HOUSE_EN.training}</div>}
      <div class="case-head">
        <h1>{label}</h1>
        {state && <p class="soft">{state.procedureOn ? formatText(DESK_EN, 'forDay', { day: state.procedureOn }) : DESK_EN.noDay}</p>}
        {isTraining && <p class="training-banner">{HOUSE_EN.training}</p>}
      </div>
      {state && <CaseLine caseId={caseId} page="room" states={listPageStates(state, shownPlan.value?.plan ?? null, planJob.value !== null)} />}
      <Section
        id="room" title={ROOM_EN.title}
        answer={<><RoomStatus isDesk /><div class="room-now"><DepthLine /><RecaptureLine /><RoomTimers /></div>{isRescue && <RescuePanel />}<JumpNotice isDesk /><Taps /></>}
        why={<div class="room-panels"><JumpBoard /><DepthPanel /></div>}
        doubt={<RoomDoubts />}
        next={<>{!isRescue && <RescuePanel />}<Next caseId={caseId} /></>}
      />
      <UndoBar hasKeys={areKeysOn.value} />
    </div>
  );
}

function Taps() {
  return (
    <div class="room-taps">
      <div class="room-column">
        <NextPhase />
        <PhaseTaps />
        <nav class="taps" aria-label={ROOM_EN.goTo}>
          {([['rescue-name', ROOM_EN.tabRescue], ['jump-board-name', ROOM_EN.goJump], ['depth-panel-name', ROOM_EN.goDepth], ['room-log', ROOM_EN.logTitle]] as const).map(([id, name]) => <a key={id} class="tap button" href={`#${id}`} onClick={(e) => goTo(e, id)}>{name}</a>)}
        </nav>
      </div>
      <div class="room-column">
        <HoldTaps />
        <PacingTaps />
        <MovedTaps />
        <MovedForm />
        <FractionTaps />
        <RecaptureTaps />
        <ContrastTaps />
        <Fold title={ROOM_EN.views}><ViewTaps /></Fold>
        <Fold title={ROOM_EN.wire}><WireTaps /></Fold>
        <Fold title={ROOM_EN.balloon}><BalloonForm /></Fold>
        <Fold title={ROOM_EN.numbers}><BloodTaps /><PressureForm /><RadiationForm /><ClockForm /></Fold>
        <Fold title={ROOM_EN.kit}><KitTaps /></Fold>
        <NoteForm />
      </div>
    </div>
  );
}
function goTo(event: Event, id: string): void {
  const place = document.getElementById(id);
  if (!place) return;
  event.preventDefault(); // the address stays that of the page
  place.tabIndex = -1;
  place.focus({ preventScroll: true });
  place.scrollIntoView({ block: 'start' });
}
function Fold({ title, children }: { readonly title: string; readonly children: ComponentChildren }) {
  return <details class="fold"><summary class="tap">{title}</summary>{children}</details>;
}

function Next({ caseId }: { readonly caseId: string }) {
  return (
    <>
      <h3 id="room-log">{ROOM_EN.logTitle}</h3>
      <LogList />
      <p class="prints">{isOnline.value ? (['pdf', 'csv', 'fhir'] as const).map((format) => <a key={format} class="tap button" href={`/api/cases/${caseId}/log/${format}`} target="_blank" rel="noopener">{formatText(ROOM_EN, 'exportLog', { format: format.toUpperCase() })}</a>) : <span class="soft">{ROOM_EN.exportOffline}</span>}</p>
      <h3>{ROOM_EN.wall}</h3>
      <WallTaps />
      <Fold title={ROOM_EN.wallScreen}><ScreenForm /></Fold>
      <h3>{ROOM_EN.pairing}</h3>
      <PairingPanel caseId={caseId} />
      <h3>{ROOM_EN.keys}</h3>
      <label class="inline"><input type="checkbox" checked={areKeysOn.value} onChange={(e) => setKeys(e.currentTarget.checked)} />{ROOM_EN.keysOn}</label>
      <p class="help">{ROOM_EN.keysHelp}</p>
    </>
  );
}
