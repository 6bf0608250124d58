import { checkResultEntry, type ResultField } from '../../core/verdict/result-fields.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import { EntryControl } from '../parts/entry-control.tsx';
import { caseState } from '../state/open-case.ts';

const wordOf = (value: string): string => RHYTHM_PAGE_EN[`choice-${value}` as keyof typeof RHYTHM_PAGE_EN] ?? value;

/** One item of the watch. */
export function ResultEntry({ field, label }: { readonly field: ResultField; readonly label: string }) {
  return (
    <EntryControl
      field={field} label={label} sayChoice={wordOf}
      readItem={() => caseState.value?.result.entries[field.id] ?? null}
      check={(value) => (checkResultEntry(field.id, value) === null ? null : field.kind === 'date' ? REFERRAL_EN['problem-not-a-date'] : REFERRAL_EN['problem-too-long'])}
      makeEvent={(value) => ({ kind: 'result.entered', data: { field: field.id, value } })}
    />
  );
}
