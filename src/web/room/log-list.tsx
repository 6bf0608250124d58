import { useState } from 'preact/hooks';
import type { LoggedRecord } from '../../core/room/room-state.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { nameOf } from '../state/names.ts';
import { room } from '../state/room-log.ts';
import { correcting, putBack, say, takeBack } from './taps.ts';
import { formatClock } from './times.ts';

const SHORT = 12;
/** The log, newest first: who, where, when; every line can be corrected or taken back, and nothing disappears. */
export function LogList({ most = SHORT }: { readonly most?: number }) {
  const [isAll, setAll] = useState(false);
  const lines = room.value.records.filter((r) => r.entry !== null).reverse();
  if (lines.length === 0) return <p class="soft">{ROOM_EN.logEmpty}</p>;
  const shown = isAll ? lines : lines.slice(0, most);
  return (
    <div class="log-list">
      <ol reversed>{shown.map((record) => <LogLine key={record.entryId} record={record} />)}</ol>
      {shown.length < lines.length && <button type="button" class="tap" onClick={() => setAll(true)}>{formatText(ROOM_EN, 'logMore', { count: lines.length })}</button>}
    </div>
  );
}

function LogLine({ record }: { readonly record: LoggedRecord }) {
  const [isOpen, setOpen] = useState(false);
  if (record.entry === null) return null;
  const isCurrent = record.standing === 'current';
  return (
    <li class={`log-line ${isCurrent ? '' : 'is-not'}`}>
      <button type="button" class="log-say" aria-expanded={isOpen} onClick={() => setOpen(!isOpen)}>
        <time dateTime={record.happenedAt}>{formatClock(record.happenedAt)}</time>
        <span class="log-what">{isCurrent ? say(record.entry) : <s>{say(record.entry)}</s>}</span>
        {record.seq === null && <span class="log-mark">{ROOM_EN.isWaiting}</span>}
        {record.standing === 'superseded' && <span class="log-mark">{ROOM_EN.isSuperseded}</span>}
        {record.standing === 'taken back' && <span class="log-mark">{ROOM_EN.isTakenBack}</span>}
        <span class="log-who soft">{ROOM_EN[`place-${record.place}`]}{sayWho(record.by)}</span>
      </button>
      {isOpen && (
        <span class="log-do">
          {isCurrent && <button type="button" class="tap" onClick={() => takeBack(record)}>{ROOM_EN.takeBack}</button>}
          {isCurrent && <button type="button" class="tap" onClick={() => (correcting.value = record)}>{ROOM_EN.correct}</button>}
          {record.standing === 'taken back' && <button type="button" class="tap" onClick={() => putBack(record)}>{ROOM_EN.putBack}</button>}
        </span>
      )}
    </li>
  );
}

/** A phone does not know the names of colleagues: then nothing is said. */
function sayWho(by: string | null): string {
  const name = by === null ? '' : nameOf(by);
  return name === '' || name === by ? '' : `, ${name}`;
}
