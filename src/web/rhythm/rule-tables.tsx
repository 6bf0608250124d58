import type { RhythmRuleKind, RuleOutcome } from '../../core/rhythm/rhythm-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { citeSource } from '../../core/text/cite-source.ts';
import { RHYTHM_EN } from '../../core/text/rhythm-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import type { RhythmPageAnswer } from '../../formats/api/result-schemas.ts';

/** Every rule of the set that was asked, with its truth in words and where it comes from. */
export function RuleTables({ answer }: { readonly answer: RhythmPageAnswer['answer'] }) {
  const groups: readonly (readonly [RhythmRuleKind, readonly RuleOutcome[]])[] = [['change', answer.changes], ['finding', answer.findings], ['step', answer.steps], ['predictor', answer.predictors], ['watch', answer.watches]];
  const shown = groups.filter(([, outcomes]) => outcomes.length > 0);
  if (shown.length === 0) return null;
  return (
    <section aria-labelledby="rhythm-rules-name">
      <h3 id="rhythm-rules-name">{RHYTHM_PAGE_EN.rulesTitle}</h3>
      {shown.map(([kind, outcomes]) => (
        <details key={kind} class="rule-group" open={kind === 'change'}>
          <summary class="act">{RHYTHM_PAGE_EN[`kind-${kind}`]} <span class="soft">({count(outcomes)})</span></summary>
          <table class="facts stacked rules">
            <caption class="hidden">{RHYTHM_PAGE_EN[`kind-${kind}`]}</caption>
            <thead><tr>{[RHYTHM_PAGE_EN.columnRule, RHYTHM_PAGE_EN.columnTruth, RHYTHM_PAGE_EN.columnWhy, RHYTHM_PAGE_EN.columnSource].map((h) => <th key={h} scope="col">{h}</th>)}</tr></thead>
            <tbody>{outcomes.map((o) => <Row key={o.rule.code} outcome={o} />)}</tbody>
          </table>
        </details>
      ))}
    </section>
  );
}

/** How many hold, are not known, and do not hold. */
function count(outcomes: readonly RuleOutcome[]): string {
  const of = (truth: RuleOutcome['truth']): number => outcomes.filter((o) => o.truth === truth).length;
  const [yes, unknown, all] = [of('yes'), of('unknown'), outcomes.length];
  return unknown > 0 ? formatText(RHYTHM_PAGE_EN, 'countUnknown', { yes, unknown, all }) : formatText(RHYTHM_PAGE_EN, 'countKnown', { yes, all });
}

function Row({ outcome: { rule, truth, legs, isUnverified } }: { readonly outcome: RuleOutcome }) {
  const word = RHYTHM_EN[`truth-${truth}`];
  return (
    <tr>
      <th scope="row">{rule.says}<span class="note-line">{rule.code}</span></th>
      <td data-name={RHYTHM_PAGE_EN.columnTruth}>{truth === 'yes' ? <b class="settled">{word}</b> : truth === 'unknown' ? <b class="tag">{word}</b> : word}</td>
      <td data-name={RHYTHM_PAGE_EN.columnWhy}>{[...new Set(legs.map((l) => l.text))].map((text) => <span key={text} class="leg">{text}</span>)}</td>
      <td class="soft" data-name={RHYTHM_PAGE_EN.columnSource}>{citeSource(rule.source)}{rule.edition !== '-' && `, ${rule.edition}`}; {RHYTHM_EN[`status-${rule.status}`] === RHYTHM_PAGE_EN.unverified || isUnverified ? <span class="tag">{RHYTHM_PAGE_EN.unverified}</span> : RHYTHM_EN[`status-${rule.status}`]}</td>
    </tr>
  );
}
