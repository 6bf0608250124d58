import type { ComponentChildren } from 'preact';
import type { NextEcg, RuleOutcome } from '../../core/rhythm/rhythm-types.ts';
import type { MonitorSpan } from '../../core/rhythm/watch-rhythm.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RHYTHM_EN } from '../../core/text/rhythm-en.ts';
import { RHYTHM_PAGE_EN } from '../../core/text/rhythm-page-en.ts';
import type { RhythmPageAnswer } from '../../formats/api/result-schemas.ts';
import { sayMoment } from '../parts/days.ts';
import { formatSpan } from '../room/times.ts';

/** The word, what the rules say then, wire and monitor, and when the next ECG is due. */
export function RhythmAnswerPart({ here, nowMs }: { readonly here: RhythmPageAnswer; readonly nowMs: number }) {
  const { answer, watch } = here;
  const cannot = answer.word === 'CANNOT SAY';
  const steps = answer.steps.filter((s) => s.truth === 'yes');
  const first = cannot ? (here.reasons.find((r) => r.code === 'rhythm-rules-training') ?? answer.reasons[0]) : undefined;
  return (
    <>
      <p class={cannot ? 'rhythm-word doubtful' : answer.word === 'unchanged' ? 'rhythm-word' : 'rhythm-word changed'} role="status">
        <span class="of">{answer.moment ? formatText(RHYTHM_PAGE_EN, 'wordOf', { moment: RHYTHM_EN[`moment-${answer.moment}`] }) : RHYTHM_PAGE_EN.noEcgYet}</span>{' '}
        <b>{RHYTHM_PAGE_EN[`word-${answer.word}`]}</b>
      </p>
      {first && <p>{formatText(RHYTHM_PAGE_EN, 'cannotBecause', { text: first.text })}</p>}
      {watch.lateBlock.isOnClinicList && <p class="rhythm-call"><b>{RHYTHM_PAGE_EN.onList}</b> {watch.lateBlock.because}</p>}
      {answer.moment !== null && <>
        <h4>{RHYTHM_PAGE_EN.stepsTitle}</h4>
        {steps.length === 0 && <p>{RHYTHM_PAGE_EN.noStep}</p>}
        <ul class="rhythm-steps">{steps.map((s) => <li key={s.rule.code}>{formatText(RHYTHM_PAGE_EN, 'stepQuote', { says: s.rule.says })} <RuleTag outcome={s} /></li>)}</ul>
      </>}
      <dl class="rhythm-watch">
        <Line name={RHYTHM_PAGE_EN.wire} isRule isOpen={watch.wire === null || (watch.wire.value === 'out' && watch.wireRule !== 'out' && watch.wireRule !== 'nothing')} value={watch.wire ? RHYTHM_PAGE_EN[`wireSaid-${watch.wire.value}`] : RHYTHM_PAGE_EN.wireSaidNot}>
          {RHYTHM_PAGE_EN[`wireRule-${watch.wireRule}`]}
        </Line>
        <Line name={RHYTHM_PAGE_EN.monitor} isOpen={watch.monitor === null} value={watch.monitor ? RHYTHM_PAGE_EN[`monitorSaid-${watch.monitor.value}`] : RHYTHM_PAGE_EN.monitorSaidNot}>
          {watch.monitoredFor.length === 0 ? RHYTHM_PAGE_EN.monitorNoRule : watch.monitoredFor.map(sayMonitor).join('; ')}
        </Line>
        <Line name={RHYTHM_PAGE_EN.lateBlock} isOpen={watch.lateBlock.isOnClinicList} value={RHYTHM_PAGE_EN[`late-${watch.lateBlock.state}`]}>{watch.lateBlock.because}</Line>
        <Line name={RHYTHM_PAGE_EN.discharge} isOpen={false} value={watch.dischargedOn?.value ?? RHYTHM_PAGE_EN.notEntered}>{`${RHYTHM_PAGE_EN.review}: ${watch.reviewOn?.value ?? RHYTHM_PAGE_EN.notEntered}`}</Line>
      </dl>
      <NextLine next={here.next} nowMs={nowMs} />
      <p class="soft">
        {answer.ruleSet ? formatText(RHYTHM_PAGE_EN, 'ruleSet', { hospital: answer.ruleSet.hospital, edition: answer.ruleSet.edition, by: answer.ruleSet.signedBy, day: answer.ruleSet.signedAt.slice(0, 10) }) : RHYTHM_PAGE_EN.noRuleSet}
        {answer.ruleSet?.training && <> {RHYTHM_PAGE_EN.trainingRules}</>}
      </p>
    </>
  );
}

