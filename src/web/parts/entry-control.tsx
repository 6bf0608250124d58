import type { TargetedEvent } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { NewCaseEvent } from '../../core/case/case-events.ts';
import type { EntryKind, EntryValue } from '../../core/case/entry-kinds.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import { isDate, sayMoment } from './days.ts';
import { Field } from './field.tsx';
import { nameOf } from '../state/names.ts';
import { addEvents, caseState } from '../state/open-case.ts';
import { may } from '../state/session.ts';

export interface EnteredValue {
  readonly value: string | number | boolean;
  readonly by: string;
  readonly at: string;
  readonly seq: number;
}
export interface EntryControlProps {
  readonly field: EntryKind;
  readonly label: string;
  /** As people write it; of numbers only. */
  readonly unit?: string | undefined;
  /** What the case has now; read again when the person begins to type. */
  readonly readItem: () => EnteredValue | null;
  /** Why a value cannot be taken, in words; null: it can. */
  readonly check: (value: EntryValue) => string | null;
  readonly makeEvent: (value: EntryValue) => NewCaseEvent;
  /** Word of a choice. */
  readonly sayChoice?: (choice: string) => string;
  /** Said beside the value, also where a screen is not seen: what disagrees with it. */
  readonly remark?: string | undefined;
  readonly isLocked?: boolean;
  /** Stands in the empty control. */
  readonly suggested?: string | undefined;
  /** Said to who cannot see the row that the control stands in. */
  readonly about?: string | undefined;
}
/** Longer texts have room for lines. */
const MOST_OF_LINE = 120;

/** Text of a control to what it means; an empty one takes the entry back. A comma is a decimal point. */
function readText(field: EntryKind, text: string): EntryValue {
  const plain = text.trim();
  if (plain === '') return null;
  if (field.kind === 'number') return Number(plain.replace(',', '.').replace('\u2212', '-'));
  return field.kind === 'yes-no' ? plain === 'yes' : plain;
}
const writeText = (value: EntryValue): string => (value === null ? '' : typeof value === 'boolean' ? (value ? 'yes' : 'no') : String(value));

/** One entry of a case: stored when the person leaves the control, with who and when as its tooltip; an empty one takes it back. Its unit stands beside it. */
export function EntryControl({ field, label, readItem, check, makeEvent, sayChoice = (c) => c, remark, isLocked = false, unit, suggested, about }: EntryControlProps) {
  const item = readItem();
  const stored = writeText(item?.value ?? null);
  const [text, setText] = useState(stored);
  const [problem, setProblem] = useState<string | undefined>(undefined);
  // What the person saw when they began to type: news of the case neither write over it nor are written over unseen.
  const begun = useRef<{ readonly itemSeq: number; readonly caseSeq: number } | null>(null);
  const storedNow = useRef(stored);
  storedNow.current = stored;
  useEffect(() => {
    if (!begun.current) setText(stored);
  }, [stored]);
  const see = () => ({ itemSeq: readItem()?.seq ?? 0, caseSeq: caseState.peek()?.seq ?? 0 });
  const finish = (typed: string): void => {
    const from = begun.current;
    begun.current = null;
    const value = readText(field, typed);
    const wrong = check(value) ?? (field.kind === 'date' && typeof value === 'string' && !isDate(value) ? REFERRAL_EN['problem-not-a-date'] : null);
    setProblem(wrong ?? undefined);
    if (wrong !== null || value === (item?.value ?? null)) return;
    const isOlder = from !== null && from.itemSeq !== (item?.seq ?? 0);
    void addEvents([{ ...makeEvent(value), supersedes: item?.seq ?? null }], isOlder ? from.caseSeq : undefined).then((answer) => {
      if (!answer.ok && answer.failure.code === 'case-changed') setText(storedNow.current); // theirs stands; the notice holds one's own
      if (answer.ok && begun.current) begun.current = see(); // typing went on while it was stored
    });
  };
  const type = (e: TargetedEvent<HTMLInputElement | HTMLTextAreaElement>): void => {
    begun.current ??= see();
    setText(e.currentTarget.value);
  };
  const title = item ? formatText(REFERRAL_EN, 'enteredBy', { who: nameOf(item.by), at: sayMoment(item.at) }) : REFERRAL_EN.nobodyYet;
  return (
    <Field label={label} problem={problem ?? remark} unit={unit}>
      {(p) => {
        const common = { ...p, title, disabled: !may('edit') || isLocked, ...(about === undefined ? {} : { 'aria-label': `${label}: ${about}` }) };
        if (field.kind === 'choice' || field.kind === 'yes-no') {
          const choices = field.kind === 'choice' ? field.choices.map((c) => [c, sayChoice(c)] as const) : ([['yes', REFERRAL_EN.yes], ['no', REFERRAL_EN.no]] as const);
          return (
            <select {...common} value={text} onChange={(e) => { setText(e.currentTarget.value); finish(e.currentTarget.value); }}>
              <option value="">{REFERRAL_EN.choiceNone}</option>
              {choices.map(([value, word]) => <option key={value} value={value}>{word}</option>)}
            </select>
          );
        }
        const handlers = { value: text, autocomplete: 'off', spellcheck: false, onInput: type, onBlur: (e: TargetedEvent<HTMLInputElement | HTMLTextAreaElement>) => finish(e.currentTarget.value) };
        if (field.kind === 'text' && field.most > MOST_OF_LINE) return <textarea {...common} {...handlers} rows={3} maxLength={field.most} />;
        const onKeyDown = (e: TargetedEvent<HTMLInputElement, KeyboardEvent>): void => { if (e.key === 'Enter') finish(e.currentTarget.value); };
        // Not the browser's date control: its order of day and month is that of the machine, and 03/02 reads as two days.
        if (field.kind === 'date') return <input {...common} {...handlers} class="short" inputMode="numeric" placeholder={REFERRAL_EN.dateForm} maxLength={10} onKeyDown={onKeyDown} />;
        if (field.kind === 'number') return <input {...common} {...handlers} class="short" inputMode="decimal" placeholder={suggested} onKeyDown={onKeyDown} />;
        return <input {...common} {...handlers} maxLength={field.most} placeholder={suggested} onKeyDown={onKeyDown} />;
      }}
    </Field>
  );
}
