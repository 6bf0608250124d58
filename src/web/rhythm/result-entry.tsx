import type { TargetedEvent } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { EntryValue as Value } from '../../core/case/entry-kinds.ts';
import { checkResultEntry, type ResultField } from '../../core/verdict/result-fields.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import { isDate, sayMoment } from '../parts/days.ts';
import { Field } from '../parts/field.tsx';
import { nameOf } from '../state/names.ts';
import { addEvents, caseState } from '../state/open-case.ts';
import { may } from '../state/session.ts';

const wordOf = (value: string): string => RHYTHM_PAGE_EN[`choice-${value}` as keyof typeof RHYTHM_PAGE_EN] ?? value;
const writeText = (value: Value): string => (value === null ? '' : typeof value === 'boolean' ? (value ? 'yes' : 'no') : String(value));
function readText(field: ResultField, text: string): Value {
  const plain = text.trim();
  if (plain === '') return null;
  return field.kind === 'yes-no' ? plain === 'yes' : field.kind === 'number' ? Number(plain.replace(',', '.')) : plain;
}

/** One item of the watch: stored when the person leaves the control; an empty one takes it back. */
export function ResultEntry({ field, label }: { readonly field: ResultField; readonly label: string }) {
  const item = caseState.value?.result.entries[field.id] ?? null;
  const stored = writeText(item?.value ?? null);
  const [text, setText] = useState(stored);
  const [problem, setProblem] = useState<string | undefined>(undefined);
  // What the person saw when they began to type: news neither write over it nor are written over unseen.
  const begun = useRef<{ readonly itemSeq: number; readonly caseSeq: number } | null>(null);
  const storedNow = useRef(stored);
  storedNow.current = stored;
  useEffect(() => {
    if (!begun.current) setText(stored);
  }, [stored]);
  const finish = (typed: string): void => {
    const from = begun.current;
    begun.current = null;
    const value = readText(field, typed);
    const isWrong = checkResultEntry(field.id, value) !== null || (field.kind === 'date' && typeof value === 'string' && !isDate(value));
    setProblem(isWrong ? (field.kind === 'date' ? REFERRAL_EN['problem-not-a-date'] : REFERRAL_EN['problem-too-long']) : undefined);
    if (isWrong || value === (item?.value ?? null)) return;
    const isOlder = from !== null && from.itemSeq !== (item?.seq ?? 0);
    void addEvents([{ kind: 'result.entered', data: { field: field.id, value }, supersedes: item?.seq ?? null }], isOlder ? from.caseSeq : undefined).then((answer) => {
      if (!answer.ok && answer.failure.code === 'case-changed') setText(storedNow.current);
    });
  };
  const type = (e: TargetedEvent<HTMLInputElement>): void => {
    begun.current ??= { itemSeq: item?.seq ?? 0, caseSeq: caseState.peek()?.seq ?? 0 };
    setText(e.currentTarget.value);
  };
  const title = item ? formatText(REFERRAL_EN, 'enteredBy', { who: nameOf(item.by), at: sayMoment(item.at) }) : REFERRAL_EN.nobodyYet;
  return (
    <Field label={label} problem={problem}>
      {(p) => {
        const common = { ...p, title, disabled: !may('edit') };
        if (field.kind === 'choice' || field.kind === 'yes-no') {
          const choices = field.kind === 'choice' ? field.choices : ['yes', 'no'];
          return (
            <select {...common} value={text} onChange={(e) => { setText(e.currentTarget.value); finish(e.currentTarget.value); }}>
              <option value="">{REFERRAL_EN.choiceNone}</option>
              {choices.map((c) => <option key={c} value={c}>{wordOf(c)}</option>)}
            </select>
          );
        }
        return (
          <input
            {...common} value={text} onInput={type} onBlur={(e) => finish(e.currentTarget.value)} autocomplete="off" spellcheck={false}
            onKeyDown={(e) => { if (e.key === 'Enter') finish(e.currentTarget.value); }}
            {...(field.kind === 'date' ? { class: 'short', inputMode: 'numeric' as const, placeholder: REFERRAL_EN.dateForm, maxLength: 10 } : field.kind === 'text' ? { maxLength: field.most } : {})}
          />
        );
      }}
    </Field>
  );
}
