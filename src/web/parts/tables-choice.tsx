import { useEffect, useState } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { callApi, type ApiAnswer } from '../api/call-api.ts';
import { addAndPlan, addEvents, caseState } from '../state/open-case.ts';
import { RhythmRulesChoice } from '../rhythm/rules-choice.tsx';
import { Field } from './field.tsx';

type TableLine = ApiAnswer<'listTables'>[number];

/** Which device table and which rules this case is planned with. */
export function TablesChoice() {
  const state = caseState.value;
  const [tables, setTables] = useState<readonly TableLine[]>([]);
  useEffect(() => void callApi('listTables').then((answer) => answer.ok && setTables(answer.value)), []);
  if (!state) return null;
  const event = (change: Partial<typeof state.tables>) => ({ kind: 'tables.chosen', data: { ...state.tables, ...change } }) as const;
  const choose = (change: Partial<typeof state.tables>): void => void addAndPlan([event(change)]);
  const select = (kind: 'devices' | 'rules' | 'rescue', value: string | null, onChoose: (sha256: string | null) => void) => (
    <Field label={kind === 'devices' ? DESK_EN.chooseDevices : kind === 'rules' ? DESK_EN.chooseRules : DESK_EN.chooseRescue}>
      {(p) => (
        <select {...p} value={value ?? ''} onChange={(e) => onChoose(e.currentTarget.value || null)}>
          <option value="">{kind === 'rescue' ? DESK_EN.chooseCommon : DESK_EN.chooseTraining}</option>
          {tables.filter((t) => t.kind === kind && t.isSigned && !t.training).map((t) => <option key={t.sha256} value={t.sha256}>{formatText(DESK_EN, 'tableLine', { hospital: t.hospital, by: t.signedBy, at: t.signedAt.slice(0, 10) })}</option>)}
        </select>
      )}
    </Field>
  );
  return (
    <form class="row">
      {select('devices', state.tables.devicesSha256, (devicesSha256) => choose({ devicesSha256 }))}
      {select('rules', state.tables.rulesSha256, (rulesSha256) => choose({ rulesSha256 }))}
      {select('rescue', state.tables.rescueSha256 ?? null, (rescueSha256) => void addEvents([event({ rescueSha256 })]))}
      <RhythmRulesChoice />
    </form>
  );
}
