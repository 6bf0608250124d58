import { useState } from 'preact/hooks';
import { formatGradeBand } from '../../core/verdict/format-grade-band.ts';
import { WITNESS_KINDS, type WitnessKind } from '../../core/verdict/verdict-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { RESULT_SHEET_EN } from '../../core/text/result-sheet-en.ts';
import { VERDICT_EN } from '../../core/text/verdict-en.ts';
import type { ApiFailure } from '../api/call-api.ts';
import { sayMoment } from '../parts/days.ts';
import { FailureNotice } from '../parts/notice.tsx';
import { giveGrade, hasGraded, isReader, result } from '../state/result.ts';
import { may, session } from '../state/session.ts';
import { NO_NOTE, NoteFields, readNote, type NoteText } from './note-fields.tsx';

const GRADES = [0, 1, 2, 3, 4] as const;
type Grade = (typeof GRADES)[number];
type Of = WitnessKind | 'overall';

/** A reader's own grade: one class, or from one to another for who wavers. It is sealed as soon as it is stored. */
export function GradeForm() {
  const [of, setOf] = useState<Of>('overall');
  const [low, setLow] = useState<Grade | null>(null);
  const [high, setHigh] = useState<Grade | null>(null);
  const [note, setNote] = useState<NoteText>(NO_NOTE);
  const [problem, setProblem] = useState('');
  const [failure, setFailure] = useState<ApiFailure | null>(null);
  const [isSending, setSending] = useState(false);
  if (!may('edit')) return null;
  const send = async (event: SubmitEvent): Promise<void> => {
    event.preventDefault();
    const read = readNote(note, new Date());
    if (low === null) return setProblem(RESULT_PAGE_EN.gradeMissing);
    if (typeof read === 'string') return setProblem(read);
    setProblem('');
    setSending(true);
    const answer = await giveGrade({ of, low, high: high ?? low, ...read });
    setSending(false);
    setFailure(answer.ok ? null : answer.failure);
    if (!answer.ok) return;
    setLow(null);
    setHigh(null);
  };
  const pick = (grade: Grade): void => {
    setLow(grade);
    if (high !== null && high < grade) setHigh(null);
  };
  const form = (
    <form class="grade" onSubmit={(e) => void send(e)} noValidate>
      <Scale name="low" legend={RESULT_PAGE_EN.gradeLegend} value={low} onPick={pick} least={0} />
      {low !== null && low < 4 && <Scale name="high" legend={RESULT_PAGE_EN.gradeHigh} value={high} onPick={(g) => setHigh(g === high ? null : g)} least={low + 1} canClear onClear={() => setHigh(null)} />}
      <div class="row">
        <label class="inline">{RESULT_PAGE_EN.gradeOf}{' '}
          <select name="of" value={of} onChange={(e) => setOf(e.currentTarget.value as Of)}>
            {(['overall', ...WITNESS_KINDS] as const).map((each) => <option key={each} value={each}>{RESULT_SHEET_EN[`of-${each}`]}</option>)}
          </select>
        </label>
      </div>
      <NoteFields text={note} onText={setNote} />
      {problem !== '' && <p class="problem" role="alert">{problem}</p>}
      {failure && <FailureNotice failure={failure} />}
      <p><button type="submit" class="main" disabled={isSending || low === null}>{low === null ? RESULT_PAGE_EN.gradeStore : formatText(RESULT_PAGE_EN, 'gradeStoreOf', { grade: formatGradeBand([low, high ?? low]) })}</button></p>
      <p class="help">{RESULT_PAGE_EN.gradeHelp}</p>
    </form>
  );
  if (!hasGraded.value && (isReader.value || result.value?.verdict.gate.isOpen)) return <section class="own-grade" aria-labelledby="own-grade-name"><h4 id="own-grade-name">{RESULT_PAGE_EN.gradeTitle}</h4>{form}<OwnGrades /></section>;
  return (
    <section class={hasGraded.value ? 'own-grade stored' : 'own-grade'} aria-label={RESULT_PAGE_EN.gradeTitle}>
      <OwnGrades />
      <details><summary class="act">{hasGraded.value ? RESULT_PAGE_EN.gradeMore : RESULT_PAGE_EN.gradeTitle}</summary>{form}</details>
    </section>
  );
}

/** Five classes side by side, as radio buttons: the arrow keys go through them. */
function Scale({ name, legend, value, onPick, least, canClear, onClear }: { readonly name: string; readonly legend: string; readonly value: Grade | null; readonly onPick: (grade: Grade) => void; readonly least: number; readonly canClear?: boolean; readonly onClear?: () => void }) {
  return (
    <fieldset class="scale">
      <legend>{legend}</legend>
      <div class="steps">
        {canClear && <label class="step"><input type="radio" name={name} checked={value === null} onChange={onClear} /><span>{RESULT_PAGE_EN.gradeSure}</span></label>}
        {GRADES.map((grade) => (
          <label key={grade} class={grade < least ? 'step off' : 'step'}>
            <input type="radio" name={name} checked={value === grade} disabled={grade < least} onChange={() => onPick(grade)} />
            <span><b>{grade}</b> {VERDICT_EN[`grade-${grade}`]}</span>
          </label>
        ))}
      </div>
    </fieldset>
  );
}

function OwnGrades() {
  const me = session.value?.person?.personId ?? '';
  const own = result.value?.grades.filter((g) => g.by === me) ?? [];
  if (own.length === 0) return null;
  return (
    <ul class="plain">
      {own.map((g) => <li key={g.gradeId}>{formatText(RESULT_PAGE_EN, 'gradeOwn', { of: RESULT_SHEET_EN[`of-${g.of}`], grade: formatGradeBand([g.low, g.high]), at: sayMoment(g.at) })}</li>)}
    </ul>
  );
}
