import { formatText } from '../../core/text/catalogue.ts';
import { FACT_MEANINGS_EN } from '../../core/text/facts-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import type { Fact, Reason } from '../../core/units/fact.ts';
import { escapeText } from './escape-text.ts';
import { formatFact, formatHeightFact, type FactWords } from './format-number.ts';
import { HEIGHT_KEYS, type NamedFact } from './list-plan-facts.ts';

/** Value and interval of a fact in the words that suit it; null when it was refused. */
export function wordFact(named: NamedFact): FactWords | null {
  return HEIGHT_KEYS.includes(named.key) ? formatHeightFact(named.fact) : formatFact(named.fact);
}

/**
 * A fact as HTML: the number opens to its meaning, source and reasons; a refused fact says so, why and what to do,
 * and shows no number.
 */
export function drawFact(named: NamedFact): string {
  const words = wordFact(named);
  const path = `data-path="${escapeText(named.path)}"`;
  if (!words) return `<div class="refused" ${path}>${drawRefusal(named.fact)}</div>`;
  const reasons = named.fact.reasons.map(drawReason).join('');
  return (
    `<details class="fact" ${path}><summary>${drawWords(named.fact, words)}</summary>` +
    `<div class="inside"><p>${escapeText(FACT_MEANINGS_EN[named.key])}</p>${reasons}<p class="soft">${drawSource(named.fact)}</p></div></details>`
  );
}

/** Value, interval and, where it is due, the mark of doubt. */
export function drawWords(fact: Fact, words: FactWords): string {
  const number = `<span class="value">${escapeText(words.value)}</span> <span class="interval">${escapeText(words.interval)}</span>`;
  return fact.status === 'doubtful' ? `<span class="doubtful">${number}</span> ${drawDoubtTag(REPORT_EN.doubtful)}` : number;
}

export function drawDoubtTag(text: string): string {
  return `<span class="tag">${escapeText(text)}</span>`;
}

/** "not measured", then each reason with what to do. */
export function drawRefusal(fact: Fact): string {
  return `${drawDoubtTag(REPORT_EN.refused)} ${fact.reasons.map(drawReason).join('')}`;
}

export function drawReason(reason: Reason): string {
  const next = formatText(REPORT_EN, 'nextStep', { next: reason.next });
  return `<p class="reason">${escapeText(reason.text)} <span class="soft">${escapeText(next)}</span></p>`;
}

const SOURCE_KEYS = {
  computed: 'sourceComputed', entered: 'sourceEntered', edited: 'sourceEdited', imported: 'sourceImported',
} as const;

export function drawSource(fact: Fact): string {
  const { kind, method, by, from } = fact.source;
  const list = from.length > 0 ? formatText(REPORT_EN, 'sourceFrom', { list: from.join(', ') }) : '';
  return escapeText(formatText(REPORT_EN, SOURCE_KEYS[kind] ?? 'sourceComputed', { method, by, from: list }));
}
