import { measureViewAngle, type CameraView } from '../projection/camera-view.ts';
import type { ViewRole } from '../projection/view-types.ts';
import { formatInstant, readInstantMs } from '../units/iso-time.ts';
import type { FrozenDocument } from './frozen-types.ts';
import { isInDate, listKit } from './list-kit.ts';
import { listWallCauses } from './list-wall-causes.ts';
import { makeWallRemedies, makeWallVerdict } from './make-wall-verdict.ts';
import type { RoomState } from './room-state.ts';
import { computeRoomTimers, type TotalOf } from './room-timers.ts';
import type { HoldAnswer, WallBoard, WallCardFacts, WallKitItem, WallStrip, WallTotal, WallWait } from './wall-types.ts';

/** What a card is made of. */
export interface CardPlace {
  readonly frozen: FrozenDocument;
  readonly room: RoomState;
  readonly nowMs: number;
  readonly strip: WallStrip;
  readonly code: readonly [string, string];
  readonly wall: string;
  /** Hold C as it still stands. */
  readonly answerC: HoldAnswer | null;
}

/**
 * The facts of one card. Nothing is worded, rounded or laid out here.
 * Shape     pure
 * Source    docs/methods/wall.md
 */
export function makeWallCard(name: WallBoard['name'], place: CardPlace): WallCardFacts {
  const { frozen, room, strip } = place;
  const { choice } = frozen;
  switch (name) {
    case 'mismatch': case 'other-patient': case 'reading': case 'not-frozen': return { is: name };
    case 'screen': return { is: 'screen', wall: place.wall };
    case 'rescue': return makeRescue(place);
    case 'jump': return makeJump(place);
    case 'plan':
      return { is: 'plan', device: choice.device, size: choice.size, frozenAt: frozen.frozenAt, identityAt: frozen.identityCheckedAt, overrides: frozen.overrides.length, acceptedDoubts: frozen.acceptedDoubts.length };
    case 'kit': return { is: 'kit', items: listWallKit(place), pacing: strip.pacing };
    case 'valve': return { is: 'valve', device: choice.device, size: choice.size, spare: listWallKit(place).filter((k) => k.size !== null && k.item !== 'first') };
    case 'view': return makeView(place);
    case 'depth': return { is: 'depth', window: strip.window, depth: strip.depth };
    case 'time': return { is: 'time', sinceMs: strip.sinceReleaseMs, wait: readWait(frozen), depth: strip.depth };
    case 'result': return { is: 'result', answer: place.answerC, sinceMs: strip.sinceReleaseMs, wait: readWait(frozen), pressure: room.pressure, depth: strip.depth, voidVerdict: room.verdict?.voidBy ? room.verdict : null };
    case 'verdict': return makeWallVerdict(room, strip.sinceReleaseMs, place.nowMs);
    case 'remedies': return makeWallRemedies(room, strip.sinceReleaseMs, place.nowMs);
    case 'totals': return { is: 'totals', totals: listWallTotals(place) };
    case 'handover':
      return {
        is: 'handover', device: choice.device, size: choice.size, depth: strip.depth, answer: room.holds.C ?? null, recaptures: room.recaptures, attempts: room.attempts.length,
        surgeon: readText(frozen, 'team.surgeon'), decides: readText(frozen, 'team.decides'), pacing: strip.pacing,
      };
  }
}

const readText = ({ huddle }: FrozenDocument, field: string): string | null => (typeof huddle[field] === 'string' ? huddle[field] : null);
const readWait = ({ limits: { expansionWaitS: rule }, device }: FrozenDocument): WallWait => (rule && device.kind === 'self-expanding' ? { ms: rule.value * 1000, isUnverified: rule.status === 'M' } : null);

function makeRescue({ frozen, room, nowMs }: CardPlace): WallCardFacts {
  const open = room.rescue.at(-1)!;
  const card = frozen.rescue.cards.find((c) => c.id === open.card)!;
  const ticked = new Set(open.ticked.map((t) => t.line));
  return {
    is: 'rescue', title: card.title, isSigned: !frozen.rescue.isDefault, elapsedMs: Math.max(0, nowMs - readInstantMs(open.openedAt)),
    lines: card.lines.map((text, i) => ({ text, isTicked: ticked.has(i) })), alsoOpen: room.rescue.length - 1,
  };
}

