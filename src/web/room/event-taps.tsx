import { useState } from 'preact/hooks';
import { nameView } from '../../core/projection/camera-view.ts';
import { findStandingAnswer, isWallFree } from '../../core/room/make-wall-board.ts';
import { listKit } from '../../core/room/list-kit.ts';
import { ROOM_PHASES, WALL_CARDS, type RoomEntry } from '../../core/room/room-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { FREEZE_EN } from '../../core/text/freeze-en.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { WALL_ROOM_EN } from '../../core/text/wall-room-en.ts';
import { frozen, room } from '../state/room-log.ts';
import { ViewFields, readView, writeView, type ViewText } from './entered-depth.tsx';
import { KEY_OF } from './key-names.ts';
import { findNextPhase, readPlannedRate } from './next-taps.ts';
import { TapButton, TapGroup } from './tap-button.tsx';
import { tap } from './taps.ts';
import { formatClock, formatSpan, readSpan, useNow } from './times.ts';

export function NextPhase() {
  const next = findNextPhase();
  if (next === null) return null;
  return <TapButton isMain entry={{ is: 'phase', phase: next }} label={formatText(ROOM_EN, 'nextPhase', { phase: ROOM_EN[`phase-${next}`] })} keyName={KEY_OF.nextPhase} />;
}
/** All steps in their order; going back is one tap too. */
export function PhaseTaps() {
  const now = room.value.phase;
  return (
    <TapGroup title={ROOM_EN.phases} className="phases">
      {ROOM_PHASES.map((phase) => (
        <TapButton key={phase} entry={{ is: 'phase', phase }} label={ROOM_EN[`phase-${phase}`]} isOn={now?.phase === phase} help={now?.phase === phase ? formatText(ROOM_EN, 'sincePhase', { time: formatClock(now.at) }) : undefined} />
      ))}
    </TapGroup>
  );
}

const HOLDS = { position: 'A', decision: 'B', result: 'C' } as const;
type Hold = (typeof HOLDS)[keyof typeof HOLDS];
type HoldAnswer = Extract<RoomEntry, { is: 'hold' }>['answer'];
const ANSWERS: Readonly<Record<Hold, readonly HoldAnswer[]>> = {
  A: ['go on', 'wait', 'recapture', 'cannot say'],
  B: ['go on', 'recapture', 'cannot say'],
  C: ['wait', 'act', 'finish', 'cannot say'],
};
/** The hold point of this step: one question, one person answers aloud. Its buttons stand in a fixed order. */
export function HoldTaps() {
  const phase = room.value.phase?.phase ?? null;
  const hold = phase !== null && phase in HOLDS ? HOLDS[phase as keyof typeof HOLDS] : null;
  const people = listWho();
  const [chosen, setChosen] = useState<string | null>(null);
  if (hold === null) return null;
  const who = chosen !== null && people.includes(chosen) ? chosen : people[0]!;
  const given = findStandingAnswer(room.value, hold); // not that of an earlier pass, nor of before a manoeuvre
  return (
    <fieldset class="taps hold">
      <legend>{ROOM_EN[`hold${hold}`]}</legend>
      <div class="hold-who" role="radiogroup" aria-label={ROOM_EN.holdWho}>
        <span class="soft">{ROOM_EN.holdWho}</span>
        {people.map((each) => (
          <label key={each} class="choice"><input type="radio" name={`who-${hold}`} checked={each === who} onChange={() => setChosen(each)} />{each}</label>
        ))}
      </div>
      <div class="tap-row">
        {ANSWERS[hold].map((answer) => <TapButton key={answer} entry={{ is: 'hold', hold, answer, who }} label={ROOM_EN[`answer-${answer}`]} isOn={given?.answer === answer} />)}
      </div>
      {given && <p class="soft">{formatText(ROOM_EN, 'answered', { hold, answer: ROOM_EN[`answer-${given.answer}`], who: given.who, at: formatClock(given.at) })}</p>}
    </fieldset>
  );
}
/** Who may answer: as the huddle named them, the decider first; without a huddle by their roles. */
function listWho(): readonly string[] {
  const named = (['team.decides', 'team.firstOperator', 'team.secondOperator'] as const).flatMap((id) => {
    const value = frozen.value?.huddle[id];
    return typeof value === 'string' && value.trim() !== '' ? [value.trim().slice(0, 60)] : [];
  });
  const people = [...new Set(named)];
  return people.length > 0 ? people : [ROOM_EN['role-firstOperator'], ROOM_EN['role-secondOperator'], ROOM_EN['role-team']];
}

