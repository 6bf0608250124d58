import { NO_CONTEXT, type EchoContext } from '../../core/echo/echo-types.ts';
import { readRootContext } from '../../core/echo/read-root-context.ts';
import type { RuleSet } from '../../core/device/device-types.ts';
import { chosenRules } from '../state/chosen-rules.ts';
import { caseState, shownPlan } from '../state/open-case.ts';

/** What the case knows beside the echo: body, aorta of the CT, signed rules. */
export function readEchoKnown(): { readonly context: EchoContext; readonly rules: RuleSet | null } {
  const referral = caseState.value?.referral ?? {};
  const number = (field: string): number | null => (typeof referral[field]?.value === 'number' ? referral[field].value : null);
  return { context: { ...NO_CONTEXT, heightCm: number('body.heightCm'), weightKg: number('body.weightKg'), ...readRootContext(shownPlan.value?.plan.root ?? null) }, rules: chosenRules.value };
}
