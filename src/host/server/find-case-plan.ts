import type { CaseEventData } from '../../core/case/case-events.ts';
import { fail, succeed, type Result } from '../../core/result.ts';
import { PRINTS_EN } from '../../core/text/prints-en.ts';
import type { CaseStore } from '../storage/store-types.ts';

/** A plan made for a case, as its log names it. */
export interface CasePlan {
  readonly planSha256: string;
  readonly surveySha256: string | null;
  readonly isNewest: boolean;
  /** Something it depends on has changed since. */
  readonly isStale: boolean;
}

/**
 * The plan of a case with this hash (its own or its survey's), or its newest one. A hash alone opens nothing: the plan must
 * be this case's.
 * Fails     case-unknown, case-without-plan, document-unknown, store-unreachable
 */
export async function findCasePlan(store: CaseStore, caseId: string, wanted: Partial<Pick<CasePlan, 'planSha256' | 'surveySha256'>> | null = null): Promise<Result<CasePlan, string>> {
  const state = await store.readState(caseId);
  if (!state.ok) return state;
  const { plan } = state.value;
  const isWanted = (made: Pick<CasePlan, 'planSha256' | 'surveySha256'>): boolean =>
    wanted === null || (wanted.planSha256 ?? made.planSha256) === made.planSha256 && (wanted.surveySha256 ?? made.surveySha256) === made.surveySha256;
  if (plan && isWanted(plan)) {
    return succeed({ planSha256: plan.planSha256, surveySha256: plan.surveySha256, isNewest: true, isStale: plan.isStale });
  }
  if (wanted === null) return fail('case-without-plan', PRINTS_EN.withoutPlan, PRINTS_EN.withoutPlanNext);
  const events = await store.listEvents(caseId, 0);
  if (!events.ok) return events;
  const made = events.value.flatMap((e) => (e.kind === 'plan.made' ? [e.data as CaseEventData['plan.made']] : [])).find(isWanted);
  if (!made) return fail('document-unknown', PRINTS_EN.planNotOfCase, PRINTS_EN.planNotOfCaseNext);
  return succeed({ planSha256: made.planSha256, surveySha256: made.surveySha256, isNewest: false, isStale: true });
}
