import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { Field } from '../parts/field.tsx';
import { readNumber } from '../room/read-number.ts';
import { readMoment, writeMoment } from './moments.ts';

/** What a person says beside a witness, as typed. `at` empty: now, when it is stored. */
export interface NoteText {
  readonly at: string;
  readonly rate: string;
  readonly loading: string;
}
export const NO_NOTE: NoteText = { at: '', rate: '', loading: '' };
export interface Note {
  readonly takenAt: string;
  readonly heartRatePerMin: number | null;
  readonly loadingNote: string | null;
}
export const writeNote = (note: Note | null): NoteText => (note === null ? NO_NOTE : { at: writeMoment(new Date(note.takenAt)), rate: note.heartRatePerMin === null ? '' : String(Math.round(note.heartRatePerMin)), loading: note.loadingNote ?? '' });

/** A person's resting and fastest rate; what cannot be is a slip of the keys. */
const [LEAST_RATE, MOST_RATE] = [10, 350];
/** The note, or what is wrong with it. A moment later than now is a clock or a slip, and no witness (judge-witness.ts). */
export function readNote(text: NoteText, now: Date): Note | string {
  const takenAt = text.at.trim() === '' ? now.toISOString() : readMoment(text.at, now);
  if (takenAt === null) return RESULT_PAGE_EN.momentWrong;
  if (Date.parse(takenAt) > now.getTime()) return RESULT_PAGE_EN.momentFuture;
  const rate = text.rate.trim() === '' ? null : readNumber(text.rate, LEAST_RATE, MOST_RATE);
  if (rate === null && text.rate.trim() !== '') return formatText(RESULT_PAGE_EN, 'rateWrong', { low: LEAST_RATE, high: MOST_RATE });
  return { takenAt, heartRatePerMin: rate, loadingNote: text.loading.trim() === '' ? null : text.loading.trim() };
}

/** When, at which rate, in which loading: without the last two it is stored and is no witness. */
export function NoteFields({ text, onText, hasTime = true }: { readonly text: NoteText; readonly onText: (text: NoteText) => void; readonly hasTime?: boolean }) {
  return (
    <div class="note-fields">
      {hasTime && <Field label={RESULT_PAGE_EN.moment}>{(p) => <input {...p} name="at" class="moment" autocomplete="off" placeholder={RESULT_PAGE_EN.momentNow} maxLength={19} value={text.at} onInput={(e) => onText({ ...text, at: e.currentTarget.value })} />}</Field>}
      <Field label={RESULT_PAGE_EN.rate} unit="/min">{(p) => <input {...p} name="rate" class="short" inputMode="numeric" autocomplete="off" value={text.rate} onInput={(e) => onText({ ...text, rate: e.currentTarget.value })} />}</Field>
      <Field label={RESULT_PAGE_EN.loading}>{(p) => <input {...p} name="loading" autocomplete="off" maxLength={200} placeholder={RESULT_PAGE_EN.loadingForm} value={text.loading} onInput={(e) => onText({ ...text, loading: e.currentTarget.value })} />}</Field>
    </div>
  );
}
