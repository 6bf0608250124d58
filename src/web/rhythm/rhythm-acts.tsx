import { formatText } from '../../core/text/catalogue.ts';
import { RHYTHM_EN } from '../../core/text/rhythm-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import type { RhythmPageAnswer } from '../../formats/api/result-schemas.ts';
import { sayMoment } from '../parts/days.ts';
import { judgeNow } from './rhythm-answer.tsx';

/** Who does what until when; a list that gets shorter. */
export function RhythmActs({ here, nowMs }: { readonly here: RhythmPageAnswer; readonly nowMs: number }) {
  const { answer, next, ecgs, watch } = here;
  const acts: string[] = [];
  if (watch.lateBlock.isOnClinicList) acts.push(formatText(RHYTHM_PAGE_EN, 'actCall', { because: watch.lateBlock.because }));
  const baseline = ecgs.find((e) => e.moment === 'baseline');
  if (baseline && !baseline.entry) acts.push(formatText(RHYTHM_PAGE_EN, 'actEnter', { moment: RHYTHM_EN['moment-baseline'], until: '' }));
  if (next.moment) {
    const until = next.latestAt && judgeNow(next, nowMs) !== 'overdue' ? formatText(RHYTHM_PAGE_EN, 'actEnterUntil', { at: sayMoment(next.latestAt) }) : ` (${RHYTHM_PAGE_EN['state-overdue']})`;
    acts.push(formatText(RHYTHM_PAGE_EN, 'actEnter', { moment: RHYTHM_EN[`moment-${next.moment}`], until }));
  } else if (ecgs.every((e) => e.moment === 'baseline' || !e.entry)) acts.push(formatText(RHYTHM_PAGE_EN, 'actEnter', { moment: RHYTHM_EN['moment-post'], until: '' }));
  for (const { entry, moment } of ecgs) {
    if (entry && (entry.rhythm === null || entry.bundleBlock === null || entry.avBlock === null)) acts.push(formatText(RHYTHM_PAGE_EN, 'actWord', { moment: RHYTHM_EN[`moment-${moment}`] }));
  }
  if (watch.wire === null) acts.push(RHYTHM_PAGE_EN.actWire);
  const asked = watch.monitoredFor.find((m) => !m.isOver);
  if (asked && (watch.monitor === null || watch.monitor.value === 'none')) acts.push(formatText(RHYTHM_PAGE_EN, 'actMonitor', { says: asked.outcome.rule.says }));
  if (watch.dischargedOn === null) acts.push(RHYTHM_PAGE_EN.actDischarge);
  else if (watch.reviewOn === null) acts.push(RHYTHM_PAGE_EN.actReview);
  if (watch.lateBlock.state === 'result wanted' && watch.lateBlock.listFrom) acts.push(formatText(RHYTHM_PAGE_EN, 'actResult', { day: watch.lateBlock.listFrom }));
  const hasRules = answer.ruleSet !== null && !answer.reasons.some((r) => r.code === 'rhythm-rules-unsigned');
  return (
    <ul class="acts">{acts.map((text) => <li key={text}>{text}</li>)}{!hasRules && <li>{RHYTHM_PAGE_EN.actRules} <a href="/tables">{RHYTHM_PAGE_EN.tablesLink}</a></li>}</ul>
  );
}
