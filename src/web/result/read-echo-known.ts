import type { EchoContext } from '../../core/echo/echo-types.ts';
import { NO_CONTEXT } from '../../core/echo/echo-types.ts';
import type { RuleSet } from '../../core/device/device-types.ts';
import type { Fact } from '../../core/units/fact.ts';
import { isAnswered } from '../../formats/report/format-number.ts';
import { chosenRules } from '../state/chosen-rules.ts';
import { caseState, shownPlan } from '../state/open-case.ts';

/** What the case knows beside the echo: body, aorta of the CT, signed rules. */
export function readEchoKnown(): { readonly context: EchoContext; readonly rules: RuleSet | null } {
  const referral = caseState.value?.referral ?? {};
  const number = (field: string): number | null => (typeof referral[field]?.value === 'number' ? referral[field].value : null);
  const diameter = shownPlan.value?.plan.root?.sinotubularJunction.diameterMm ?? null;
  return { context: { ...NO_CONTEXT, heightCm: number('body.heightCm'), weightKg: number('body.weightKg'), junctionAreaCm2: diameter && computeJunctionArea(diameter) }, rules: chosenRules.value };
}
/** Round junction, as the server takes it (assemble-echo.ts). */
function computeJunctionArea(diameter: Fact): Fact | null {
  const areaCm2 = (mm: number): number => (Math.PI * (mm / 10) ** 2) / 4;
  return isAnswered(diameter) ? { ...diameter, unit: 'cm2', value: areaCm2(diameter.value), low: areaCm2(diameter.low), high: areaCm2(diameter.high) } : null;
}
