import { useEffect, useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import { callApi, type ApiAnswer } from '../api/call-api.ts';
import { Field } from '../parts/field.tsx';
import { addEvents, caseState } from '../state/open-case.ts';
import { may } from '../state/session.ts';

/** Which signed rhythm rules act in this case. */
export function RhythmRulesChoice() {
  const state = caseState.value;
  const [tables, setTables] = useState<ApiAnswer<'listTables'>>([]);
  useEffect(() => void callApi('listTables').then((answer) => answer.ok && setTables(answer.value)), []);
  if (!state) return null;
  const choose = (rhythmSha256: string | null): void => void addEvents([{ kind: 'tables.chosen', data: { ...state.tables, rhythmSha256 } }]);
  return (
    <Field label={RHYTHM_PAGE_EN.chooseRules}>
      {(p) => (
        <select {...p} disabled={!may('edit')} value={state.tables.rhythmSha256 ?? ''} onChange={(e) => choose(e.currentTarget.value || null)}>
          <option value="">{state.training ? RHYTHM_PAGE_EN.chooseTraining : RHYTHM_PAGE_EN.chooseNone}</option>
          {tables.filter((t) => t.kind === 'rhythm-rules' && t.isSigned && !t.training).map((t) => <option key={t.sha256} value={t.sha256}>{formatText(DESK_EN, 'tableLine', { hospital: t.hospital, by: t.signedBy, at: t.signedAt.slice(0, 10) })}</option>)}
        </select>
      )}
    </Field>
  );
}
