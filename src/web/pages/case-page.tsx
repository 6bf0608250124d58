import { useRoute } from 'preact-iso';
import { useEffect } from 'preact/hooks';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import { HOUSE_EN } from '../../core/text/house-en.ts';
import { readRoundStart } from '../result/read-round-start.ts';
import { CaseLine } from '../parts/case-line.tsx';
import { CaseNews } from '../parts/case-news.tsx';
import { FailureNotice } from '../parts/notice.tsx';
import { useTitle } from '../parts/title.ts';
import { caseFailure, caseState, openCase, planJob, shownPlan } from '../state/open-case.ts';
import { room, roomCase } from '../state/room-log.ts';
import { CASE_PAGES, listPageStates, type CasePageId } from '../state/page-states.ts';
import { MissingPage } from './missing-page.tsx';
import { PlannedPage } from './planned-page.tsx';
import { ReferralPage } from './referral-page.tsx';
import { DryRunPage } from './dry-run-page.tsx';
import { HuddlePage } from './huddle-page.tsx';
import { ResultPage } from './result-page.tsx';
import { RhythmPage } from './rhythm-page.tsx';
import { ScanPage } from './scan-page.tsx';

/** In the room is a page of its own (desk.tsx): it opens without the server, this one does not. */
const PAGES = CASE_PAGES.filter((page) => page !== 'room');

/** One case: its head, the case line and the page of it that the address names. */
export function CasePage() {
  const { params } = useRoute();
  const caseId = params['caseId'] ?? '';
  const wanted = params['page'] ?? 'referral';
  const page = PAGES.find((p) => p === wanted) ?? null;
  useEffect(() => void openCase(caseId), [caseId]);
  const state = caseState.value?.caseId === caseId ? caseState.value : null;
  useTitle(page ? DESK_EN[`page-${page}`] : '', state?.label ?? '');
  if (!page) return <MissingPage />;
  if (!state) {
    const failure = caseFailure.value;
    return failure ? <FailureNotice failure={failure} onAgain={() => void openCase(caseId)} /> : <p role="status">{DESK_EN.loading}</p>;
  }
  const plan = shownPlan.value;
  const isTraining = state.training || plan?.plan.training === true;
  return (
    <div class="case">
      {isTraining && <div class="watermark" aria-hidden="true">{HOUSE_EN.training}</div>}
      <div class="case-head">
        <h1>{state.label}</h1>
        <p class="soft">{state.procedureOn ? formatText(DESK_EN, 'forDay', { day: state.procedureOn }) : DESK_EN.noDay}</p>
        {isTraining && <p class="training-banner">{HOUSE_EN.training}</p>}
      </div>
      <CaseLine caseId={caseId} page={page} states={listPageStates(state, plan?.plan ?? null, planJob.value !== null, roomCase.value?.caseId === caseId ? readRoundStart(room.value) : null)} />
      <CaseNews />
      <PageOf page={page} />
    </div>
  );
}

function PageOf({ page }: { readonly page: Exclude<CasePageId, 'room'> }) {
  if (page === 'referral') return <ReferralPage />;
  if (page === 'scan') return <ScanPage />;
  if (page === 'dry-run') return <DryRunPage />;
  if (page === 'huddle') return <HuddlePage />;
  if (page === 'result') return <ResultPage />;
  if (page === 'rhythm') return <RhythmPage />;
  return <PlannedPage key={page} page={page} />;
}
