import type { ResultDecision } from '../../core/case/result-events.ts';
import type { VerdictAnswer } from '../../core/verdict/compose-verdict.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RESULT_SHEET_EN } from '../../core/text/result-sheet-en.ts';
import { VERDICT_EN } from '../../core/text/verdict-en.ts';
import { drawList } from './draw-section.ts';
import { escapeText } from './escape-text.ts';
import { formatShortCode } from './format-code.ts';
import { drawVerdict } from './make-result-section.ts';

export interface ResultDecided {
  readonly decision: ResultDecision;
  readonly because: string;
  readonly answerSha256: string | null;
  readonly by: string;
  readonly at: string;
}
export interface ResultSheetCase {
  readonly label: string;
  /** Of the stored verdict that is printed. */
  readonly answerSha256: string;
  /** When it was shown to whoever prints it. */
  readonly shownAt: string;
  readonly readers: readonly string[];
  readonly decided: readonly ResultDecided[];
  readonly nameOf: (personId: string) => string;
}
/** The result for paper, as HTML in the four parts of every page. Plain data: it goes to a thread. */
export interface ResultSheet {
  readonly title: string;
  readonly about: string;
  readonly answer: string;
  readonly why: string;
  readonly doubt: string;
  readonly next: string;
  readonly madeAt: string;
  readonly isTraining: boolean;
}

/** "2026-03-02 10:14:00 UTC": paper has no time zone of its own. */
const formatUtc = (at: string): string => `${at.slice(0, 10)} ${at.slice(11, 19)} UTC`;

/** A verdict that was shown, with what was decided over it; null: it is hidden, and nothing of it goes on paper. */
export function makeResultSheet(verdict: VerdictAnswer, about: ResultSheetCase): ResultSheet | null {
  const { nameOf } = about;
  const drawn = drawVerdict(verdict, [], { id: 'print-bars', nameOf, formatTime: formatUtc });
  if (drawn === null) return null;
  const decided = about.decided.map((d) => {
    const what = d.decision === 'finish' ? RESULT_SHEET_EN['decision-finish'] : VERDICT_EN[`remedy-${d.decision}`];
    const said = formatText(RESULT_SHEET_EN, 'decision', { what, who: nameOf(d.by), at: formatUtc(d.at), because: d.because });
    return d.answerSha256 === null ? `${said} ${RESULT_SHEET_EN.decisionUnseen}` : d.answerSha256 === about.answerSha256 ? said : `${said} ${RESULT_SHEET_EN.decisionOther}`;
  });
  return {
    title: RESULT_SHEET_EN.title, madeAt: verdict.at, isTraining: verdict.isTraining,
    about: formatText(RESULT_SHEET_EN, 'ofCase', { label: about.label, at: formatUtc(verdict.at), code: formatShortCode(about.answerSha256) }),
    answer: `<p class="word">${escapeText(drawn.heading)}</p><p class="say">${escapeText(drawn.say)}</p><p>${escapeText(verdict.next)}</p><p class="soft">${escapeText(`${formatText(RESULT_SHEET_EN, 'readersWere', { list: about.readers.map(nameOf).join(', ') || '–' })} ${formatText(RESULT_SHEET_EN, 'shownAt', { at: formatUtc(about.shownAt) })}`)}</p>`,
    why: drawn.bars + drawn.witnesses + drawn.remedies + drawn.diastole + drawn.sites + `<p>${escapeText(`${verdict.waiting.because} ${verdict.waiting.expected}`)}</p>`,
    doubt: drawn.doubt,
    next: `<p><b>${escapeText(RESULT_SHEET_EN.settleTitle)}</b></p>${drawn.settling}<p><b>${escapeText(RESULT_SHEET_EN.decisionTitle)}</b></p>${decided.length === 0 ? `<p>${escapeText(RESULT_SHEET_EN.decisionNone)}</p>` : drawList('plain', decided)}`,
  };
}
