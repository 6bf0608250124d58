import { checkHuddleEntry, type HuddleField } from '../../core/room/huddle-fields.ts';
import { nameField } from '../../core/room/list-blockers.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { FREEZE_EN } from '../../core/text/freeze-en.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import { caseState } from '../state/open-case.ts';
import { EntryControl } from './entry-control.tsx';

const wordOf = (value: string): string => FREEZE_EN[`choice-${value}` as keyof typeof FREEZE_EN] ?? value;

/** One entry of the huddle. `suggested` stands in the empty control, `about` is said to who cannot see the row. */
export function HuddleEntry({ field, label = nameField(field.id), suggested, about }: { readonly field: HuddleField; readonly label?: string; readonly suggested?: string | undefined; readonly about?: string | undefined }) {
  const isMissing = field.isNeeded && !caseState.value?.huddle[field.id];
  return (
    <EntryControl
      field={field} label={isMissing ? `${label} ${FREEZE_EN.neededMark}` : label} unit={field.kind === 'number' ? field.unit : undefined} sayChoice={wordOf} suggested={suggested} about={about}
      readItem={() => caseState.value?.huddle[field.id] ?? null}
      check={(value) => (checkHuddleEntry(field.id, value) === null ? null : sayProblem(field))}
      makeEvent={(value) => ({ kind: 'huddle.entered', data: { field: field.id, value } })}
    />
  );
}

function sayProblem(field: HuddleField): string {
  if (field.kind === 'number') return formatText(REFERRAL_EN, 'problem-out-of-bounds', { low: field.low, high: field.high, unit: field.unit });
  return field.kind === 'date' ? REFERRAL_EN['problem-not-a-date'] : REFERRAL_EN['problem-too-long'];
}