/** `isRule`: what the rules say of it is part of the answer, not a remark. */
function Line({ name, value, isOpen, isRule = false, children }: { readonly name: string; readonly value: string; readonly isOpen: boolean; readonly isRule?: boolean; readonly children: ComponentChildren }) {
  return <div><dt>{name}</dt><dd>{isOpen ? <b class="tag">{value}</b> : <b>{value}</b>} <span class={isRule ? 'rule' : 'soft'}>{children}</span></dd></div>;
}
function sayMonitor({ outcome: { rule }, until, isOver }: MonitorSpan): string {
  const { count, from } = rule.days!;
  const about = { count, from: RHYTHM_PAGE_EN[`from-${from}`], code: rule.code };
  return until === null ? formatText(RHYTHM_PAGE_EN, 'monitorUntilOpen', about) : formatText(RHYTHM_PAGE_EN, isOver ? 'monitorUntilOver' : 'monitorUntil', { ...about, day: until });
}

/** Which rule speaks, and how far it can be trusted. */
export function RuleTag({ outcome: { rule, isUnverified } }: { readonly outcome: RuleOutcome }) {
  return <span class="soft">({rule.edition === '-' ? formatText(RHYTHM_PAGE_EN, 'ruleTagBare', { code: rule.code }) : formatText(RHYTHM_PAGE_EN, 'ruleTag', { code: rule.code, edition: rule.edition })}{isUnverified && <>; <span class="tag">{RHYTHM_PAGE_EN.unverified}</span></>})</span>;
}

/** The state goes by the page's second, not by when the answer was read. */
export function judgeNow(next: NextEcg, nowMs: number): NextEcg['state'] {
  if (next.earliestAt === null || next.latestAt === null) return next.state;
  return nowMs > Date.parse(next.latestAt) ? 'overdue' : nowMs >= Date.parse(next.earliestAt) ? 'due' : 'not yet due';
}

function NextLine({ next, nowMs }: { readonly next: NextEcg; readonly nowMs: number }) {
  const state = judgeNow(next, nowMs);
  const word = RHYTHM_PAGE_EN[`state-${state}`];
  return (
    <p class="rhythm-next">
      <span class="name">{RHYTHM_PAGE_EN.nextTitle}</span>{' '}
      {next.moment && <b>{RHYTHM_EN[`moment-${next.moment}`]}</b>}{' '}
      <b class={state === 'not yet due' || state === 'none planned' ? 'settled' : 'tag'}>{word}</b>{' '}
      <span class="time">{sayDue(next, state, nowMs)}</span>{' '}
      <span class="soft">{next.because}</span>
    </p>
  );
}

function sayDue({ dueAt, latestAt }: NextEcg, state: NextEcg['state'], nowMs: number): string {
  if (dueAt === null || latestAt === null) return '';
  const [at, latest, dueMs] = [sayMoment(dueAt), sayMoment(latestAt), Date.parse(dueAt)];
  const span = (ms: number): string => sayLong(Math.abs(ms));
  if (state === 'not yet due') return formatText(RHYTHM_PAGE_EN, 'dueIn', { span: span(dueMs - nowMs), at });
  if (state === 'overdue') return formatText(RHYTHM_PAGE_EN, 'overdueBy', { latest, span: span(nowMs - Date.parse(latestAt)) });
  return formatText(RHYTHM_PAGE_EN, nowMs >= dueMs ? 'dueNow' : 'dueWithin', { span: span(dueMs - nowMs), at, latest });
}
/** Beyond a day hours alone are hard to read. */
function sayLong(ms: number): string {
  const days = Math.floor(ms / 86_400_000);
  return days === 0 ? formatSpan(ms) : formatText(RHYTHM_PAGE_EN, 'daysAnd', { days, rest: formatSpan(ms - days * 86_400_000) });
}
