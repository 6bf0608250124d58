import { useState } from 'preact/hooks';
import { makeEcgEntry } from '../../core/rhythm/check-entries.ts';
import { AV_BLOCKS, BUNDLE_BLOCKS, ECG_RHYTHMS, type EcgMoment } from '../../core/rhythm/rhythm-types.ts';
import type { EcgWords } from '../../core/case/result-events.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RHYTHM_EN } from '../../core/text/rhythm-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import type { RhythmPageAnswer } from '../../formats/api/result-schemas.ts';
import { formatFact } from '../../formats/report/format-number.ts';
import { isDate, sayMoment } from '../parts/days.ts';
import { Field } from '../parts/field.tsx';
import { Notice } from '../parts/notice.tsx';
import { addEvents, caseState } from '../state/open-case.ts';
import { may } from '../state/session.ts';
import { EcgFile } from './ecg-file.tsx';

type Column = RhythmPageAnswer['ecgs'][number];
/** What stands in the controls; empty: open. */
type Typed = Readonly<Record<'day' | 'time' | 'rhythm' | 'pr' | 'qrs' | 'rate' | 'hv' | 'bundle' | 'av', string>>;

/** A form for each moment; the one that is waited for stands open. */
export function EcgForms({ here, nowMs }: { readonly here: RhythmPageAnswer; readonly nowMs: number }) {
  if (!may('edit')) return null;
  const wanted = here.ecgs.find((e) => !e.entry)?.moment ?? null;
  const isFew = here.ecgs.filter((e) => e.entry).length < 2;
  return (
    <section aria-labelledby="ecg-entry-name">
      <h3 id="ecg-entry-name">{RHYTHM_PAGE_EN.entryTitle}</h3>
      <p class="soft">{RHYTHM_PAGE_EN.entrySay}</p>
      {here.ecgs.map((ecg) => (
        <details key={ecg.moment} class="ecg-entry" open={isFew && ecg.moment === wanted}>
          <summary class="act">{formatText(RHYTHM_PAGE_EN, ecg.entry ? 'entryAgain' : 'entryOf', { moment: RHYTHM_EN[`moment-${ecg.moment}`] })}</summary>
          <EcgForm key={ecg.enteredBy?.at ?? ''} ecg={ecg} nowMs={nowMs} />
        </details>
      ))}
    </section>
  );
}

