import { DESK_EN } from '../../core/text/desk-en.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { NO_CUTS } from '../../core/root/cut-types.ts';
import type { PageSection } from '../../formats/report/draw-section.ts';
import { makeLandingSection } from '../../formats/report/make-landing-section.ts';
import { makeReleaseSection } from '../../formats/report/make-release-section.ts';
import { makeRootSection } from '../../formats/report/make-root-section.ts';
import { makeSizeSection } from '../../formats/report/make-size-section.ts';
import { makeViewsSection } from '../../formats/report/make-views-section.ts';
import { UnplannedSection } from '../parts/unplanned.tsx';
import { PlanSection } from '../parts/section.tsx';
import { shownPlan } from '../state/open-case.ts';
import type { CasePageId } from '../state/page-states.ts';

export type PlannedPageId = Exclude<CasePageId, 'referral' | 'scan' | 'huddle'>;

/** A page whose answer stands in the plan. */
export function PlannedPage({ page }: { readonly page: PlannedPageId }) {
  const shown = shownPlan.value;
  const section = shown ? makeSectionOf(page, shown.plan) : null;
  if (!section) return <UnplannedSection page={page} plan={shown?.plan ?? null} />;
  return <PlanSection section={section} />;
}

function makeSectionOf(page: PlannedPageId, plan: Plan): PageSection | null {
  const { root, size, landing, views, release, training } = plan;
  if (page === 'root') return makeRootSection(plan, NO_CUTS);
  if (page === 'size') return size && root ? makeSizeSection(size, root, training) : null;
  if (page === 'landing') return landing ? makeLandingSection(landing, training) : null;
  if (page === 'views') return views ? makeViewsSection(views, training) : null;
  return release ? makeReleaseSection(release, root, training) : null;
}
