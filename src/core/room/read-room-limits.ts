import type { Rule, RuleSet } from '../device/device-types.ts';
import type { RoomLimits } from './frozen-types.ts';

/** Rules that act in the room, with the unit each must have; a value in another unit would be another limit. */
export const ROOM_RULE_UNITS = {
  'depth-old': 's', 'depth-gone': 's', 'expansion-wait': 's', 'contrast-most': 'mL', 'air-kerma-most': 'mGy', 'dose-area-most': 'Gy.cm2', 'act-least': 's',
  'recapture-attempts': '1', 'recapture-inspect-after': '1', 'recapture-replace-after': '1',
} as const satisfies Readonly<Record<string, string>>;
export type RoomRuleCode = keyof typeof ROOM_RULE_UNITS;

/**
 * Limits of the room from the signed rules. A rule that is absent or in another unit is null: nothing is said against it,
 * never "normal".
 * Fails     never
 */
export function readRoomLimits(rules: RuleSet | null): RoomLimits {
  const find = (code: RoomRuleCode): Rule | null => rules?.rules.find((r) => r.code === code && r.unit === ROOM_RULE_UNITS[code] && Number.isFinite(r.value)) ?? null;
  return {
    depthOldS: find('depth-old'), depthGoneS: find('depth-gone'), expansionWaitS: find('expansion-wait'),
    contrastMostMl: find('contrast-most'), airKermaMostMGy: find('air-kerma-most'), doseAreaMostGyCm2: find('dose-area-most'), actLeastS: find('act-least'),
    recaptureAttempts: find('recapture-attempts'), inspectAfter: find('recapture-inspect-after'), replaceAfter: find('recapture-replace-after'),
  };
}
