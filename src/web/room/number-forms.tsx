import { useState } from 'preact/hooks';
import type { RoomEntry } from '../../core/room/room-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { ROOM_EN } from '../../core/text/room-en.ts';
import { Field } from '../parts/field.tsx';
import { readServerNow, room } from '../state/room-log.ts';
import { readNumber } from './read-number.ts';
import { TapButton, TapGroup } from './tap-button.tsx';
import { tap } from './taps.ts';
import { formatClock, readClockAhead } from './times.ts';

interface NumberPart {
  readonly name: string;
  readonly label: string;
  readonly unit: string;
  readonly low: number;
  readonly high: number;
  readonly isNeeded: boolean;
}
type Given = Readonly<Record<string, number | null>>;

/** Numbers as a machine or a syringe shows them, and one button that logs them. Wrong ones are named, and nothing else stops. */
function NumberForm({ title, parts, makeEntry, corrects = null }: { readonly title: string; readonly parts: readonly NumberPart[]; readonly makeEntry: (given: Given) => RoomEntry | null; readonly corrects?: string | null }) {
  const [texts, setTexts] = useState<Readonly<Record<string, string>>>({});
  const [isAsked, setAsked] = useState(false);
  const read = (part: NumberPart): number | null => readNumber(texts[part.name] ?? '', part.low, part.high);
  const isEmpty = (part: NumberPart): boolean => (texts[part.name] ?? '').trim() === '';
  const isWrong = (part: NumberPart): boolean => (isEmpty(part) ? part.isNeeded : read(part) === null);
  const entry = parts.some(isWrong) ? null : makeEntry(Object.fromEntries(parts.map((p) => [p.name, read(p)])));
  const log = (event: SubmitEvent): void => {
    event.preventDefault();
    setAsked(entry === null);
    if (entry === null) return;
    tap(entry, null, corrects);
    setTexts({});
  };
  const nothing = isAsked && entry === null && !parts.some(isWrong);
  return (
    <form class="row numbers" onSubmit={log} noValidate>
      {parts.map((part, i) => (
        <Field key={part.name} label={part.label} unit={part.unit} problem={isAsked && isWrong(part) ? formatText(ROOM_EN, 'wrongNumber', { low: part.low, high: part.high, unit: part.unit }) : nothing && i === 0 ? ROOM_EN.needOne : undefined}>
          {(p) => <input {...p} class="short" inputMode="decimal" autocomplete="off" value={texts[part.name] ?? ''} onInput={(e) => setTexts({ ...texts, [part.name]: e.currentTarget.value })} />}
        </Field>
      ))}
      <button type="submit" class="tap main">{formatText(ROOM_EN, 'add', { what: title })}</button>
    </form>
  );
}
const needed = (name: string, label: string, unit: string, low: number, high: number): NumberPart => ({ name, label, unit, low, high, isNeeded: true });
const free = (name: string, label: string, unit: string, low: number, high: number): NumberPart => ({ name, label, unit, low, high, isNeeded: false });

