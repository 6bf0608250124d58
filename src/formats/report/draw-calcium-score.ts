import type { AgatstonLikelihood, RootCalciumScore } from '../../core/root/root-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { REPORT_EN } from '../../core/text/report-en.ts';
import { drawFactTable } from './draw-tables.ts';
import { escapeText } from './escape-text.ts';
import { formatNumber } from './format-number.ts';
import type { NamedFact } from './list-plan-facts.ts';

const LIKELIHOODS = { unlikely: 'likelihoodUnlikely', grey: 'likelihoodGrey', likely: 'likelihoodLikely', 'very likely': 'likelihoodVeryLikely' } as const;

/** The Agatston score of the series beside the measured one, in a table of its own; nothing when there is none. */
export function drawCalciumScore(found: RootCalciumScore | undefined, facts: readonly NamedFact[]): string {
  if (!found) return '';
  const own = facts.filter((f) => f.path.startsWith('root.calciumScore.'));
  const lines = [...describeSeverity(found.severity), ...describeSeries(found)].map((line) => `<p class="soft">${escapeText(line)}</p>`).join('');
  return `<div class="calcium-score">${drawFactTable(REPORT_EN.scoreTitle, own)}${lines}</div>`;
}

function describeSeverity({ likelihood, couldBe, sex, threshold, reasons }: RootCalciumScore['severity']): string[] {
  if (likelihood === null || couldBe === null || threshold === null) return [formatText(REPORT_EN, 'scoreNoSeverity', { why: reasons.map((r) => `${r.text} ${r.next}`).join(' ') })];
  const word = (of: AgatstonLikelihood): string => REPORT_EN[LIKELIHOODS[of]];
  const ends = couldBe[0] === couldBe[1] ? [] : [formatText(REPORT_EN, 'scoreCouldBe', { low: word(couldBe[0]), high: word(couldBe[1]) })];
  return [
    formatText(REPORT_EN, 'scoreIs', { likelihood: word(likelihood) }), ...ends,
    formatText(REPORT_EN, 'scoreBy', {
      value: formatNumber(threshold.value, 0), sex: sex === 'F' ? REPORT_EN.scoreWomen : REPORT_EN.scoreMen, edition: threshold.edition,
      status: threshold.status === 'M' ? REPORT_EN.scoreUnverified : '',
    }),
  ];
}

function describeSeries({ series, boneShiftMm }: RootCalciumScore): string[] {
  const seen = boneShiftMm.filter((v) => v !== null);
  return [
    formatText(REPORT_EN, 'scoreSeries', {
      slices: series.slices, thickness: series.sliceThicknessMm === null ? REPORT_EN.notSaid : formatNumber(series.sliceThicknessMm, 1),
      increment: formatNumber(series.incrementMm, 1), blood: formatNumber(series.bloodHu, 0),
    }),
    ...(seen.length > 0 ? [formatText(REPORT_EN, 'scoreBone', { shift: formatNumber(Math.hypot(...seen), 1) })] : []),
    ...(seen.length < 3 ? [REPORT_EN.scoreBoneUnseen] : []),
  ];
}
