import { formatText } from '../../core/text/catalogue.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import type { Reason } from '../../core/units/fact.ts';
import { drawDoubtTag } from './draw-fact.ts';
import { escapeText } from './escape-text.ts';
import { nameFact, type NamedFact } from './list-plan-facts.ts';

/** A doubt that touches more than this is not helped by a longer list; every number carries its own reasons. */
const MOST_NAMES = 8;

export interface Doubt {
  readonly reason: Reason;
  readonly isRefusal: boolean;
  /** Names of the facts it touches; levels are joined to ranges. */
  readonly touches: readonly string[];
}

/** Reasons of doubtful and refused facts, each once, with the facts they touch. */
export function collectDoubts(facts: readonly NamedFact[]): readonly Doubt[] {
  const groups = new Map<string, { reason: Reason; isRefusal: boolean; names: string[]; heights: string[] }>();
  for (const named of facts) {
    for (const reason of named.fact.reasons) {
      const key = `${reason.code}\n${reason.text}\n${reason.next}\n${named.fact.status === 'refused'}`;
      const group = groups.get(key) ?? { reason, isRefusal: named.fact.status === 'refused', names: [], heights: [] };
      groups.set(key, group);
      if (named.path.startsWith('root.levels.')) {
        if (!group.heights.includes(named.of ?? '')) group.heights.push(named.of ?? '');
      } else group.names.push(nameFact(named));
    }
  }
  return [...groups.values()].map(({ reason, isRefusal, names, heights }) => ({
    reason, isRefusal, touches: [...names, ...nameLevels(heights)],
  }));
}

function nameLevels(heights: readonly string[]): readonly string[] {
  const [first, last] = [heights[0], heights[heights.length - 1]];
  if (first === undefined || last === undefined) return [];
  if (heights.length === 1) return [formatText(REPORT_EN, 'doubtLevel', { height: first })];
  return [formatText(REPORT_EN, 'doubtLevels', { low: first, high: last })];
}

export function drawDoubts(doubts: readonly Doubt[]): string {
  return doubts.map(({ reason, isRefusal, touches }) => {
    const tag = drawDoubtTag(isRefusal ? REPORT_EN.refused : REPORT_EN.doubtful);
    const most = touches.length > MOST_NAMES + 1 ? MOST_NAMES : touches.length;
    const names = touches.slice(0, most).join('; ');
    const list = formatText(REPORT_EN, 'doubtTouches', {
      list: most < touches.length ? formatText(REPORT_EN, 'doubtMore', { list: names, count: touches.length - most }) : names,
    });
    return `<div class="note" data-code="${escapeText(reason.code)}">${tag} <p>${escapeText(reason.text)}</p><p class="soft">${escapeText(list)}</p></div>`;
  }).join('');
}

/** A finding or message as a note of the same shape. */
export function drawNote(code: string, tag: string, text: string): string {
  return `<div class="note" data-code="${escapeText(code)}">${tag ? `${drawDoubtTag(tag)} ` : ''}<p>${escapeText(text)}</p></div>`;
}

/** What to do about a doubt, with the name of what it touches when that is one thing. */
export function nextOfDoubt(doubt: Doubt): string {
  const [only, ...more] = doubt.touches;
  if (only === undefined || more.length > 0) return doubt.reason.next;
  return formatText(REPORT_EN, 'nextFor', { what: only, next: doubt.reason.next });
}
