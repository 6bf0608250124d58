import { useEffect, useState } from 'preact/hooks';
import type { EntryProblem, EntryValue as Value } from '../../core/case/entry-kinds.ts';
import { checkEntry, type ReferralField } from '../../core/patient/referral-fields.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import { formatNumber } from '../../formats/report/format-number.ts';
import { addEvents, caseState } from '../state/open-case.ts';
import { may } from '../state/session.ts';
import { isDate } from './days.ts';
import { EntryControl } from './entry-control.tsx';
import { Field } from './field.tsx';

const unitOf = (unit: string): string => REFERRAL_EN[`unit-${unit}` as keyof typeof REFERRAL_EN] ?? unit;
const wordOf = (value: string): string => REFERRAL_EN[`choice-${value}` as keyof typeof REFERRAL_EN] ?? value;

/** One entry of the referral. */
export function EntryField({ field, label }: { readonly field: ReferralField; readonly label: string }) {
  return (
    <EntryControl
      field={field} label={label} unit={field.kind === 'number' ? unitOf(field.unit) : undefined} sayChoice={wordOf}
      readItem={() => caseState.value?.referral[field.id] ?? null}
      check={(value) => {
        const wrong = checkEntry(field.id, value);
        return wrong === null ? null : sayProblem(field, wrong, value);
      }}
      makeEvent={(value) => ({ kind: 'referral.entered', data: { field: field.id, value, unit: field.kind === 'number' ? field.unit : null } })}
    />
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
