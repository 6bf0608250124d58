import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import { RESULT_FIELDS, type ResultFieldId } from '../../core/verdict/result-fields.ts';
import { ResultEntry } from './result-entry.tsx';

/** Wire, monitor, discharge and review, entered where the next steps are read. */
export function WatchForm() {
  return (
    <fieldset class="entries">
      <legend>{RHYTHM_PAGE_EN.watchTitle}</legend>
      <div class="grid">{RESULT_FIELDS.filter((f) => f.group === 'watch').map((f) => <ResultEntry key={f.id} field={f} label={RHYTHM_PAGE_EN[f.id as Extract<ResultFieldId, `watch.${string}`>]} />)}</div>
    </fieldset>
  );
}
