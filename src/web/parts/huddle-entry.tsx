import type { TargetedEvent } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { EntryValue as Value } from '../../core/case/entry-kinds.ts';
import { checkHuddleEntry, type HuddleField } from '../../core/room/huddle-fields.ts';
import { nameField } from '../../core/room/list-blockers.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { FREEZE_EN } from '../../core/text/freeze-en.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import { addEvents, caseState } from '../state/open-case.ts';
import { nameOf } from '../state/names.ts';
import { may } from '../state/session.ts';
import { isDate, sayMoment } from './days.ts';
import { Field } from './field.tsx';

const wordOf = (value: string): string => FREEZE_EN[`choice-${value}` as keyof typeof FREEZE_EN] ?? value;

function readText(field: HuddleField, text: string): Value {
  const plain = text.trim();
  if (plain === '') return null;
  if (field.kind === 'number') return Number(plain.replace(',', '.'));
  if (field.kind === 'yes-no') return plain === 'yes';
  return plain;
}
const writeText = (value: Value): string => (value === null ? '' : typeof value === 'boolean' ? (value ? 'yes' : 'no') : String(value));

/** One entry of the huddle: stored when the person leaves the control; an empty one takes it back. `suggested` stands in the empty control, `about` is said to who cannot see the row. */
export function HuddleEntry({ field, label = nameField(field.id), suggested, about }: { readonly field: HuddleField; readonly label?: string; readonly suggested?: string | undefined; readonly about?: string | undefined }) {
  const item = caseState.value?.huddle[field.id] ?? null;
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
  const see = () => ({ itemSeq: caseState.peek()?.huddle[field.id]?.seq ?? 0, caseSeq: caseState.peek()?.seq ?? 0 });
  const finish = (typed: string): void => {
    const from = begun.current;
    begun.current = null;
    const value = readText(field, typed);
    const wrong = checkHuddleEntry(field.id, value) ?? (field.kind === 'date' && typeof value === 'string' && !isDate(value) ? 'not-a-date' : null);
    setProblem(wrong ? sayProblem(field) : undefined);
    if (wrong || value === (item?.value ?? null)) return;
    const isOlder = from !== null && from.itemSeq !== (item?.seq ?? 0);
    void addEvents([{ kind: 'huddle.entered', data: { field: field.id, value }, supersedes: item?.seq ?? null }], isOlder ? from.caseSeq : undefined).then((answer) => {
      if (!answer.ok && answer.failure.code === 'case-changed') setText(storedNow.current);
      if (answer.ok && begun.current) begun.current = see(); // typing went on while it was stored
    });
  };
  const type = (e: TargetedEvent<HTMLInputElement | HTMLTextAreaElement>): void => {
    begun.current ??= see();
    setText(e.currentTarget.value);
  };
  const title = item ? formatText(REFERRAL_EN, 'enteredBy', { who: nameOf(item.by), at: sayMoment(item.at) }) : REFERRAL_EN.nobodyYet;
  const isMissing = field.isNeeded && item === null;
  return (
    <Field label={isMissing ? `${label} ${FREEZE_EN.neededMark}` : label} problem={problem} unit={field.kind === 'number' ? field.unit : undefined}>
      {(p) => {
        const common = { ...p, title, disabled: !may('edit'), ...(about === undefined ? {} : { 'aria-label': `${label}: ${about}` }) };
        if (field.kind === 'choice' || field.kind === 'yes-no') {
          const choices = field.kind === 'choice' ? field.choices.map((c) => [c, wordOf(c)] as const) : ([['yes', REFERRAL_EN.yes], ['no', REFERRAL_EN.no]] as const);
          return (
            <select {...common} value={text} onChange={(e) => { setText(e.currentTarget.value); finish(e.currentTarget.value); }}>
              <option value="">{REFERRAL_EN.choiceNone}</option>
              {choices.map(([value, word]) => <option key={value} value={value}>{word}</option>)}
            </select>
          );
        }
        const handlers = { value: text, onInput: type, onBlur: (e: TargetedEvent<HTMLInputElement | HTMLTextAreaElement>) => finish(e.currentTarget.value), autocomplete: 'off', spellcheck: false };
        if (field.kind === 'text' && field.most > 120) return <textarea {...common} {...handlers} rows={2} maxLength={field.most} />;
        if (field.kind === 'date') return <input {...common} {...handlers} class="short" inputMode="numeric" placeholder={REFERRAL_EN.dateForm} maxLength={10} />;
        const onKeyDown = (e: TargetedEvent<HTMLInputElement, KeyboardEvent>): void => { if (e.key === 'Enter') finish(e.currentTarget.value); };
        if (field.kind === 'number') return <input {...common} {...handlers} class="short" inputMode="decimal" placeholder={suggested} onKeyDown={onKeyDown} />;
        return <input {...common} {...handlers} maxLength={field.kind === 'text' ? field.most : undefined} placeholder={suggested} onKeyDown={onKeyDown} />;
      }}
    </Field>
  );
}

function sayProblem(field: HuddleField): string {
  if (field.kind === 'number') return formatText(REFERRAL_EN, 'problem-out-of-bounds', { low: field.low, high: field.high, unit: field.unit });
  return field.kind === 'date' ? REFERRAL_EN['problem-not-a-date'] : REFERRAL_EN['problem-too-long'];
}
