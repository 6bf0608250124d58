import { useState } from 'preact/hooks';
import { makeCauseBoard } from '../../core/room/cause-board.ts';
import type { CauseBoard, CauseRow, Evidence } from '../../core/room/cause-types.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import type { RoomState } from '../../core/room/room-state.ts';
import { CAUSE_CODES, type CauseCode } from '../../core/room/room-types.ts';
import { BOARD_EN } from '../../core/text/board-en.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { frozen, logEntry, readServerNow, room } from '../state/room-log.ts';
import { Field } from '../parts/field.tsx';
import './board.css';
import { ChangeTable, StartTable } from './change-table.tsx';
import { listNames, sayMovement, sayStandOut } from './jump-words.ts';
import { formatClock, formatFactTime } from './times.ts';
import { WorldsLine } from './worlds-line.tsx';

/** When the frame has moved: why it may have, what can be changed and what the forecast says of it. Part of In the room. */
export function JumpBoard() {
  const plan = frozen.value;
  const state = room.value;
  return (
    <section class="jump-board" aria-labelledby="jump-board-name">
      <h3 id="jump-board-name" tabIndex={-1}>{BOARD_EN.title}</h3>
      {plan ? <Board plan={plan} state={state} /> : <p class="soft">{BOARD_EN.noFrozen}</p>}
    </section>
  );
}

function Board({ plan, state }: { readonly plan: FrozenDocument; readonly state: RoomState }) {
  const board = makeCauseBoard(plan, state);
  if (!board.event) return <><p>{BOARD_EN.nothingMoved}</p><WorldsLine plan={plan} state={state} /></>;
  return (
    <>
      <p class="board-event"><b>{sayMovement(board)}</b> <span class="soft">{formatClock(board.event.at)}</span></p>
      <h4>{BOARD_EN.boardTitle}</h4>
      <p>{sayStandOut(board)}</p>
      <p class="soft">{BOARD_EN.orderNote}</p>
      <table class="causes stacked">
        <thead><tr>{[BOARD_EN.columnCause, BOARD_EN.columnFor, BOARD_EN.columnAgainst, BOARD_EN.columnOpen].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
        <tbody>{board.rows.map((row) => <Row key={row.code} row={row} />)}</tbody>
      </table>
      {board.closed ? <Closed board={board} /> : <CloseForm key={board.event.at} />}
      <StartTable plan={plan} state={state} />
      <ChangeTable plan={plan} state={state} />
      <WorldsLine plan={plan} state={state} />
    </>
  );
}

function Row({ row }: { readonly row: CauseRow }) {
  const cell = (side: Evidence['side'], name: string) => {
    const all = row.evidence.filter((e) => e.side === side);
    return (
      <td data-name={name} class={`side-${side === 'not known' ? 'open' : side}`}>
        {all.length === 0 ? <span class="soft">{BOARD_EN.nothing}</span> : <ul>{all.map((e) => <EvidenceLine key={e.text} evidence={e} />)}</ul>}
      </td>
    );
  };
  return (
    <tr>
      <th scope="row">{BOARD_EN[`cause-${row.code}`]}<span class={`weight weight-${row.weight}`}>{BOARD_EN[`weight-${row.weight}`]}</span></th>
      {cell('for', BOARD_EN.for)}{cell('against', BOARD_EN.against)}{cell('not known', BOARD_EN.open)}
    </tr>
  );
}

function EvidenceLine({ evidence: { text, from, at } }: { readonly evidence: Evidence }) {
  return <li>{text} <span class="source">{BOARD_EN[`from-${from}`]}{at !== null && `, ${formatFactTime(at, readServerNow())}`}</span></li>;
}

function Closed({ board: { closed } }: { readonly board: CauseBoard }) {
  const list = closed!.closedAs.length === 0 ? BOARD_EN.closeNone : listNames(closed!.closedAs);
  return (
    <p class="board-closed">
      <b>{formatText(BOARD_EN, 'closedAs', { who: closed!.who, list })}</b>{closed!.because !== '' && <> {formatText(BOARD_EN, 'closedBecause', { because: closed!.because })}</>} <span class="soft">{formatClock(closed!.at)}</span>
    </p>
  );
}

/** One cause, more than one, or none that fits; who says so and why. */
function CloseForm() {
  const [causes, setCauses] = useState<readonly CauseCode[]>([]);
  const [isNone, setNone] = useState(false);
  const [problem, setProblem] = useState(false);
  const toggle = (code: CauseCode): void => {
    setCauses((all) => (all.includes(code) ? all.filter((c) => c !== code) : CAUSE_CODES.filter((c) => c === code || all.includes(c))));
    setNone(false);
  };
  const close = (event: SubmitEvent): void => {
    event.preventDefault();
    const form = new FormData(event.currentTarget as HTMLFormElement);
    const who = String(form.get('who') ?? '').trim();
    const because = String(form.get('because') ?? '').trim();
    const isWhole = who !== '' && because !== '' && (isNone || causes.length > 0);
    setProblem(!isWhole);
    if (isWhole) logEntry({ is: 'causes', closedAs: isNone ? [] : causes, because, who });
  };
  return (
    <form class="close-board" onSubmit={close} noValidate>
      <fieldset>
        <legend>{BOARD_EN.closeTitle}</legend>
        <p class="soft">{BOARD_EN.closeSay}</p>
        <div class="ticks">
          {CAUSE_CODES.map((code) => <label key={code} class="inline tick"><input type="checkbox" checked={causes.includes(code)} onChange={() => toggle(code)} /> {BOARD_EN[`cause-${code}`]}</label>)}
          <label class="inline tick"><input type="checkbox" checked={isNone} onChange={(e) => { setNone(e.currentTarget.checked); if (e.currentTarget.checked) setCauses([]); }} /> {BOARD_EN.closeNone}</label>
        </div>
      </fieldset>
      <div class="row">
        <Field label={BOARD_EN.closeBecause}>{(p) => <input {...p} name="because" maxLength={300} />}</Field>
        <Field label={BOARD_EN.closeWho}>{(p) => <input {...p} name="who" maxLength={80} />}</Field>
        <button type="submit" class="tap">{BOARD_EN.close}</button>
      </div>
      {problem && <p class="problem" role="alert">{BOARD_EN.closeNeeds}</p>}
    </form>
  );
}
