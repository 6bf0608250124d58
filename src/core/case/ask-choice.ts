import type { PlannedChoice } from './case-events.ts';
import type { Plan } from './plan-types.ts';
import { fail, type Result } from '../result.ts';
import type { FactStamp } from '../units/fact.ts';
import { askFromPlan, DEFAULT_SEED, SWEEP_MM } from '../release/ask-from-plan.ts';
import { measureSteepRatio, type AskFailureCode } from '../release/ask-release.ts';
import type { ReleaseQuestion } from '../release/forecast-release.ts';
import { combineWall, NOMINAL_WALL } from '../release/wall-grid.ts';

export type AskChoiceFailureCode = AskFailureCode | 'plan-without-root' | 'plan-without-table' | 'device-unknown' | 'release-valve-form';

/**
 * The release question of one frame in the root of a plan; start and choice are put in by `putChoice`.
 * Fails     plan-without-root, plan-without-table, device-unknown, and as askFromPlan
 */
export function askFrame(plan: Plan, device: string, size: string, stamp: FactStamp): Result<ReleaseQuestion, AskChoiceFailureCode> {
  const { root, scan, messages, views, patient } = plan;
  if (!root) return fail('plan-without-root', 'This plan holds no measured root.', 'Plan the scan again.');
  if (!plan.size) return fail('plan-without-table', 'This plan holds no device table.', 'Plan the scan again with its sizes.');
  const kind = plan.size.table.devices.find((d) => d.id === device);
  const row = kind?.sizes.find((s) => s.label === size);
  if (!kind || !row) return fail('device-unknown', 'The plan’s device table has no such device and size.', 'Choose one of the sizes that the plan lists.');
  return askFromPlan(root, kind, row, {
    spacingMm: scan.spacingMm, findingCodes: scan.findings.map((f) => f.code), messageCodes: messages.map((m) => m.code),
    coaxialityDeg: views?.frameAxis?.offNormalDeg ?? null, patient: patient ?? null,
  }, { startMm: row.depthMm.start, sweepMm: SWEEP_MM, seed: plan.release?.seed ?? DEFAULT_SEED }, stamp);
}

/** The same question for another start and choice; frame and wall stay the same objects. */
export function putChoice(q: ReleaseQuestion, choice: PlannedChoice, releases: number): ReleaseQuestion {
  const { startMm, paceBpm, isPredilated, tension, wireBiasMm } = choice;
  return {
    ...q, startMm, releases, choice: { ...q.choice, paceBpm, isPredilated, tension, wireBiasMm },
    evidence: { ...q.evidence, steepRatio: measureSteepRatio(q.frame, combineWall(q.basis, NOMINAL_WALL), startMm) },
  };
}

/** What the plan itself forecast, as a choice; null where it forecast nothing. */
export function readPlannedChoice(plan: Plan): PlannedChoice | null {
  const { landing, release } = plan;
  if (!landing || !release) return null;
  const { paceBpm, isPredilated, tension, wireBiasMm } = release.choice;
  return { device: landing.device, size: landing.size, startMm: release.startMm, paceBpm, isPredilated, tension, wireBiasMm };
}
