import type { CaseState } from '../case/fold-case.ts';
import type { Device, DeviceSize } from '../device/device-types.ts';
import { KIT_SLOTS, type KitSlot } from './huddle-fields.ts';

type Entered = string | number | boolean | undefined;
/** One box that the room needs or may want, and what the huddle says of it. */
export interface KitItem {
  readonly slot: KitSlot;
  /** Device and size, for the valves; null for everything else. */
  readonly valve: { readonly device: string; readonly size: string } | null;
  /** Outer diameter of the sheath or largest balloon from the table, mm. */
  readonly mm: number | null;
  /** The plan is not frozen without it (job.md, D17; hazard 17). */
  readonly isNeeded: boolean;
  /** null: nobody said. */
  readonly isReady: boolean | null;
  readonly place: string | null;
  /** ISO 8601 date. */
  readonly expires: string | null;
}
/** Without the second valve, its neighbours, a snare and a drain the known ways out are closed. */
const NEEDED: ReadonlySet<KitSlot> = new Set<KitSlot>(['first', 'spare', 'smaller', 'larger', 'sheath', 'snare', 'drain']);

/**
 * What lies ready for this size: the valve, the same size again, the sizes next to it in the signed table, and the tools.
 * `read` gives an entry of the huddle.
 */
export function listKit(device: Device, size: DeviceSize, read: (id: string) => Entered): readonly KitItem[] {
  const at = device.sizes.findIndex((s) => s.label === size.label);
  const valves: Readonly<Partial<Record<KitSlot, DeviceSize | undefined>>> = { first: size, spare: size, smaller: device.sizes[at - 1], larger: device.sizes[at + 1] };
  return KIT_SLOTS.flatMap((slot): KitItem[] => {
    const isValve = slot in valves;
    const row = valves[slot];
    if (isValve && !row) return []; // the table ends here
    const [ready, place, expires] = [read(`kit.${slot}.ready`), read(`kit.${slot}.place`), read(`kit.${slot}.expires`)];
    return [{
      slot, valve: row ? { device: device.id, size: row.label } : null, mm: slot === 'sheath' ? size.sheathOuterMm : slot === 'balloon' ? size.balloonMaxMm : null,
      isNeeded: NEEDED.has(slot), isReady: typeof ready === 'boolean' ? ready : null,
      place: typeof place === 'string' ? place : null, expires: typeof expires === 'string' ? expires : null,
    }];
  });
}
export const readHuddleEntry = (huddle: CaseState['huddle']) => (id: string): Entered => huddle[id]?.value;

/** In date on this day, that day included; without a date nobody knows, and what nobody knows is not ready (job.md, E8). */
export const isInDate = (item: Pick<KitItem, 'expires'>, day: string): boolean | null => (item.expires === null ? null : item.expires >= day);
