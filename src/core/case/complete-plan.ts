import { findLanding } from '../deployment/find-landing.ts';
import type { LandingWindow } from '../deployment/landing-types.ts';
import { chooseSize } from '../device/choose-size.ts';
import type { Device, DeviceSize, DeviceTable, PatientFacts, RuleSet } from '../device/device-types.ts';
import type { SizeAnswer } from '../device/size-types.ts';
import { isResultRuleAlone } from '../verdict/result-rules.ts';
import { findRule, TRAINING_RULES, TRAINING_TABLE } from '../device/training-table.ts';
import { chooseViews } from '../projection/choose-views.ts';
import type { PlanViews, ReachLimits } from '../projection/view-types.ts';
import type { RootSurvey } from '../root/root-types.ts';
import type { PlanMessage } from '../root/survey-types.ts';

/** What stands beside the measured root. */
export interface PlanTables {
  /** null: the bundled training table acts, and everything is marked as training. */
  readonly devices: DeviceTable | null;
  /** null: the training rules act together with the training table, and no rule with a hospital's own. */
  readonly rules: RuleSet | null;
  readonly patient: PatientFacts | null;
  readonly patientPosition: string | null;
}
export interface CompletedPlan {
  readonly size: SizeAnswer;
  readonly landing: LandingWindow | null;
  readonly views: PlanViews;
  readonly rules: RuleSet | null;
  readonly training: boolean;
  readonly messages: readonly PlanMessage[];
}

/**
 * Size, landing window and views of a measured root: a pure function of root, tables, rules and patient.
 * Source    docs/methods/{sizing,landing,camera-views}.md
 * Fails     never: each section refuses in its own words
 */
export function completePlan(root: RootSurvey, tables: PlanTables): CompletedPlan {
  const table = tables.devices ?? TRAINING_TABLE;
  const given = tables.rules ?? (table.training ? TRAINING_RULES : null);
  // A plan carries what it acts by, and what the room acts by after it.
  const rules = given && { ...given, rules: given.rules.filter((r) => !isResultRuleAlone(r.code)) };
  const size = chooseSize(root, table, tables.patient);
  const choice = chooseForLanding(size, table);
  const landing = choice ? findLanding(root, choice.device, choice.size, tables.patient, rules) : null;
  const views = chooseViews(root, { patientPosition: tables.patientPosition, reach: readReach(rules) });
  const messages: PlanMessage[] = [];
  if (!tables.devices) {
    messages.push({ code: 'devices-training-table', section: 'size', text: 'No device table was given: the sizes are invented, for training.', next: 'Enter the hospital’s own table, sign it and plan again with it.' });
  }
  if (tables.devices && !tables.devices.training && !rules) {
    messages.push({ code: 'rules-not-given', section: 'landing', text: 'No signed rules were given: limits that need one are not known.', next: 'Check the published proposals, sign them and plan again with them.' });
  }
  if (choice && !choice.isSettled) {
    messages.push({ code: 'landing-size-not-settled', section: 'landing', text: `No size holds alone; the window is that of ${choice.device.id} ${choice.size.label}, the nearest one.`, next: 'Settle the size first.' });
  }
  if (!choice) messages.push({ code: 'landing-without-size', section: 'landing', text: 'No size of the table is near this ring, so there is no window.', next: 'See the Size page.' });
  return { size, landing, views, rules, training: table.training || rules?.training === true, messages };
}

/** The size that the window belongs to: the answer, or the nearest one in question of the first device that has one. */
function chooseForLanding(size: SizeAnswer, table: DeviceTable): { device: Device; size: DeviceSize; isSettled: boolean } | null {
  const pick = (deviceId: string, label: string, isSettled: boolean): { device: Device; size: DeviceSize; isSettled: boolean } | null => {
    const device = table.devices.find((d) => d.id === deviceId);
    const found = device?.sizes.find((s) => s.label === label);
    return device && found ? { device, size: found, isSettled } : null;
  };
  if (size.answer) return pick(size.answer.device, size.answer.size, true);
  const open = size.byDevice.find((d) => d.between.length > 0);
  if (!open) return null;
  const near = size.candidates.filter((c) => c.device === open.device && open.between.includes(c.size)).reduce((a, b) => (b.fitProbability > a.fitProbability ? b : a));
  return pick(near.device, near.size, false);
}

/** The room's reach; null unless all four limits are signed. */
function readReach(rules: RuleSet | null): ReachLimits | null {
  const [lao, rao, cranial, caudal] = ['reach-lao', 'reach-rao', 'reach-cranial', 'reach-caudal'].map((code) => findRule(rules, code)?.value);
  if (lao === undefined || rao === undefined || cranial === undefined || caudal === undefined || !rules) return null;
  return { laoDeg: lao, raoDeg: rao, cranialDeg: cranial, caudalDeg: caudal, source: rules.signedBy };
}
