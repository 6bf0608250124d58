import type { Plan } from './plan-types.ts';
import { HUDDLE_BRANCHES } from './case-events.ts';
import type { CaseState } from './fold-case.ts';

/** What a case may lack, in the order of the case line. */
const MISSING_CODES = ['date', 'referral', 'scan', 'root', 'size', 'landing', 'views', 'release', 'dry-run', 'huddle'] as const;
export type MissingCode = (typeof MISSING_CODES)[number];

/** Without these the CT cannot be compared with the patient it was asked for. */
const NEEDED_OF_REFERRAL = ['identity.name', 'identity.birthDate', 'identity.sex'];

/**
 * What is still missing before the room: a section counts as there when the newest plan answers it, be the answer
 * "empty" or "cannot say"; a stale plan still counts, its staleness is said elsewhere; the
 * huddle is there when a plan is frozen.
 * `plan` is the newest plan of the case; null when there is none.
 */
export function listMissing(state: CaseState, plan: Pick<Plan, 'root' | 'size' | 'landing' | 'views' | 'release'> | null): readonly MissingCode[] {
  const lacks: Readonly<Record<MissingCode, boolean>> = {
    date: state.procedureOn === null,
    referral: NEEDED_OF_REFERRAL.some((field) => state.referral[field] === undefined),
    scan: state.scan === null,
    root: !plan?.root, size: !plan?.size, landing: !plan?.landing, views: !plan?.views, release: !plan?.release,
    'dry-run': HUDDLE_BRANCHES.some((branch) => !state.branches[branch]), huddle: state.frozen === null,
  };
  return MISSING_CODES.filter((code) => lacks[code]);
}

/** How far the planning is, from the events alone; whether it runs right now only the jobs know. */
export function describePlanState({ plan, refusal }: CaseState): 'none' | 'made' | 'stale' | 'refused' {
  if (refusal && refusal.seq > (plan?.seq ?? 0)) return 'refused';
  if (!plan) return 'none';
  return plan.isStale ? 'stale' : 'made';
}
