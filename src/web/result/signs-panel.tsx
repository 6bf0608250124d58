import { RESULT_FIELDS, checkResultEntry, type ResultField, type ResultGroup } from '../../core/verdict/result-fields.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REFERRAL_EN } from '../../core/text/referral-en.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { caseState } from '../state/open-case.ts';
import { EntryControl } from '../parts/entry-control.tsx';
import { sayUnit } from './say-unit.ts';

const GROUPS: readonly ResultGroup[] = ['signs', 'circulation', 'breathing'];

/** What persons in the room see and know; what nobody said stays "not known" in every table. */
export function SignsPanel() {
  if (!caseState.value) return null;
  return (
    <section class="witness-panel entries" id="result-signs" aria-labelledby="signs-name">
      <h4 id="signs-name">{RESULT_PAGE_EN.signsTitle}</h4>
      <p class="help">{RESULT_PAGE_EN.signsHelp}</p>
      {GROUPS.map((group) => (
        <fieldset key={group}>
          <legend>{RESULT_PAGE_EN[`group-${group as 'signs' | 'circulation' | 'breathing'}`]}</legend>
          <div class="grid">{RESULT_FIELDS.filter((f) => f.group === group).map((field) => <div key={field.id}><SignEntry field={field} /></div>)}</div>
        </fieldset>
      ))}
    </section>
  );
}

function SignEntry({ field }: { readonly field: ResultField }) {
  return (
    <EntryControl
      field={field} label={RESULT_PAGE_EN[field.id as 'signs.leakPlace']} unit={field.kind === 'number' ? sayUnit(field.unit) : undefined}
      readItem={() => caseState.value?.result.entries[field.id] ?? null}
      check={(value) => {
        const wrong = checkResultEntry(field.id, value);
        if (wrong === null) return null;
        return field.kind === 'number' && wrong === 'out-of-bounds' ? formatText(REFERRAL_EN, 'problem-out-of-bounds', { low: field.low, high: field.high, unit: sayUnit(field.unit) }) : formatText(REFERRAL_EN, `problem-${wrong}` as 'problem-not-a-number');
      }}
      makeEvent={(value) => ({ kind: 'result.entered', data: { field: field.id, value } })}
    />
  );
}
