import type { Fact } from '../../core/units/fact.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { RESULT_PAGE_EN } from '../../core/text/result-page-en.ts';
import { formatFact } from '../../formats/report/format-number.ts';
import { sayWithoutFlags } from './say-without-flags.ts';

export interface FactRow {
  readonly name: string;
  readonly fact: Fact;
}

/** Values with their intervals; a doubtful one opens to its reasons, a refused one says why and what to do. */
export function FactRows({ caption, rows }: { readonly caption: string; readonly rows: readonly FactRow[] }) {
  return (
    <table class="facts">
      <caption>{caption}</caption>
      <thead><tr><th scope="col">{REPORT_EN.columnWhat}</th><th scope="col">{REPORT_EN.columnValue}</th></tr></thead>
      <tbody>{rows.map(({ name, fact }) => <tr key={name}><th scope="row">{name}</th><td><FactValue fact={fact} /></td></tr>)}</tbody>
    </table>
  );
}

export function FactValue({ fact }: { readonly fact: Fact }) {
  const words = formatFact(fact);
  if (!words) {
    return (
      <details class="fact refused-fact">
        <summary><span class="tag">{REPORT_EN.refused}</span></summary>
        <div class="inside">{fact.reasons.map((r) => <p key={r.code}>{r.text} <span class="soft">{sayWithoutFlags(r.next)}</span></p>)}</div>
      </details>
    );
  }
  const number = <><span class="value">{words.value}</span> <span class="interval">{words.interval}</span></>;
  return (
    <details class="fact">
      <summary>{fact.status === 'doubtful' ? <><span class="doubtful">{number}</span> <span class="tag">{REPORT_EN.doubtful}</span></> : number}</summary>
      <div class="inside">
        {fact.reasons.map((r) => <p key={r.code}>{r.text} <span class="soft">{sayWithoutFlags(r.next)}</span></p>)}
        <p class="soft">{RESULT_PAGE_EN.how} {fact.source.method}</p>
      </div>
    </details>
  );
}
