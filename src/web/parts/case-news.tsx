import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { nameSubject } from '../../core/case/event-subject.ts';
import { caseState, clash, editFailure, isFollowing, isRecomputing, keepOwn, planFailure, planJob, savesUnderWay, startPlan } from '../state/open-case.ts';
import { nameOf } from '../state/names.ts';
import { may } from '../state/session.ts';
import { FailureNotice, Notice } from './notice.tsx';

/** What stands between the person and trusting the page: lost link, clash with somebody else, refused edit, stale plan. */
export function CaseNews() {
  const state = caseState.value;
  const isStale = state?.plan?.isStale === true;
  return (
    <div class="news">
      {!isFollowing.value && <Notice><p>{DESK_EN.away}</p></Notice>}
      <ClashNotice />
      {editFailure.value && <FailureNotice failure={editFailure.value} title={DESK_EN.editRefused} />}
      {planFailure.value && <FailureNotice failure={planFailure.value} />}
      {isRecomputing.value && <Notice title={DESK_EN.recomputing}><p>{DESK_EN.recomputingSay}</p></Notice>}
      {isStale && planJob.value === null && (
        <Notice title={DESK_EN.staleTitle}>
          <p>{DESK_EN.staleSay}</p>
          {may('edit') && <button type="button" class="main" onClick={() => void startPlan()}>{DESK_EN.planAgain}</button>}
        </Notice>
      )}
      <p class="saving" role="status" aria-live="polite">{savesUnderWay.value > 0 ? DESK_EN.saving : ''}</p>
    </div>
  );
}

function ClashNotice() {
  const now = clash.value;
  if (!now) return null;
  const subjects = [...new Set(now.newer.map((e) => nameSubject(e as Parameters<typeof nameSubject>[0]).split(' ')[0]!))];
  const what = subjects.map((s) => DESK_EN[`subject-${s}` as keyof typeof DESK_EN] ?? s).join(', ');
  const who = [...new Set(now.newer.map((e) => nameOf(e.by)))].join(', ');
  return (
    <Notice title={DESK_EN.clashTitle} isUrgent>
      <p>{formatText(DESK_EN, 'clashSay', { who, what })}</p>
      <button type="button" onClick={() => void keepOwn()}>{DESK_EN.clashKeep}</button>{' '}
      <button type="button" onClick={() => (clash.value = null)}>{DESK_EN.clashLeave}</button>
    </Notice>
  );
}
