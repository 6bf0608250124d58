import { listMissing } from '../../core/case/list-missing.ts';
import { HUDDLE_BRANCHES } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { collectDoubts } from '../../formats/report/draw-doubts.ts';
import { listPlanFacts } from '../../formats/report/list-plan-facts.ts';

/** Pages of a case in time order (design, section 2); what this version does not answer is not among them. */
export const CASE_PAGES = ['referral', 'scan', 'root', 'size', 'landing', 'views', 'release', 'dry-run', 'huddle', 'room'] as const;
export type CasePageId = (typeof CASE_PAGES)[number];
export type PageState = 'answered' | 'doubt' | 'open' | 'computing';

/** How far each page of a case is answered: what the case line shows. */
export function listPageStates(state: CaseState, plan: Plan | null, isPlanning: boolean): Readonly<Record<CasePageId, PageState>> {
  const missing = new Set<string>(listMissing(state, plan));
  const stale = state.plan?.isStale === true;
  const planned = (has: boolean, hasDoubt: boolean): PageState => {
    if (isPlanning) return 'computing';
    if (!has) return 'open';
    return hasDoubt || stale ? 'doubt' : 'answered';
  };
  const facts = plan ? listPlanFacts(plan).filter((f) => f.path.startsWith('root.') && !f.path.startsWith('root.levels.')) : [];
  const { size, landing, views, release } = plan ?? {};
  const states = {
    referral: missing.has('referral') ? 'open' : missing.has('date') ? 'doubt' : 'answered',
    scan: state.scan === null ? 'open' : plan ? planned(true, plan.scan.verdict !== 'fit' || state.scan.identity.verdict !== 'same') : planned(false, false),
    root: planned(!missing.has('root'), collectDoubts(facts).length > 0),
    // "No size holds", an empty window and "cannot say" are answers, with doubt; only a question nobody asked is open.
    size: planned(size !== undefined, size?.answer === null || (size?.doubt.length ?? 0) > 0),
    landing: planned(landing !== undefined, landing?.state !== 'window' || (landing?.reasons.length ?? 0) > 0),
    views: planned(views !== undefined, views?.offered === false || (views?.reasons.length ?? 0) > 0),
    release: planned(release !== undefined, release?.answer === 'cannot say' || (release?.refusals.length ?? 0) > 0),
    'dry-run': planned(release !== undefined && HUDDLE_BRANCHES.every((branch) => state.branches[branch]), release?.answer === 'cannot say'),
    // Frozen is an answer; a plan that was changed since, or frozen over a blocker, is one with doubt.
    huddle: isPlanning ? 'computing' : state.frozen === null ? 'open' : state.frozen.isBehind || state.overrides.some((o) => o.seq < state.frozen!.seq) ? 'doubt' : 'answered',
    room: state.frozen === null || state.room.entries === 0 ? 'open' : state.frozen.isBehind ? 'doubt' : 'answered',
  } as const;
  return states;
}
