import { RHYTHM_EN } from '../../core/text/rhythm-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import { RESULT_FIELDS, type ResultFieldId } from '../../core/verdict/result-fields.ts';
import { subtractBands } from '../../core/rhythm/judge-condition.ts';
import type { Fact } from '../../core/units/fact.ts';
import type { RhythmPageAnswer } from '../../formats/api/result-schemas.ts';
import { formatFact, isAnswered } from '../../formats/report/format-number.ts';
import { sayMoment } from '../parts/days.ts';
import { ResultEntry } from './result-entry.tsx';

/** What plan and room know that bears on conduction: depth against septum, calcium, device; and what a person says beside it. */
export function ContextFacts({ here: { context, releasedAt } }: { readonly here: RhythmPageAnswer }) {
  const { implantDepthMm: depth, septumLengthMm: septum } = context;
  const over: Fact | null = depth && septum && isAnswered(depth) && isAnswered(septum) ? { ...depth, ...subtractBands(depth, septum) } : null;
  const rows: readonly (readonly [string, Fact | string | null])[] = [
    [RHYTHM_PAGE_EN.factRelease, releasedAt && sayMoment(releasedAt)],
    [RHYTHM_PAGE_EN.factDevice, context.deviceKind && RHYTHM_PAGE_EN[`device-${context.deviceKind}`]],
    [RHYTHM_PAGE_EN.factDepth, depth], [RHYTHM_PAGE_EN.factSeptum, septum], [RHYTHM_PAGE_EN.factOver, over],
    [RHYTHM_PAGE_EN.factRatio, context.prosthesisOverOutflow], [RHYTHM_PAGE_EN.factCalcium, context.subCuspCalciumMm3],
    [RHYTHM_PAGE_EN.factDilated, context.dilated === 'yes' ? RHYTHM_PAGE_EN.dilatedYes : null],
  ];
  return (
    <section aria-labelledby="rhythm-facts-name">
      <h3 id="rhythm-facts-name">{RHYTHM_PAGE_EN.factsTitle}</h3>
      <dl class="rhythm-watch facts-list">{rows.map(([name, value]) => <div key={name}><dt>{name}</dt><dd><Value value={value} /></dd></div>)}</dl>
      <fieldset class="entries">
        <legend>{RHYTHM_PAGE_EN.predictorEntries}</legend>
        <div class="grid">{RESULT_FIELDS.filter((f) => f.group === 'rhythm').map((f) => <ResultEntry key={f.id} field={f} label={RHYTHM_PAGE_EN[f.id as Extract<ResultFieldId, `rhythm.${string}`>]} />)}</div>
      </fieldset>
    </section>
  );
}

function Value({ value }: { readonly value: Fact | string | null }) {
  if (typeof value === 'string') return <>{value}</>;
  const words = value && formatFact(value);
  if (words) return <><span class="value">{words.value}</span> <span class="interval">{words.interval}</span></>;
  return <><span class="tag">{RHYTHM_EN['truth-unknown']}</span>{value?.reasons[0] && <span class="soft"> {value.reasons[0].text}</span>}</>;
}
