import { useState } from 'preact/hooks';
import type { WitnessNote } from '../../core/case/result-events.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { Field } from '../parts/field.tsx';
import { sayMoment } from '../parts/days.ts';
import { nameOf } from '../state/names.ts';
import { addEvents } from '../state/open-case.ts';
import { may } from '../state/session.ts';
import { NoteFields, readNote, writeNote } from './note-fields.tsx';

interface Witnessed {
  readonly note: (WitnessNote & { readonly by: string; readonly at: string; readonly seq: number }) | null;
  readonly withdrawn: { readonly because: string; readonly by: string; readonly at: string } | null;
}

/** When a witness was taken, at which rate and loading; and the way to withdraw it. `takenAt`: as it was joined; `isWitness`: false for pressures of before, which are compared with. */
export function WitnessCare({ of, takenAt, ratePerMin = null, isWitness = true, witness: { note, withdrawn } }: { readonly of: string; readonly isWitness?: boolean; readonly takenAt: string; readonly ratePerMin?: number | null; readonly witness: Witnessed }) {
  const start = writeNote(note ?? { takenAt, heartRatePerMin: ratePerMin, loadingNote: null });
  const [text, setText] = useState(start);
  const [problem, setProblem] = useState('');
  const [because, setBecause] = useState('');
  if (withdrawn) return <p class="note">{formatText(RESULT_PAGE_EN, 'withdrawn', { who: nameOf(withdrawn.by), at: sayMoment(withdrawn.at), because: withdrawn.because })}</p>;
  const store = (event: SubmitEvent): void => {
    event.preventDefault();
    const read = readNote(text, new Date());
    setProblem(typeof read === 'string' ? read : '');
    if (typeof read !== 'string') void addEvents([{ kind: 'witness.noted', data: { of, ...read }, supersedes: note?.seq ?? null }]);
  };
  const lacks = [...((note?.heartRatePerMin ?? ratePerMin) === null ? [RESULT_PAGE_EN.lackRate] : []), ...(note?.loadingNote ? [] : [RESULT_PAGE_EN.lackLoading])];
  return (
    <div class="care">
      {isWitness && lacks.length > 0 && <p class="note">{formatText(RESULT_PAGE_EN, 'noWitnessYet', { list: lacks.join(RESULT_PAGE_EN.and) })}</p>}
      {note && <p class="soft">{formatText(RESULT_PAGE_EN, 'notedBy', { who: nameOf(note.by), at: sayMoment(note.at) })}</p>}
      {may('edit') && (
        <>
          <form class="row" onSubmit={store} noValidate>
            <NoteFields text={text} onText={setText} />
            <button type="submit">{RESULT_PAGE_EN.noteStore}</button>
          </form>
          {problem !== '' && <p class="problem" role="alert">{problem}</p>}
          <details>
            <summary class="act">{RESULT_PAGE_EN.withdraw}</summary>
            <form class="row" onSubmit={(e) => { e.preventDefault(); if (because.trim().length >= 3) void addEvents([{ kind: 'witness.withdrawn', data: { of, because: because.trim() } }]); }}>
              <Field label={RESULT_PAGE_EN.withdrawBecause}>{(p) => <input {...p} name="withdraw" maxLength={400} value={because} onInput={(e) => setBecause(e.currentTarget.value)} />}</Field>
              <button type="submit" disabled={because.trim().length < 3}>{RESULT_PAGE_EN.withdraw}</button>
            </form>
          </details>
        </>
      )}
    </div>
  );
}
