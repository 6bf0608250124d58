import { lazy } from 'preact-iso';
import { Suspense } from 'preact/compat';
import type { Plan } from '../../core/case/plan-types.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { DESK_EN } from '../../core/text/desk-en.ts';
import type { PageSection } from '../../formats/report/draw-section.ts';
import { makeLandingSection } from '../../formats/report/make-landing-section.ts';
import { makeReleaseSection } from '../../formats/report/make-release-section.ts';
import { makeRootSection } from '../../formats/report/make-root-section.ts';
import { makeSizeSection } from '../../formats/report/make-size-section.ts';
import { makeViewsSection } from '../../formats/report/make-views-section.ts';
import { AtOnce } from '../parts/at-once.tsx';
import { Notice } from '../parts/notice.tsx';
import { PlanSection } from '../parts/section.tsx';
import { TablesChoice } from '../parts/tables-choice.tsx';
import { UnplannedSection } from '../parts/unplanned.tsx';
import { WhatIf } from '../parts/what-if.tsx';
import { calmPlan, livePlan, preview, type LivePlan } from '../state/live-plan.ts';
import { addAndPlan, caseState, isRecomputing } from '../state/open-case.ts';
import type { CasePageId } from '../state/page-states.ts';
import { may } from '../state/session.ts';

export type PlannedPageId = Exclude<CasePageId, 'referral' | 'scan' | 'dry-run' | 'huddle' | 'room'>;
const RootViewer = lazy(() => import('../viewer/root-viewer.tsx').then((m) => m.RootViewer));

/** A page whose answer stands in the plan. */
export function PlannedPage({ page }: { readonly page: PlannedPageId }) {
  const live = calmPlan.value;
  const section = live ? makeSectionOf(page, live.plan) : null;
  if (!live || !section) return <UnplannedSection page={page} plan={live?.plan ?? null} isPending={page === 'release' && live?.pending.includes('release') === true} />;
  return (
    <PlanSection
      section={section}
      beforeWhy={<>
        {page === 'root' && <ViewerPlace />}
        {/* Below the pictures: what comes and goes above them would move them under the hand. */}
        {live.isInstant && <PendingNotice live={live} />}
        {page === 'release' && live.plan.release && <WhatIf />}
      </>}
      afterNext={page === 'size' && may('edit') ? <TablesChoice /> : null}
    />
  );
}

function makeSectionOf(page: PlannedPageId, plan: Plan): PageSection | null {
  const { root, size, landing, views, release, training } = plan;
  if (page === 'root') return root ? makeRootSection(plan, null) : null; // without a root a person may set the nadirs (UnplannedSection)
  if (page === 'size') return size && root ? makeSizeSection(size, root, training) : null;
  if (page === 'landing') return landing ? makeLandingSection(landing, training, size) : null;
  if (page === 'views') return views ? makeViewsSection(views, training) : null;
  return release ? makeReleaseSection(release, root, training) : null;
}

function PendingNotice({ live }: { readonly live: LivePlan }) {
  if (live.pending.length === 0) return null;
  const list = live.pending.map((p) => DESK_EN[`pending-${p}`]).join(', ');
  return <Notice title={DESK_EN.pendingTag}><p>{formatText(DESK_EN, 'pendingSay', { list })}</p></Notice>;
}

/** The CT with its marks, and what they answer, side by side. */
function ViewerPlace() {
  const [state, live] = [caseState.value, livePlan.value];
  if (!state || !live?.plan.root) return null;
  return (
    <div class="viewer-place">
      <Suspense fallback={<p role="status">{DESK_EN.viewerLoads}</p>}>
        <RootViewer
          caseId={state.caseId} state={state} plan={live.plan} planSha256={live.sha256}
          isRecomputing={isRecomputing.value} mayEdit={may('edit')}
          onPreview={(moved) => (preview.value = moved)} onEvents={addAndPlan}
        />
      </Suspense>
      <AtOnce />
    </div>
  );
}
