import { HOUSE_EN } from '../../core/text/house-en.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { escapeText } from './escape-text.ts';

/** One page of a plan: the four parts in their fixed order, each as HTML. */
export interface PageSection {
  /** Also the anchor on the case line. */
  readonly id: string;
  readonly title: string;
  readonly answer: string;
  readonly why: string;
  readonly doubt: string;
  readonly next: string;
}

export function drawSection(section: PageSection): string {
  const part = (kind: 'answer' | 'why' | 'doubt' | 'next'): string =>
    `<div class="part ${kind}"><h3>${escapeText(REPORT_EN[kind])}</h3><div class="body">${section[kind]}</div></div>`;
  return (
    `<section class="page" id="${section.id}" aria-labelledby="${section.id}-name"><h2 id="${section.id}-name">${escapeText(section.title)}</h2>` +
    part('answer') + part('why') + part('doubt') + part('next') +
    `<p class="caution">${escapeText(HOUSE_EN.caution)}</p></section>`
  );
}

/** A list of sentences; each said once. */
export function drawList(kind: string, sentences: readonly string[]): string {
  const once = [...new Set(sentences.filter((s) => s !== ''))];
  return `<ul class="${kind}">${once.map((s) => `<li>${escapeText(s)}</li>`).join('')}</ul>`;
}

/** A picture with its caption; `isWide` ones scroll sideways by themselves on a narrow page. */
export function drawFigure(kind: string, title: string, caption: string, svg: string): string {
  const name = escapeText(title);
  const inner = kind.includes('wide') ? `<div class="scroll" tabindex="0" role="region" aria-label="${name}">${svg}</div>` : svg;
  return `<figure class="${kind}"><figcaption><b>${name}.</b> ${escapeText(caption)}</figcaption>${inner}</figure>`;
}
