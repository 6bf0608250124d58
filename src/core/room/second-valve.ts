import type { FrozenDocument } from './frozen-types.ts';
import { isInDate, listKit, type KitItem } from './list-kit.ts';
import type { RoomState } from './room-state.ts';

/** Boxes of the huddle that hold another valve, in the order of the card. */
const SECOND_SLOTS: ReadonlySet<string> = new Set(['spare', 'smaller', 'larger']);
export type BoxState = 'offered' | 'not prepared' | 'no place' | 'no date' | 'expired' | 'not to hand';
/** A box as the huddle left it and as the room has spoken of it since. */
export interface ReadyBox extends KitItem {
  readonly state: BoxState;
  /** The room said that it is ready (true) or not (false), and when; null: nobody said. */
  readonly room: { readonly isReady: boolean; readonly at: string } | null;
}
export interface SecondValveCard {
  readonly state: 'ready' | 'none';
  readonly valves: readonly ReadyBox[];
}
type Frozen = Pick<FrozenDocument, 'device' | 'choice' | 'huddle'>;

/** Everything that was to lie ready, with what the room says of it, on `today` (YYYY-MM-DD). */
export function listBoxes(frozen: Frozen, room: Pick<RoomState, 'kit'>, today: string): readonly ReadyBox[] {
  const size = frozen.device.sizes.find((s) => s.label === frozen.choice.size);
  if (!size) return [];
  return listKit(frozen.device, size, (id) => frozen.huddle[id]).map((item) => {
    const said = room.kit[item.slot] ?? null;
    return { ...item, state: judgeBox(item, said, today), room: said };
  });
}

/**
 * The second valve as it was frozen: the same size again and its neighbours in the signed table, nothing else (job.md,
 * D42). What was not prepared, has no date or place, or is past its date is named and not offered.
 * Fails     never
 * Source    docs/methods/room-judgements.md
 */
export function listSecondValves(frozen: Frozen, room: Pick<RoomState, 'kit'>, today: string): SecondValveCard {
  const valves = listBoxes(frozen, room, today).filter((b) => SECOND_SLOTS.has(b.slot));
  return { state: valves.some((v) => v.state === 'offered') ? 'ready' : 'none', valves };
}

/** ISO days compare as text; the last day of use is still in date. */
function judgeBox(item: KitItem, said: { readonly isReady: boolean } | null, today: string): BoxState {
  if (said?.isReady === false) return 'not to hand';
  if (item.isReady !== true && said?.isReady !== true) return 'not prepared';
  const inDate = isInDate(item, today);
  if (inDate === null) return 'no date';
  if (!inDate) return 'expired';
  return item.place === null && said?.isReady !== true ? 'no place' : 'offered';
}