export function PacingTaps() {
  useNow();
  const { pacing } = room.value;
  const span = readSpan(pacing?.at ?? null);
  const help = (isOn: boolean): string | undefined => (pacing?.isOn === isOn && span !== null ? formatText(ROOM_EN, isOn ? 'pacingIsOn' : 'pacingIsOff', { time: formatSpan(span) }) : undefined);
  return (
    <TapGroup title={ROOM_EN.pacing} className="wide">
      <TapButton entry={{ is: 'pacing', isOn: true, ratePerMin: readPlannedRate() }} label={ROOM_EN.pacingOn} isOn={pacing?.isOn === true} help={help(true)} keyName={pacing?.isOn === true ? undefined : KEY_OF.pacing} />
      <TapButton entry={{ is: 'pacing', isOn: false, ratePerMin: null }} label={ROOM_EN.pacingOff} isOn={pacing?.isOn === false} help={help(false)} keyName={pacing?.isOn === true ? KEY_OF.pacing : undefined} />
    </TapGroup>
  );
}
export function MovedTaps() {
  return (
    <TapGroup title={ROOM_EN.frame} className="wide">
      <TapButton entry={{ is: 'moved', direction: 'up', mm: null }} label={ROOM_EN.movedUp} help={ROOM_EN.movedUpSay} keyName={KEY_OF.movedUp} />
      <TapButton entry={{ is: 'moved', direction: 'down', mm: null }} label={ROOM_EN.movedDown} help={ROOM_EN.movedDownSay} keyName={KEY_OF.movedDown} />
      <TapButton entry={{ is: 'moved', direction: 'unknown', mm: null }} label={ROOM_EN.movedUnknown} />
    </TapGroup>
  );
}
export function RecaptureTaps() {
  return (
    <TapGroup title={ROOM_EN['answer-recapture']}>
      <TapButton entry={{ is: 'recaptured', isWhole: true }} label={ROOM_EN.takenBackWhole} keyName={KEY_OF.recaptured} />
      <TapButton entry={{ is: 'recaptured', isWhole: false }} label={ROOM_EN.takenBackPart} />
      <TapButton entry={{ is: 'valve-out', inspected: true, replaced: false }} label={ROOM_EN.valveInspected} />
      <TapButton entry={{ is: 'valve-out', inspected: true, replaced: true }} label={ROOM_EN.valveReplaced} />
    </TapGroup>
  );
}
const SHARES = [0, 0.25, 0.33, 0.5, 0.67, 0.75, 0.8, 0.9, 1] as const;
export function FractionTaps() {
  const last = room.value.attempts.at(-1);
  const ratio = last && last.endedBy !== 'recaptured' ? last.ratio : null;
  return (
    <TapGroup title={ROOM_EN.fraction} className="narrow">
      {SHARES.map((share) => <TapButton key={share} entry={{ is: 'fraction', ratio: share }} label={share.toFixed(2)} isOn={ratio?.ratio === share} />)}
      <TapButton entry={{ is: 'fraction', ratio: null }} label={ROOM_EN.notRead} isOn={ratio !== null && ratio.ratio === null} />
    </TapGroup>
  );
}
export function WireTaps() {
  const { wire, tension } = room.value;
  return (
    <>
      {(['moved', 'exchanged'] as const).map((did) => (
        <TapGroup key={did} title={did === 'moved' ? ROOM_EN.wireMoved : ROOM_EN.wireExchanged}>
          {([null, 'outer curve', 'inner curve', 'centre'] as const).map((side) => <TapButton key={String(side)} entry={{ is: 'wire', did, side }} label={ROOM_EN[`side-${side ?? 'none'}`]} isOn={wire !== null && wire.did === did && wire.side === side} />)}
        </TapGroup>
      ))}
      <TapGroup title={ROOM_EN.tension}>
        {(['neutral', 'pulling', 'pushing'] as const).map((each) => <TapButton key={each} entry={{ is: 'tension', tension: each }} label={ROOM_EN[`tension-${each}`]} isOn={tension?.tension === each} />)}
      </TapGroup>
    </>
  );
}
/** The views of the plan by one tap; another angle by its numbers. */
export function ViewTaps() {
  const [text, setText] = useState<ViewText>(() => writeView(null));
  const [isAsked, setAsked] = useState(false);
  const chosen = frozen.value?.plan.views?.chosen ?? [];
  const now = room.value.view?.view;
  const log = (event: SubmitEvent): void => {
    event.preventDefault();
    const view = readView(text);
    setAsked(view === null);
    if (view !== null) tap({ is: 'view', view });
  };
  return (
    <TapGroup title={ROOM_EN.views}>
      {chosen.filter((c) => c.reach).map((c) => {
        const view = { primaryDeg: c.primaryDeg, secondaryDeg: c.secondaryDeg };
        return <TapButton key={`${c.role} ${nameView(view)}`} entry={{ is: 'view', view }} label={nameView(view)} help={WALL_ROOM_EN[`view-${c.role}`]} isOn={now !== undefined && nameView(now) === nameView(view)} />;
      })}
      <details class="more">
        <summary class="tap">{ROOM_EN.otherView}</summary>
        <form class="row" onSubmit={log} noValidate>
          <ViewFields text={text} onText={setText} isAsked={isAsked} />
          <button type="submit" class="tap main">{formatText(ROOM_EN, 'add', { what: ROOM_EN.otherView })}</button>
        </form>
      </details>
    </TapGroup>
  );
}
/** What the huddle named, by the same names; a second tap says that it is not there. */
export function KitTaps() {
  const document = frozen.value;
  const size = document?.device.sizes.find((s) => s.label === document.choice.size);
  if (!document || !size) return null;
  const { kit } = room.value;
  return (
    <TapGroup title={ROOM_EN.kit}>
      {listKit(document.device, size, (id) => document.huddle[id]).map((item) => {
        const name = item.valve ? `${FREEZE_EN[`slot-${item.slot}`]}, ${item.valve.size}` : FREEZE_EN[`slot-${item.slot}`];
        const isReady = kit[item.slot]?.isReady ?? item.isReady ?? false;
        return <TapButton key={item.slot} entry={{ is: 'kit', item: item.slot, isReady: !isReady }} label={name} help={item.place ?? undefined} isOn={isReady} />;
      })}
    </TapGroup>
  );
}
/** A card stands until the step changes; where the room has its hands full the wall decides by itself. */
export function WallTaps() {
  const isFree = isWallFree(room.value);
  const since = room.value.phase?.at ?? '';
  const shown = room.value.records.reduce<RoomEntry | null>((last, r) => (r.standing === 'current' && r.entry?.is === 'show' && r.happenedAt >= since ? r.entry : last), null);
  const card = shown?.is === 'show' ? shown.card : null;
  return (
    <TapGroup title={ROOM_EN.wall}>
      <TapButton entry={{ is: 'show', card: null }} label={ROOM_EN.cardOwn} isOn={card === null} />
      {WALL_CARDS.map((each) => <TapButton key={each} entry={{ is: 'show', card: each }} label={ROOM_EN[`card-${each}`]} isOn={card === each} />)}
      {!isFree && <p class="soft">{ROOM_EN.wallBusy}</p>}
    </TapGroup>
  );
}
