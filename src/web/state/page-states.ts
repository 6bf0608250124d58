import { listMissing } from '../../core/case/list-missing.ts';
import { HUDDLE_BRANCHES } from '../../core/case/case-events.ts';
import type { CaseState } from '../../core/case/fold-case.ts';
import type { ResultState } from '../../core/case/fold-result.ts';
import type { Plan } from '../../core/case/plan-types.ts';
import { collectDoubts } from '../../formats/report/draw-doubts.ts';
import { listPlanFacts } from '../../formats/report/list-plan-facts.ts';

/** Pages of a case in time order (design, section 2); what this version does not answer is not among them. */
export const CASE_PAGES = ['referral', 'scan', 'root', 'size', 'landing', 'views', 'release', 'dry-run', 'huddle', 'room', 'result', 'rhythm'] as const;
export type CasePageId = (typeof CASE_PAGES)[number];
export type PageState = 'answered' | 'doubt' | 'open' | 'computing';

/**
 * How far each page of a case is answered: what the case line shows. `roundAt`: the last manoeuvre or the release, where the page
 * follows the room; what was seen and decided before it answers nothing any more.
 */
export function listPageStates(state: CaseState, plan: Plan | null, isPlanning: boolean, roundAt: string | null = null): Readonly<Record<CasePageId, PageState>> {
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
    result: judgeResult(state.result, roundAt),
    rhythm: judgeRhythm(state.result),
  } as const;
  return states;
}

/**
 * Answered is what the team decided over the verdict that it had looked at. Shown and not decided, decided without a look, or
 * anything of the result that is newer than the decision leaves doubt.
 */
function judgeResult({ recordings, echoes, angiograms, grades, entries, shown, decided }: ResultState, roundAt: string | null): PageState {
  const isOfRound = ({ at }: { readonly at: string }): boolean => roundAt === null || Date.parse(at) > Date.parse(roundAt);
  const last = decided.at(-1);
  const seen = shown.filter((s) => s.what === 'verdict' && isOfRound(s)).at(-1);
  if (last && !isOfRound(last)) return 'doubt';
  if (!last) return seen ? 'doubt' : 'open';
  if (last.answerSha256 === null || (seen !== undefined && seen.seq > last.seq)) return 'doubt';
  const witnesses = [...recordings, ...echoes, ...angiograms].flatMap((w) => [w.seq, w.note?.seq ?? 0, w.withdrawn?.seq ?? 0]);
  const said = [...echoes.flatMap((e) => Object.values(e.entries)), ...Object.entries(entries).flatMap(([field, e]) => (WATCHED.test(field) ? [] : [e])), ...grades].map((e) => e.seq);
  return Math.max(0, ...witnesses, ...said) > last.seq ? 'doubt' : 'answered';
}
/** These entries belong to the rhythm watch, which goes on for days after the decision. */
const WATCHED = /^(rhythm|watch)\./;

/** Both of baseline and after are needed; one alone is compared with nothing (hazard 21). */
function judgeRhythm({ ecgs }: ResultState): PageState {
  const has = (moment: 'baseline' | 'post'): boolean => ecgs[moment] !== undefined && (ecgs[moment].entered !== null || ecgs[moment].joined !== null);
  if (has('baseline') && has('post')) return 'answered';
  return Object.values(ecgs).some((line) => line.entered !== null || line.joined !== null) ? 'doubt' : 'open';
}
