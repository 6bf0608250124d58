import type { TargetedEvent } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { EntryProblem, EntryValue as Value } from '../../core/case/entry-kinds.ts';
import type { EnteredItem } from '../../core/case/fold-case.ts';
import { checkEntry, type ReferralField } from '../../core/patient/referral-fields.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { addEvents, caseState } from '../state/open-case.ts';
import { nameOf } from '../state/names.ts';
import { may } from '../state/session.ts';
import { isDate, sayMoment } from './days.ts';
import { Field } from './field.tsx';

const unitOf = (unit: string): string => REFERRAL_EN[`unit-${unit}` as keyof typeof REFERRAL_EN] ?? unit;
const wordOf = (value: string): string => REFERRAL_EN[`choice-${value}` as keyof typeof REFERRAL_EN] ?? value;

/** Text of a control to what it means; an empty one takes the entry back. A comma is a decimal point. */
function readText(field: ReferralField, text: string): Value {
  const plain = text.trim();
  if (plain === '') return null;
  if (field.kind === 'number') return Number(plain.replace(',', '.'));
  if (field.kind === 'yes-no') return plain === 'yes';
  return plain;
}
function writeText(item: EnteredItem | null): string {
  if (!item) return '';
  if (typeof item.value === 'boolean') return item.value ? 'yes' : 'no';
  return String(item.value);
}

/** One entry: stored when the person leaves the control, with who and when as its tooltip. */
export function EntryField({ field, label, item }: { readonly field: ReferralField; readonly label: string; readonly item: EnteredItem | null }) {
  const stored = writeText(item);
  const [text, setText] = useState(stored);
  const [problem, setProblem] = useState<string | undefined>(undefined);
  // Set while the person types: news of the case must not write over it, and are not written over unseen.
  const begun = useRef<{ readonly itemSeq: number; readonly caseSeq: number } | null>(null);
  const storedNow = useRef(stored);
  storedNow.current = stored;
  useEffect(() => {
    if (!begun.current) setText(stored);
  }, [stored]);
  const see = () => ({ itemSeq: caseState.peek()?.referral[field.id]?.seq ?? 0, caseSeq: caseState.peek()?.seq ?? 0 });
  const finish = (typed: string): void => {
    const from = begun.current;
    begun.current = null;
    const value = readText(field, typed);
    const wrong = checkEntry(field.id, value);
    setProblem(wrong ? sayProblem(field, wrong, value) : undefined);
    if (wrong || value === (item?.value ?? null)) return;
    const unit = field.kind === 'number' ? field.unit : null;
    const isOlder = from !== null && from.itemSeq !== (item?.seq ?? 0);
    void addEvents([{ kind: 'referral.entered', data: { field: field.id, value, unit }, supersedes: item?.seq ?? null }], isOlder ? from.caseSeq : undefined).then((answer) => {
      if (!answer.ok && answer.failure.code === 'case-changed') setText(storedNow.current); // theirs stands; the notice holds one's own
      if (answer.ok && begun.current) begun.current = see(); // typing went on while it was stored
    });
  };
  const type = (e: TargetedEvent<HTMLInputElement | HTMLTextAreaElement>): void => {
    begun.current ??= see();
    setText(e.currentTarget.value);
  };
  const about = item ? formatText(REFERRAL_EN, 'enteredBy', { who: nameOf(item.by), at: sayMoment(item.at) }) : REFERRAL_EN.nobodyYet;
  const isLong = field.kind === 'text' && field.most > 120;
  return (
    <Field label={label} problem={problem} unit={field.kind === 'number' ? unitOf(field.unit) : undefined}>
      {(p) => {
        const common = { ...p, title: about, disabled: !may('edit') };
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
        if (isLong) return <textarea {...common} {...handlers} rows={3} maxLength={field.most} />;
        // Not the browser's date control: its order of day and month is that of the machine, and 03/02 reads as two days.
        if (field.kind === 'date') return <input {...common} {...handlers} class="short" inputMode="numeric" placeholder={REFERRAL_EN.dateForm} maxLength={10} />;
        if (field.kind === 'number') return <input {...common} {...handlers} inputMode="decimal" class="short" onKeyDown={(e) => { if (e.key === 'Enter') finish(e.currentTarget.value); }} />;
        return <input {...common} {...handlers} maxLength={field.most} />;
      }}
    </Field>
  );
}

/** What is wrong, and what the person may have meant: the commonest slips are slips of unit. */
function sayProblem(field: ReferralField, problem: EntryProblem, value: Value): string {
  if (problem !== 'out-of-bounds' || field.kind !== 'number' || typeof value !== 'number') return formatText(REFERRAL_EN, `problem-${problem}` as 'problem-not-a-number');
  const bounds = formatText(REFERRAL_EN, 'problem-out-of-bounds', { low: field.low, high: field.high, unit: unitOf(field.unit) });
  const meant = (factor: number, key: 'hintCreatinine' | 'hintHeight' | 'hintHaemoglobin'): string => {
    const other = value * factor;
    return other >= field.low && other <= field.high ? `${bounds} ${formatText(REFERRAL_EN, key, { value: formatNumber(other, 0) })}` : bounds;
  };
  if (field.id === 'body.creatinineUmolPerL') return meant(88.42, 'hintCreatinine');
  if (field.id === 'body.heightCm') return meant(100, 'hintHeight');
  if (field.id === 'body.haemoglobinGPerL') return meant(10, 'hintHaemoglobin');
  return bounds;
}

export function DayEntry({ procedureOn }: { readonly procedureOn: string | null }) {
  const [text, setText] = useState(procedureOn ?? '');
  const [isWrong, setWrong] = useState(false);
  useEffect(() => setText(procedureOn ?? ''), [procedureOn]);
  const finish = (): void => {
    const next = text.trim() === '' ? null : text.trim();
    const wrong = next !== null && !isDate(next);
    setWrong(wrong);
    if (next !== procedureOn && !wrong) void addEvents([{ kind: 'case.dated', data: { procedureOn: next } }]);
  };
  return (
    <Field label={REFERRAL_EN.dayOf} problem={isWrong ? REFERRAL_EN['problem-not-a-date'] : undefined}>
      {(p) => <input {...p} class="short" inputMode="numeric" placeholder={REFERRAL_EN.dateForm} maxLength={10} disabled={!may('edit')} value={text} onInput={(e) => setText(e.currentTarget.value)} onBlur={finish} />}
    </Field>
  );
}
