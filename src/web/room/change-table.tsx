import type { ReleaseExit, WhatIfWorld, WorldForecast } from '../../core/release/release-types.ts';
import { sayVerdict } from '../../core/room/cause-evidence.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import { listChanges, listStarts } from '../../core/room/list-changes.ts';
import type { RoomState } from '../../core/room/room-state.ts';
import { BOARD_EN } from '../../core/text/board-en.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RELEASE_EN } from '../../core/text/release-en.ts';

/** The forecast of the start depths about the one that was read. */
export function StartTable({ plan, state }: { readonly plan: FrozenDocument; readonly state: RoomState }) {
  const starts = listStarts(plan, state);
  if (starts.length === 0) return null;
  return (
    <>
      <h4>{BOARD_EN.startsTitle}</h4>
      <p class="soft">{BOARD_EN.startsSay}</p>
      <table class="changes stacked">
        <thead><tr>{[BOARD_EN.columnStart, BOARD_EN.columnGripping, BOARD_EN.columnMiddle, BOARD_EN.columnSlippery].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
        <tbody>
          {starts.map(({ forecast: { startMm, worlds }, isPlanned, isRead }) => (
            <tr key={startMm}>
              <th scope="row">{formatText(BOARD_EN, 'startLine', { mm: startMm.toFixed(Number.isInteger(startMm) ? 0 : 1) })}{isPlanned && <> <span class="mark-word">{BOARD_EN.startPlanned}</span></>}{isRead && <> <span class="mark-word">{BOARD_EN.startRead}</span></>}</th>
              <td data-name={BOARD_EN.columnGripping}>{sayStart(worlds.gripping)}</td>
              <td data-name={BOARD_EN.columnMiddle}>{sayStart(worlds.middle)}</td>
              <td data-name={BOARD_EN.columnSlippery}>{sayStart(worlds.slippery)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}
function sayStart({ answer, movementMm: { low, high }, leaves }: WorldForecast): string {
  return formatText(BOARD_EN, 'startWorld', { verdict: sayVerdict(answer), low: sayMove(low, leaves.low), high: sayMove(high, leaves.high) });
}
function sayMove(mm: number | null, exit: ReleaseExit): string {
  if (mm === null) return exit === 'none' ? BOARD_EN.notSaid : BOARD_EN[`startLeaves-${exit}`];
  const whole = Math.round(Math.abs(mm));
  return whole === 0 ? BOARD_EN.startNone : formatText(BOARD_EN, mm > 0 ? 'startUp' : 'startDown', { mm: whole });
}

/** What can be changed and what the frozen forecast says of each, per friction world. A list, not an advice. */
export function ChangeTable({ plan, state }: { readonly plan: FrozenDocument; readonly state: RoomState }) {
  const { changes, plannedStartMm, otherStartMm } = listChanges(plan, state);
  return (
    <>
      <h4>{BOARD_EN.changesTitle}</h4>
      {changes.length === 0 ? <p>{BOARD_EN.changesNone}</p> : (
        <>
          <p class="soft">{formatText(BOARD_EN, 'changesSay', { start: plannedStartMm.toFixed(1) })}{otherStartMm !== null && ` ${formatText(BOARD_EN, 'changesOtherStart', { read: otherStartMm.toFixed(1), start: plannedStartMm.toFixed(1) })}`}</p>
          <table class="changes stacked">
            <thead><tr>{[BOARD_EN.columnChange, BOARD_EN.columnTouches, BOARD_EN.columnGripping, BOARD_EN.columnMiddle, BOARD_EN.columnSlippery].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
            <tbody>
              {changes.map(({ code, touches, worlds }) => (
                <tr key={code}>
                  <th scope="row">{RELEASE_EN[`what-${code}`]}</th>
                  <td data-name={BOARD_EN.columnTouches} class="soft">{touches.map((t) => BOARD_EN[`cause-${t}`]).join('; ')}</td>
                  <td data-name={BOARD_EN.columnGripping}>{sayChange(worlds.gripping)}</td>
                  <td data-name={BOARD_EN.columnMiddle}>{sayChange(worlds.middle)}</td>
                  <td data-name={BOARD_EN.columnSlippery}>{sayChange(worlds.slippery)}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </>
      )}
    </>
  );
}

const FAR_MM = 20;
/** Whole millimetres: the model is no finer (docs/methods/release.md). */
function sayChange({ answer, changeMm, isVisible }: WhatIfWorld): string {
  if (!isVisible) return BOARD_EN.changeNot;
  const mid = Math.round(Math.abs(changeMm.mid));
  // A change that the draws show, but whose middle one is small, acts on part of the releases only.
  const by = mid >= FAR_MM ? formatText(BOARD_EN, 'changeFar', { mm: FAR_MM }) : mid === 0 ? BOARD_EN.changeLittle : formatText(BOARD_EN, changeMm.mid > 0 ? 'changeUp' : 'changeDown', { mm: mid });
  return answer === 'cannot say' ? formatText(BOARD_EN, 'changeToOpen', { by }) : formatText(BOARD_EN, 'changeTo', { by, verdict: sayVerdict(answer) });
}
