import { fail, succeed, type Result } from '../result.ts';
import { recutRoot, type PendingPart, type RecutFailureCode } from '../root/recut-root.ts';
import type { Landmarks } from '../root/root-types.ts';
import type { SurveyDocument } from '../root/survey-document.ts';
import type { FactStamp } from '../units/fact.ts';
import { completePlan, type PlanTables } from './complete-plan.ts';
import type { Plan } from './plan-types.ts';

/** What still waits for the plan that is being made with the same marks. */
export type PendingSection = PendingPart | 'release';
export interface RecutPlan {
  /** Root, size, landing and views about the marks; without `release` when that has to be run again. */
  readonly plan: Plan;
  readonly pending: readonly PendingSection[];
}

/** Of the last survey's messages those that the marks have settled or that are said anew. */
const SETTLED_BY_MARKS: ReadonlySet<string> = new Set(['cusp-names-uncertain', 'crown-uneven', 'nadir-beside-calcium', 'junction-not-found', 'contour-by-hand']);
const ANSWERED_ANEW: ReadonlySet<string> = new Set(['size', 'landing', 'views', 'release']);

/**
 * A plan about moved marks, at once and from the plan and its survey document alone: same tables, rules and patient.
 * Fails     as recutRoot; and `plan-without-root`
 * Source    docs/methods/moved-marks.md
 */
export function recutPlan(plan: Plan, document: SurveyDocument, marks: Landmarks | null, stamp: FactStamp): Result<RecutPlan, RecutFailureCode | 'plan-without-root'> {
  if (!plan.root) return fail('plan-without-root', 'This plan holds no measured root.', 'Plan the scan again.');
  const recut = recutRoot(plan.root, document, marks, stamp);
  if (!recut.ok) return recut;
  const { root, messages } = recut.value;
  const isMoved = root.basalPlane !== plan.root.basalPlane;
  const completed = completePlan(root, readTables(plan, document));
  const kept = plan.messages.filter((m) => !ANSWERED_ANEW.has(m.section) && !(isMoved && SETTLED_BY_MARKS.has(m.code)));
  const { release, ...rest } = plan;
  const isReleaseKept = !isMoved && completed.landing?.startMm === plan.landing?.startMm && completed.landing?.size === plan.landing?.size;
  return succeed({
    plan: {
      ...rest, root,
      ...(plan.size ? { size: completed.size } : {}),
      ...(plan.landing && completed.landing ? { landing: completed.landing } : {}),
      ...(plan.views ? { views: completed.views } : {}),
      ...(release && isReleaseKept ? { release } : {}),
      messages: [...kept, ...messages, ...completed.messages, ...(isReleaseKept ? plan.messages.filter((m) => m.section === 'release') : [])],
    },
    pending: [...recut.value.pending, ...(release && !isReleaseKept ? (['release'] as const) : [])],
  });
}

/** What the plan was made with. Without a hash of its own a table or rule set was the bundled one. */
export function readTables(plan: Plan, document: Pick<SurveyDocument, 'patientPosition'>): PlanTables {
  return {
    devices: plan.inputs.devicesSha256 === undefined ? null : (plan.size?.table ?? null),
    rules: plan.inputs.rulesSha256 === undefined ? null : (plan.rules ?? null),
    patient: plan.patient ?? null, patientPosition: document.patientPosition,
  };
}
