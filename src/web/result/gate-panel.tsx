import { useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { knownNames, nameOf } from '../state/names.ts';
import { addEvents, caseState } from '../state/open-case.ts';
import { hasGraded, isReader, result, shownVerdict } from '../state/result.ts';
import { room } from '../state/room-log.ts';
import { may, session } from '../state/session.ts';
import { formatClock } from '../room/times.ts';
import { readRoundStart } from './read-round-start.ts';

/** Who reads the result in the room: each of them grades before any grade or verdict is seen. */
export function ReadersChoice() {
  const state = caseState.value;
  const [isOpen, setOpen] = useState(false);
  if (!state) return null;
  const present = state.result.readers?.personIds ?? [];
  const me = session.value?.person?.personId ?? '';
  const people = [...new Set([me, ...present, ...knownNames.value.map((p) => p.personId)])].filter((id) => id !== '');
  const put = (ids: readonly string[]): void => void addEvents([{ kind: 'readers.present', data: { personIds: ids }, supersedes: state.result.readers?.seq ?? null }]);
  return (
    <div class="readers">
      <p>{present.length === 0 ? RESULT_PAGE_EN.readersNone : formatText(RESULT_PAGE_EN, 'readersAre', { list: present.map(nameOf).join(', ') })}</p>
      {may('edit') && (
        <div class="row">
          {!present.includes(me) && <button type="button" class={present.length === 0 ? 'main' : ''} onClick={() => put([...present, me])}>{RESULT_PAGE_EN.readersMe}</button>}
          <details open={isOpen} onToggle={(e) => setOpen(e.currentTarget.open)}>
            <summary class="act">{RESULT_PAGE_EN.readersChoose}</summary>
            <fieldset class="choices">
              <legend>{RESULT_PAGE_EN.readersLegend}</legend>
              {people.map((id) => (
                <label key={id} class="inline">
                  <input type="checkbox" checked={present.includes(id)} onChange={(e) => put(e.currentTarget.checked ? [...present, id] : present.filter((p) => p !== id))} /> {nameOf(id)}
                </label>
              ))}
              <p class="help">{RESULT_PAGE_EN.readersHelp}</p>
            </fieldset>
          </details>
        </div>
      )}
    </div>
  );
}

/** When this round of grading began: a manoeuvre makes all earlier grades old. */
export function RoundLine() {
  const sinceAt = readRoundStart(room.value);
  if (sinceAt === null) return null;
  return <p class="soft">{formatText(RESULT_PAGE_EN, 'roundSince', { at: formatClock(sinceAt), what: RESULT_PAGE_EN[sinceAt === room.value.releasedAt ? 'round-released' : 'round-manoeuvre'] })}</p>;
}

/** In words: whose grade is waited for, and whether a manoeuvre made the stored ones old. */
export function GateLine() {
  const now = result.value;
  if (!now) return null;
  const { gate } = now.verdict;
  const me = session.value?.person?.personId ?? '';
  const others = gate.waitingFor.filter((id) => id !== me);
  const hadGraded = now.grades.some((g) => g.by === me);
  if (gate.isOpen) return shownVerdict.value ? null : <p class={hasGraded.value ? 'gate' : 'gate say'}>{hasGraded.value ? RESULT_PAGE_EN.gateOpen : RESULT_PAGE_EN.gateOpenOther}</p>;
  return (
    <div class="gate">
      {(caseState.value?.result.readers?.personIds.length ?? 0) === 0 && <p class="say">{RESULT_PAGE_EN.gateNobody}</p>}
      {isReader.value && !hasGraded.value && <p class="say">{hadGraded ? RESULT_PAGE_EN.gateAgain : RESULT_PAGE_EN.gateYours}</p>}
      {hasGraded.value && <p class="say">{RESULT_PAGE_EN.gateStored}</p>}
      {others.length > 0 && <p>{formatText(RESULT_PAGE_EN, 'gateWaits', { list: others.map(nameOf).join(', ') })}</p>}
      {hadGraded && !hasGraded.value && isReader.value && <p class="note">{RESULT_PAGE_EN.newRound}</p>}
      <p class="soft">{RESULT_PAGE_EN.gateWhy}</p>
    </div>
  );
}
