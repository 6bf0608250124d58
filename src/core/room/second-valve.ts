import type { FrozenDocument } from './frozen-types.ts';
import type { RoomState } from './room-state.ts';

/** Boxes of the huddle that hold another valve, in the order of the card. */
export const SECOND_VALVE_SLOTS = ['spare', 'smaller', 'larger'] as const;
export type SecondValveSlot = (typeof SECOND_VALVE_SLOTS)[number];
export interface SecondValve {
  readonly slot: SecondValveSlot;
  readonly device: string;
  readonly size: string;
  readonly place: string | null;
  /** Last day of use, as the box says it: YYYY-MM-DD. */
  readonly expires: string | null;
  /** Whether it may be offered; a box without a date is not in date. */
  readonly state: 'offered' | 'not prepared' | 'no place' | 'no date' | 'expired' | 'not to hand';
  /** The room said that it is ready (true) or not (false), and when; null: nobody said. */
  readonly room: { readonly isReady: boolean; readonly at: string } | null;
}
export interface SecondValveCard {
  /** `ready`: at least one is offered and none of the room's own taps speaks against it. */
  readonly state: 'ready' | 'none';
  readonly valves: readonly SecondValve[];
}

/**
 * The second valve as it was frozen: the same size again and its neighbours in the signed table, nothing else (job.md,
 * D42). What was not prepared, has no date or is past it on `today` (YYYY-MM-DD) is named and not offered.
 * Fails     never
 */
export function listSecondValves(frozen: Pick<FrozenDocument, 'device' | 'choice' | 'huddle'>, room: Pick<RoomState, 'kit'>, today: string): SecondValveCard {
  const { sizes, id } = frozen.device;
  const at = sizes.findIndex((s) => s.label === frozen.choice.size);
  const sizeOf = (slot: SecondValveSlot): string | null => (at < 0 ? null : (sizes[slot === 'spare' ? at : slot === 'smaller' ? at - 1 : at + 1]?.label ?? null));
  const valves = SECOND_VALVE_SLOTS.flatMap((slot): SecondValve[] => {
    const size = sizeOf(slot);
    if (size === null) return [];
    const box = readBox(frozen.huddle, slot);
    const said = room.kit[slot] ?? null;
    return [{ slot, device: id, size, place: box.place, expires: box.expires, state: judgeBox(box, said, today), room: said }];
  });
  return { state: valves.some((v) => v.state === 'offered') ? 'ready' : 'none', valves };
}

/** A box of the huddle. */
export interface KitBox {
  readonly isReady: boolean;
  readonly place: string | null;
  readonly expires: string | null;
}
export function readBox(huddle: FrozenDocument['huddle'], slot: string): KitBox {
  const text = (id: string): string | null => {
    const value = huddle[id];
    return typeof value === 'string' && value.trim() !== '' ? value : null;
  };
  return { isReady: huddle[`kit.${slot}.ready`] === true, place: text(`kit.${slot}.place`), expires: text(`kit.${slot}.expires`) };
}

/** ISO days compare as text; the last day of use is still in date. */
export function judgeBox(box: KitBox, said: { readonly isReady: boolean } | null, today: string): SecondValve['state'] {
  if (!box.isReady) return 'not prepared';
  if (said?.isReady === false) return 'not to hand';
  if (box.expires === null) return 'no date';
  if (box.expires < today) return 'expired';
  return box.place === null ? 'no place' : 'offered';
}
