import { readPlannedChoice } from '../case/ask-choice.ts';
import type { PlannedChoice } from '../case/case-events.ts';
import type { CaseState } from '../case/fold-case.ts';
import { formatValueText } from '../case/format-plan.ts';
import type { Plan } from '../case/plan-types.ts';
import { findLanding } from '../deployment/find-landing.ts';
import type { LandingWindow } from '../deployment/landing-types.ts';
import type { Device, DeviceSize } from '../device/device-types.ts';
import type { ReleaseForecast } from '../release/release-types.ts';

/** The valve that a huddle decided on, and how its release begins. */
export interface Chosen {
  readonly device: Device;
  readonly size: DeviceSize;
  /** null: start depth or pacing rate is still to be entered. */
  readonly choice: PlannedChoice | null;
  /** Window of this size, with the start and stop that the team agreed; null: the plan has no root. */
  readonly landing: LandingWindow | null;
  /** The plan's forecast was made for exactly this choice. */
  readonly isForecast: boolean;
}

/**
 * What the team chose: a pinned alternative or what the plan was made for, with start, stop and pacing as the huddle
 * entered them. Another size than the plan's gets its own window: a ruler of the wrong size must not reach the room.
 * Units     mm, per minute
 * Fails     never; null when no device and size can be named
 */
export function readChosen(state: Pick<CaseState, 'huddle' | 'pins'>, plan: Plan): Chosen | null {
  const { huddle } = state;
  const numberOf = (id: string): number | null => (typeof huddle[id]?.value === 'number' ? huddle[id].value : null);
  const planned = readPlannedChoice(plan);
  const pin = state.pins.find((p) => p.pinId === huddle['choice.pin']?.value)?.choice ?? null;
  if (huddle['choice.pin'] !== undefined && pin === null) return null; // it names a pin that is gone: nobody guesses which valve was meant
  const base = pin ?? planned;
  const named = base ?? plan.landing ?? plan.size?.answer ?? null;
  const device = plan.size?.table.devices.find((d) => d.id === named?.device);
  const size = device?.sizes.find((s) => s.label === named?.size);
  if (!device || !size) return null;
  const isPlanSize = plan.landing?.device === device.id && plan.landing.size === size.label;
  const window = isPlanSize ? plan.landing! : plan.root ? (JSON.parse(formatValueText(findLanding(plan.root, device, size, plan.patient ?? null, plan.rules ?? null))) as LandingWindow) : null;
  const startMm = numberOf('depth.startMm') ?? base?.startMm ?? window?.startMm ?? null;
  const paceBpm = numberOf('pacing.ratePerMin') ?? base?.paceBpm ?? plan.patient?.pacingPerMin ?? null;
  const choice: PlannedChoice | null = startMm === null || paceBpm === null ? null : {
    device: device.id, size: size.label, startMm, paceBpm,
    isPredilated: base?.isPredilated ?? plan.patient?.isPredilated ?? false, tension: base?.tension ?? plan.patient?.catheterTension ?? 'unknown', wireBiasMm: base?.wireBiasMm ?? 0,
  };
  const landing = window && !window.empty ? { ...window, startMm: choice?.startMm ?? window.startMm, stopMm: numberOf('depth.stopMm') ?? window.stopMm } : window;
  return { device, size, choice, landing, isForecast: choice !== null && planned !== null && isSameChoice(choice, planned) };
}

const isSameChoice = (a: PlannedChoice, b: PlannedChoice): boolean =>
  a.device === b.device && a.size === b.size && a.startMm === b.startMm && a.paceBpm === b.paceBpm && a.isPredilated === b.isPredilated && a.tension === b.tension && a.wireBiasMm === b.wireBiasMm;

/** The plan as the room has it: window and forecast of what was chosen; without such a forecast there is none. */
export function putChosen(plan: Plan, chosen: Chosen, forecast: ReleaseForecast | null): Plan {
  const { landing: _landing, release: _release, ...rest } = plan;
  const release = chosen.isForecast ? plan.release : (forecast ?? undefined);
  return { ...rest, ...(chosen.landing ? { landing: chosen.landing } : {}), ...(release ? { release } : {}) };
}