/** Steps of a syringe; another amount by its number. */
const CONTRAST_ML = [5, 10, 20, 40] as const;
const HEPARIN_UNITS = [1000, 2000, 5000] as const;
export function ContrastTaps() {
  return (
    <TapGroup title={ROOM_EN.contrast} className="narrow">
      {CONTRAST_ML.map((ml) => <TapButton key={ml} entry={{ is: 'contrast', ml }} label={`+ ${ml} mL`} />)}
      <NumberForm title={ROOM_EN.totalContrast} parts={[needed('ml', ROOM_EN.otherAmount, 'mL', 0, 1000)]} makeEntry={({ ml }) => ({ is: 'contrast', ml: ml! })} />
    </TapGroup>
  );
}
export function BloodTaps() {
  return (
    <>
      <TapGroup title={ROOM_EN.heparin} className="narrow">
        {HEPARIN_UNITS.map((units) => <TapButton key={units} entry={{ is: 'heparin', units }} label={`${units} ${ROOM_EN.units}`} />)}
        <NumberForm title={ROOM_EN.heparin} parts={[needed('units', ROOM_EN.otherAmount, ROOM_EN.units, 0, 50000)]} makeEntry={({ units }) => ({ is: 'heparin', units: units! })} />
      </TapGroup>
      <TapGroup title={ROOM_EN.act} className="narrow">
        <NumberForm title={ROOM_EN.act} parts={[needed('seconds', ROOM_EN.asRead, 's', 0, 2000)]} makeEntry={({ seconds }) => ({ is: 'act', seconds: seconds! })} />
      </TapGroup>
    </>
  );
}
export function RadiationForm() {
  return (
    <TapGroup title={ROOM_EN.radiation}>
      <NumberForm
        title={ROOM_EN.radiationShort}
        parts={[free('kerma', ROOM_EN.airKerma, 'mGy', 0, 100000), free('area', ROOM_EN.doseArea, 'Gy·cm²', 0, 10000), free('minutes', ROOM_EN.fluoroscopy, 'min', 0, 600)]}
        makeEntry={({ kerma, area, minutes }) => (kerma == null && area == null && minutes == null ? null : { is: 'radiation', airKermaMGy: kerma ?? null, doseAreaGyCm2: area ?? null, fluoroscopyMin: minutes ?? null })}
      />
    </TapGroup>
  );
}
export function PressureForm() {
  return (
    <TapGroup title={ROOM_EN.pressure}>
      <NumberForm
        title={ROOM_EN.pressure}
        parts={[needed('systolic', ROOM_EN.systolic, 'mmHg', 0, 350), needed('diastolic', ROOM_EN.diastolic, 'mmHg', 0, 250), free('end', ROOM_EN.endDiastolic, 'mmHg', -10, 150), free('rate', ROOM_EN.heartRate, '/min', 0, 350)]}
        makeEntry={({ systolic, diastolic, end, rate }) => ({ is: 'pressure', systolicMmHg: systolic!, diastolicMmHg: diastolic!, endDiastolicMmHg: end ?? null, heartRatePerMin: rate ?? null })}
      />
    </TapGroup>
  );
}
/** How far it moved belongs to the tap that said that it did: the number is added to that one. */
export function MovedForm() {
  const last = room.value.records.filter((r) => r.standing === 'current' && r.entry?.is === 'moved').at(-1);
  const entry = last?.entry;
  if (!last || entry?.is !== 'moved') return null;
  return (
    <TapGroup title={formatText(ROOM_EN, 'moved', { at: formatClock(last.happenedAt) })}>
      <NumberForm title={ROOM_EN.distance} parts={[needed('mm', ROOM_EN.distance, 'mm', 0, 100)]} makeEntry={({ mm }) => ({ ...entry, mm: mm! })} corrects={last.entryId} />
    </TapGroup>
  );
}
export function BalloonForm() {
  return (
    <>
      {(['before', 'after'] as const).map((when) => (
        <TapGroup key={when} title={when === 'before' ? ROOM_EN.dilatedBefore : ROOM_EN.dilatedAfter} className="narrow">
          <NumberForm title={when === 'before' ? ROOM_EN.dilatedBefore : ROOM_EN.dilatedAfter} parts={[free('mm', ROOM_EN.balloonMm, 'mm', 5, 40)]} makeEntry={({ mm }) => ({ is: 'dilated', balloonMm: mm ?? null, when })} />
        </TapGroup>
      ))}
    </>
  );
}
const CLOCKS = ['recorder', 'c-arm', 'wall clock'] as const;
/** What another clock shows is typed ahead, and logged at the moment it does. */
export function ClockForm() {
  const [name, setName] = useState<(typeof CLOCKS)[number]>('recorder');
  const [text, setText] = useState('');
  const [isAsked, setAsked] = useState(false);
  const log = (event: SubmitEvent): void => {
    event.preventDefault();
    const aheadS = readClockAhead(text, readServerNow());
    setAsked(aheadS === null);
    if (aheadS === null) return;
    tap({ is: 'clock', name, aheadS });
    setText('');
  };
  return (
    <TapGroup title={ROOM_EN.otherClock}>
      <form class="row numbers" onSubmit={log} noValidate>
        <Field label={ROOM_EN.itShows} help={ROOM_EN.clockForm} problem={isAsked ? ROOM_EN.wrongTime : undefined}>
          {(p) => (
            <>
              <select aria-label={ROOM_EN.otherClock} value={name} onChange={(e) => setName(e.currentTarget.value as typeof name)}>{CLOCKS.map((c) => <option key={c} value={c}>{ROOM_EN[`clockName-${c}`]}</option>)}</select>
              <input {...p} class="short" inputMode="text" autocomplete="off" value={text} onInput={(e) => setText(e.currentTarget.value)} />
            </>
          )}
        </Field>
        <button type="submit" class="tap main">{ROOM_EN.clockSame}</button>
      </form>
    </TapGroup>
  );
}
/** A wall's bar as a tape shows it, by the name that stands on that wall. */
export function ScreenForm() {
  const [wall, setWall] = useState('');
  const isWall = /^[A-Z][0-9]$/.test(wall);
  return (
    <TapGroup title={ROOM_EN.wallScreen}>
      <Field label={ROOM_EN.wallName} help={ROOM_EN.wallNameHelp} problem={wall.length >= 2 && !isWall ? ROOM_EN.wallNameHelp : undefined}>{(p) => <input {...p} class="short" maxLength={2} autocomplete="off" autocapitalize="characters" value={wall} onInput={(e) => setWall(e.currentTarget.value.trim().toUpperCase())} />}</Field>
      <NumberForm title={ROOM_EN.barMm} parts={[needed('mm', ROOM_EN.barMm, 'mm', 50, 5000)]} makeEntry={({ mm }) => (isWall ? { is: 'screen', wall, barMm: mm! } : null)} />
    </TapGroup>
  );
}
export function NoteForm() {
  const [text, setText] = useState('');
  const log = (event: SubmitEvent): void => {
    event.preventDefault();
    if (text.trim() === '') return;
    tap({ is: 'note', text: text.trim().slice(0, 200) });
    setText('');
  };
  return (
    <TapGroup title={ROOM_EN.note}>
      <form class="row numbers" onSubmit={log}>
        <Field label={ROOM_EN.fewWords} help={ROOM_EN.noteHelp}>{(p) => <input {...p} maxLength={200} autocomplete="off" value={text} onInput={(e) => setText(e.currentTarget.value)} />}</Field>
        <button type="submit" class="tap main">{formatText(ROOM_EN, 'add', { what: ROOM_EN.note })}</button>
      </form>
    </TapGroup>
  );
}