function makeJump({ frozen, room, nowMs }: CardPlace): WallCardFacts {
  const moved = room.attempts.filter((a) => a.moved !== null).at(-1)?.moved ?? null;
  return { is: 'jump', moved, ageMs: moved ? Math.max(0, nowMs - readInstantMs(moved.at)) : null, rows: listWallCauses(frozen, room), closedAs: room.causes?.closedAs ?? null };
}

/** Two views nearer than this are the same view to a C-arm that is read in whole degrees. */
const SAME_VIEW_DEG = 1.5;
function makeView({ frozen, room }: CardPlace): WallCardFacts {
  const { views } = frozen.plan;
  const asked = frozen.huddle['views.first'];
  const role = (typeof asked === 'string' ? asked : 'start') as ViewRole;
  const chosen = views?.chosen.find((v) => v.role === role) ?? null;
  const second = views?.chosen.find((v) => v.role === frozen.huddle['views.second']) ?? null;
  const plain = (v: CameraView): CameraView => ({ primaryDeg: v.primaryDeg, secondaryDeg: v.secondaryDeg });
  const awayDeg = chosen && room.view ? measureViewAngle(room.view.view, chosen) : null;
  return {
    is: 'view', role, view: chosen && plain(chosen), withinDeg: chosen?.withinDeg ?? null, isInReach: chosen?.reach ?? false, instead: chosen?.instead ? plain(chosen.instead) : null,
    isWithheld: views?.offered === false, seen: room.view && awayDeg !== null ? { view: room.view.view, awayDeg, isSame: awayDeg <= SAME_VIEW_DEG } : null,
    second: second && plain(second), startMm: frozen.choice.startMm, wire: room.wire,
  };
}

/** The huddle's list with what the room has said since; then what the room named beside it. */
function listWallKit({ frozen, room, nowMs }: CardPlace): readonly WallKitItem[] {
  const size = frozen.device.sizes.find((s) => s.label === frozen.choice.size);
  const day = (formatInstant(nowMs) ?? '').slice(0, 10);
  const listed = size ? listKit(frozen.device, size, (id) => frozen.huddle[id]) : [];
  const known = new Set<string>(listed.map((k) => k.slot));
  return [
    ...listed.flatMap((k): WallKitItem[] => {
      const isReady = room.kit[k.slot]?.isReady ?? k.isReady;
      if (!k.isNeeded && isReady === null) return [];
      return [{ item: k.slot, size: k.valve?.size ?? null, isReady, place: k.place, isInDate: isInDate(k, day) }];
    }),
    ...Object.entries(room.kit).filter(([item]) => !known.has(item)).map(([item, { isReady }]): WallKitItem => ({ item, size: null, isReady, place: null, isInDate: null })),
  ];
}

/** What was used against the signed limits; without a rule nothing is said against it. */
function listWallTotals({ frozen, room, nowMs }: CardPlace): readonly WallTotal[] {
  const { contrast, airKerma, doseArea, act, heparin } = computeRoomTimers(room, frozen, nowMs);
  const most = (code: WallTotal['code'], t: TotalOf): WallTotal => ({ code, value: t.value, limit: t.limit, isPast: t.state === 'past', isUnverified: t.isUnverified, isOutdated: false });
  return [
    most('contrast', contrast), most('air-kerma', airKerma), most('dose-area', doseArea),
    { code: 'act', value: act?.seconds ?? null, limit: act?.leastS ?? null, isPast: act?.isBelow === true, isUnverified: act?.isUnverified ?? false, isOutdated: act?.isBeforeHeparin ?? false },
    { code: 'heparin', value: heparin?.totalUnits ?? null, limit: null, isPast: false, isUnverified: false, isOutdated: false },
  ];
}