function EcgForm({ ecg, nowMs }: { readonly ecg: Column; readonly nowMs: number }) {
  const [typed, setTyped] = useState<Typed>(() => fillIn(ecg, nowMs));
  const [problem, setProblem] = useState<readonly [string, string] | null>(null);
  const put = (key: keyof Typed, value: string): void => setTyped({ ...typed, [key]: value });
  const at = readTime(typed);
  const save = (event: SubmitEvent): void => {
    event.preventDefault();
    const words = readWords(typed, at);
    if (!words) return setProblem([RHYTHM_PAGE_EN.wrongTime, '']);
    const checked = makeEcgEntry({ moment: ecg.moment, ...Object.fromEntries(Object.entries(words).filter(([, v]) => v !== null)), at: words.at }, { by: '', at: words.at });
    setProblem(checked.ok ? null : [checked.failure.message, checked.failure.nextStep]);
    if (checked.ok) void store(ecg.moment, words);
  };
  const heart = caseState.value?.referral ?? {};
  const quoted = ecg.moment === 'baseline' && !ecg.entry && (heart['heart.prMs'] ?? heart['heart.qrsMs']) !== undefined;
  const numbers = [
    ['pr', RHYTHM_PAGE_EN.pr, 'ms', 40, 800, ecg.reading?.prMs], ['qrs', RHYTHM_PAGE_EN.qrs, 'ms', 30, 400, ecg.reading?.qrsMs],
    ['rate', RHYTHM_PAGE_EN.rate, '/min', 10, 350, ecg.reading?.ratePerMin], ['hv', RHYTHM_PAGE_EN.hvField, 'ms', 10, 400, null],
  ] as const;
  const choices = [
    ['rhythm', RHYTHM_PAGE_EN.rhythm, ECG_RHYTHMS.map((v) => [v, RHYTHM_PAGE_EN[`rhythm-${v}`]] as const)],
    ['bundle', RHYTHM_PAGE_EN.bundle, BUNDLE_BLOCKS.map((v) => [v, RHYTHM_PAGE_EN[`bundle-${v}`]] as const)],
    ['av', RHYTHM_PAGE_EN.av, AV_BLOCKS.map((v) => [v, RHYTHM_PAGE_EN[`av-${v}`]] as const)],
  ] as const;
  return (
    <form onSubmit={save} class="entries">
      <div class="grid">
        <Field label={RHYTHM_PAGE_EN.day}>{(p) => <input {...p} name={`${ecg.moment}-day`} class="short" inputMode="numeric" placeholder={RHYTHM_PAGE_EN.dayForm} maxLength={10} autocomplete="off" value={typed.day} onInput={(e) => put('day', e.currentTarget.value)} />}</Field>
        <Field label={RHYTHM_PAGE_EN.time} help={RHYTHM_PAGE_EN.timeHelp}>{(p) => <input {...p} name={`${ecg.moment}-time`} class="short" inputMode="numeric" placeholder={RHYTHM_PAGE_EN.timeForm} maxLength={5} autocomplete="off" value={typed.time} onInput={(e) => put('time', e.currentTarget.value)} />}</Field>
        {choices.map(([key, label, words]) => (
          <Field key={key} label={label}>
            {(p) => <select {...p} name={`${ecg.moment}-${key}`} value={typed[key]} onChange={(e) => put(key, e.currentTarget.value)}><option value="">{RHYTHM_PAGE_EN.notSaid}</option>{words.map(([value, word]) => <option key={value} value={value}>{word}</option>)}</select>}
          </Field>
        ))}
        {numbers.map(([key, label, unit, low, high, measured]) => {
          const record = measured && formatFact(measured);
          const bounds = formatText(RHYTHM_PAGE_EN, 'bounds', { low, high, unit });
          return (
            <Field key={key} label={label} unit={unit} help={record ? formatText(RHYTHM_PAGE_EN, 'recordSays', record) : bounds}>
              {(p) => <input {...p} name={`${ecg.moment}-${key}`} class="short" inputMode="decimal" autocomplete="off" title={bounds} value={typed[key]} onInput={(e) => put(key, e.currentTarget.value)} />}
            </Field>
          );
        })}
      </div>
      {problem && <Notice isUrgent><p>{problem[0]}</p><p class="soft">{problem[1]}</p></Notice>}
      <p class="form-acts">
        <button type="submit" class="main">{RHYTHM_PAGE_EN.save}</button>
        {quoted && <button type="button" onClick={() => setTyped({ ...typed, pr: String(heart['heart.prMs']?.value ?? ''), qrs: String(heart['heart.qrsMs']?.value ?? '') })}>{RHYTHM_PAGE_EN.fromReferral}</button>}
        {ecg.enteredBy && <button type="button" class="quiet" onClick={() => void store(ecg.moment, null)}>{RHYTHM_PAGE_EN.takeBack}</button>}
      </p>
      <EcgFile moment={ecg.moment} takenAt={at} />
    </form>
  );
}

function store(moment: EcgMoment, words: EcgWords | null): Promise<unknown> {
  const seq = caseState.peek()?.result.ecgs[moment]?.entered?.seq ?? null;
  return addEvents([{ kind: 'ecg.entered', data: { moment, words }, supersedes: seq }]);
}

function fillIn(ecg: Column, nowMs: number): Typed {
  const { words } = ecg;
  const said = ecg.at ?? (ecg.moment === 'baseline' ? null : new Date(nowMs).toISOString());
  const [day = '', time = ''] = said === null ? [] : sayMoment(said).split(' ');
  const text = (value: string | number | null | undefined): string => (value == null ? '' : String(value));
  return { day, time, rhythm: text(words?.rhythm), pr: text(words?.prMs), qrs: text(words?.qrsMs), rate: text(words?.ratePerMin), hv: text(words?.hvMs), bundle: text(words?.bundleBlock), av: text(words?.avBlock) };
}

/** Of this machine's clock, to UTC; null: not a day and a time of day. */
function readTime({ day, time }: Typed): string | null {
  if (!isDate(day.trim()) || !/^([01]?\d|2[0-3]):[0-5]\d$/.test(time.trim())) return null;
  const at = new Date(`${day.trim()}T${time.trim().padStart(5, '0')}:00`);
  return Number.isNaN(at.getTime()) ? null : at.toISOString();
}

/** A comma is a decimal point; what is no number stays one that no ECG has, and is refused by name. */
function readWords(typed: Typed, at: string | null): EcgWords | null {
  if (at === null) return null;
  const number = (text: string): number | null => (text.trim() === '' ? null : Number(text.trim().replace(',', '.')));
  const word = <T extends string>(text: string, known: readonly T[]): T | null => known.find((k) => k === text) ?? null;
  return {
    at, rhythm: word(typed.rhythm, ECG_RHYTHMS), prMs: number(typed.pr), qrsMs: number(typed.qrs), ratePerMin: number(typed.rate), hvMs: number(typed.hv),
    bundleBlock: word(typed.bundle, BUNDLE_BLOCKS), avBlock: word(typed.av, AV_BLOCKS),
  };
}
