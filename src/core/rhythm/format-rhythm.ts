import { formatText } from '../text/catalogue.ts';
import { citeSource } from '../text/cite-source.ts';
import { RHYTHM_EN } from '../text/rhythm-en.ts';
import type { NextEcg, RhythmAnswer, RhythmRule, RuleOutcome } from './rhythm-types.ts';

/**
 * The answer in words, one sentence a line, in the order Answer - Why - Doubt - Next: what the rules say and why, with rule,
 * edition, source and status. What a rule says is quoted.
 */
export function formatRhythm(answer: RhythmAnswer, next: NextEcg | null = null): readonly string[] {
  const { word, moment, ruleSet } = answer;
  const lines: string[] = [moment ? formatText(RHYTHM_EN, 'lineWord', { moment: RHYTHM_EN[`moment-${moment}`], word }) : formatText(RHYTHM_EN, 'lineNoEcg', { word })];
  if (word !== 'CANNOT SAY') for (const outcome of answer.changes.filter((c) => c.truth === (word === 'unchanged' ? 'no' : 'yes'))) lines.push(...explain(outcome));
  for (const outcome of answer.findings) if (outcome.truth === 'yes') lines.push(join(formatText(RHYTHM_EN, 'lineFinding', { code: outcome.rule.code, says: outcome.rule.says }), outcome));
  // CANNOT SAY still shows which rules of change hold, should one of the ECGs be missing.
  if (word === 'CANNOT SAY') for (const outcome of answer.changes.filter((c) => c.truth === 'yes')) lines.push(...explain(outcome));
  for (const reason of answer.reasons) lines.push(`${reason.text} ${reason.next}`);
  const steps = answer.steps.filter((s) => s.truth === 'yes');
  for (const outcome of steps) lines.push(join(formatText(RHYTHM_EN, 'lineStep', { code: outcome.rule.code, says: outcome.rule.says }), outcome));
  for (const { rule, truth, legs } of answer.steps) if (truth === 'unknown') lines.push(formatText(RHYTHM_EN, 'lineStepUnknown', { code: rule.code, says: rule.says, text: legs[0]?.text ?? '' }));
  if (answer.steps.length > 0 && steps.length === 0) lines.push(RHYTHM_EN.lineNoStep);
  if (answer.predictors.length > 0) {
    lines.push(RHYTHM_EN.linePredictors);
    for (const outcome of answer.predictors) lines.push(`- ${formatText(RHYTHM_EN, 'linePredictor', { says: outcome.rule.says, truth: RHYTHM_EN[`truth-${outcome.truth}`] })}. ${cite(outcome.rule)}`);
  }
  if (next) lines.push(formatNext(next));
  if (ruleSet) {
    lines.push(formatText(RHYTHM_EN, 'lineSet', { hospital: ruleSet.hospital, edition: ruleSet.edition, by: ruleSet.signedBy, at: ruleSet.signedAt }));
    if (ruleSet.training) lines.push(RHYTHM_EN.lineTraining);
  }
  return lines;
}

/** "2026-03-03 10:00": no ECG is due to the second. */
const formatMinute = (at: string): string => at.replace('T', ' ').slice(0, 16);

/** One sentence on the next ECG. */
export function formatNext(next: NextEcg): string {
  if (next.moment === null || next.dueAt === null) return formatText(RHYTHM_EN, 'lineNextNone', { state: next.state, because: next.because });
  return formatText(RHYTHM_EN, 'lineNext', { moment: RHYTHM_EN[`moment-${next.moment}`], state: next.state, at: formatMinute(next.dueAt), because: next.because });
}

function explain(outcome: RuleOutcome): string[] {
  return outcome.legs.map((leg) => join(formatText(RHYTHM_EN, 'lineWhy', { text: leg.text }), outcome));
}
function join(text: string, { rule }: RuleOutcome): string {
  return `${text} ${cite(rule)}`;
}
function cite(rule: RhythmRule): string {
  return formatText(RHYTHM_EN, rule.edition === '-' ? 'lineRuleBare' : 'lineRule', { code: rule.code, edition: rule.edition, source: citeSource(rule.source), status: RHYTHM_EN[`status-${rule.status}`] });
}
