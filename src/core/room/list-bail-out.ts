import { HUDDLE_BRANCHES } from '../case/case-events.ts';
import { BOARD_EN } from '../text/board-en.ts';
import { formatText } from '../text/catalogue.ts';
import { FREEZE_EN } from '../text/freeze-en.ts';
import type { FrozenDocument } from './frozen-types.ts';
import type { KitSlot } from './huddle-fields.ts';
import type { RoomState } from './room-state.ts';
import { listBoxes, type ReadyBox } from './second-valve.ts';

/** One line of the ways out; `text` null: nobody agreed on it. */
export interface BailOutLine {
  readonly id: string;
  readonly label: string;
  readonly text: string | null;
  /** The signed rule behind it is of status M. */
  readonly isUnverified: boolean;
}
/** Tools of the list, in its order; the valves have their own card. */
const TOOLS: readonly KitSlot[] = ['snare', 'balloon', 'stent', 'drain', 'coronary', 'sheath'];

/**
 * What was agreed before, with the team's own people, places and numbers from the frozen huddle, signed table and signed
 * rules; what nobody agreed on is said so, never filled in.
 * Fails     never
 */
export function listBailOut(frozen: FrozenDocument, room: Pick<RoomState, 'kit'>, today: string): readonly BailOutLine[] {
  const { huddle, branches, limits, device, choice } = frozen;
  const textOf = (id: string): string | null => (typeof huddle[id] === 'string' && huddle[id].trim() !== '' ? huddle[id] : null);
  const choiceOf = (id: string): string | null => {
    const value = textOf(id);
    return value === null ? null : ((FREEZE_EN as Readonly<Record<string, string>>)[`choice-${value}`] ?? value.replaceAll('-', ' '));
  };
  const numberOf = (id: string): number | null => (typeof huddle[id] === 'number' ? huddle[id] : null);
  const line = (id: string, label: string, text: string | null, isUnverified = false): BailOutLine => ({ id, label, text, isUnverified });
  const said = (text: string | null): string => text ?? BOARD_EN.notSaid;
  const size = device.sizes.find((s) => s.label === choice.size);
  const boxes = new Map(listBoxes(frozen, room, today).map((b) => [b.slot, b] as const));
  const agreed = textOf('rescue.surgery');
  const surgery = agreed === null ? null : (BOARD_EN as Readonly<Record<string, string>>)[`surgery-${agreed}`] ?? agreed;
  const surgeon = textOf('team.surgeon');
  const site = choiceOf('access.site');
  const sheathMm = numberOf('access.sheathMm') ?? size?.sheathOuterMm ?? null;
  const route = choiceOf('pacing.route');
  const wait = device.kind === 'self-expanding' ? limits.expansionWaitS : null;
  return [
    line('decides', BOARD_EN.bailDecides, textOf('team.decides')),
    ...HUDDLE_BRANCHES.map((b) => line(b, BOARD_EN[`bail-${b}`], branches[b] ? formatText(BOARD_EN, 'bailBranch', branches[b]) : null)),
    line('stop', BOARD_EN.bailStop, textOf('stop.when')),
    line('surgery', BOARD_EN.bailSurgery, surgery === null ? null : surgeon ? formatText(BOARD_EN, 'bailSurgeon', { agreed: surgery, surgeon }) : surgery),
    ...TOOLS.flatMap((slot) => {
      const box = boxes.get(slot);
      return box ? [line(`kit-${slot}`, BOARD_EN[`kit-${slot}` as keyof typeof BOARD_EN], sayBox(box))] : [];
    }),
    line('access', BOARD_EN.bailAccess, site === null ? null : formatText(BOARD_EN, 'bailAccessLine', {
      site, side: said(choiceOf('access.side')), sheath: sheathMm === null ? BOARD_EN.notSaid : formatText(BOARD_EN, 'millimetres', { mm: sheathMm.toFixed(1) }), second: said(textOf('access.second')),
    })),
    line('pacing', BOARD_EN.bailPacing, route === null ? null : formatText(BOARD_EN, 'bailPacingLine', { route, rate: formatText(BOARD_EN, 'perMinute', { rate: choice.paceBpm }), by: said(textOf('pacing.by')) })),
    ...(size ? [line('balloon-most', BOARD_EN.bailBalloon, formatText(BOARD_EN, 'millimetres', { mm: String(size.balloonMaxMm) }))] : []),
    ...(wait ? [line('wait', BOARD_EN.bailWait, formatText(BOARD_EN, 'bailSeconds', { minutes: String(Math.round(wait.value / 6) / 10) }), wait.status === 'M')] : []),
  ];
}

/** A box in one line. */
export function sayBox(box: ReadyBox): string {
  return formatText(BOARD_EN, `box-${box.state}`, { place: box.place ?? BOARD_EN.notSaid, expires: box.expires ?? BOARD_EN.notSaid });
}
