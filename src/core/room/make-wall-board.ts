import { readInstantMs } from '../units/iso-time.ts';
import { listWallWarnings } from './list-wall-warnings.ts';
import { makeWallCard, type CardPlace } from './make-wall-card.ts';
import { judgeLiveDepth, readDepthWindow } from './judge-depth-place.ts';
import { judgeRecapture } from './judge-recapture.ts';
import type { FrozenDocument } from './frozen-types.ts';
import type { RoomState } from './room-state.ts';
import { computeRoomTimers } from './room-timers.ts';
import type { RoomPhase, WallCardName } from './room-types.ts';
import type { Hold, HoldAnswer, HoldState, WallAsk, WallBoard, WallDepth, WallStrip, WallWindow } from './wall-types.ts';

/** How long a card that a pedal asked for stays, ms. */
export const GLANCE_MS = 20_000;

/** The card of each step; `position` begins with the view and turns to the ruler with the first depth of the attempt. */
const CARD_OF_PHASE: Readonly<Record<RoomPhase, WallCardName>> = {
  identity: 'plan', access: 'kit', crossing: 'view', 'valve-in': 'valve', position: 'view', releasing: 'depth', decision: 'depth',
  released: 'time', result: 'result', closing: 'totals', handover: 'handover',
};

/**
 * What stands on the wall: the frozen plan, the room's log and the time, and nothing else (job.md, E15). Which card it is
 * follows in this order: a plan that is not the case's own or may be another patient's; an open rescue card; a jump that nobody has answered; the hands
 * on the frame (depth in `position`, `releasing`, `decision`). Only where none of these holds may the desk, the remote or a
 * pedal ask for another card, until the next phase.
 * Shape     pure: the same ask gives the same board
 * Source    docs/methods/wall.md
 */
export function makeWallBoard(ask: WallAsk): WallBoard {
  const { frozen, frozenSha256, room, nowMs } = ask;
  const newestAgeMs = room.lastAt === null ? null : Math.max(0, nowMs - readInstantMs(room.lastAt));
  const base = { hold: null, strip: null, warnings: [], label: null, training: false, hasUnverified: false, code: null, nowMs, utcOffsetMin: ask.settings.utcOffsetMin, newestAgeMs } as const;
  if (ask.frozenState === 'mismatch') return { ...base, name: 'mismatch', card: { is: 'mismatch' }, because: 'must' };
  if (ask.isOfAnother) return { ...base, name: 'other-patient', card: { is: 'other-patient' }, because: 'must' };
  const warnings = listWallWarnings(ask);
  if (ask.frozenState !== 'ready' || !frozen || frozenSha256 === null) {
    const name = ask.frozenState === 'reading' ? 'reading' : 'not-frozen';
    return { ...base, warnings, name, card: { is: name }, because: 'must' };
  }
  const strip = makeStrip(frozen, room, nowMs);
  const place: CardPlace = { frozen, room, nowMs, strip, code: splitCode(frozenSha256), wall: ask.settings.wall, answerC: findStandingAnswer(room, 'C') };
  const { name, because } = chooseCard(ask, frozen);
  return {
    ...base, name, because, card: makeWallCard(name, place), hold: findHold(room), strip, warnings, label: frozen.label, training: frozen.training, code: place.code,
    hasUnverified: Object.values(frozen.limits).some((rule) => rule !== null && rule.status === 'M') || ((name === 'verdict' || name === 'remedies') && room.verdict?.isUnverified === true),
  };
}

/** First eight signs, in the two groups that are read aloud. */
export const splitCode = (sha256: string): readonly [string, string] => [sha256.slice(0, 4), sha256.slice(4, 8)];

/** Whether desk, remote and pedal may choose the card now; else the room has the say. */
export const isWallFree = (room: RoomState): boolean => room.rescue.length === 0 && !isJumpOpen(room) && !isHandsOn(room);

function chooseCard(ask: WallAsk, frozen: FrozenDocument): { readonly name: WallBoard['name']; readonly because: WallBoard['because'] } {
  const { room, nowMs, settings } = ask;
  const open = room.rescue.at(-1);
  if (open && frozen.rescue.cards.some((c) => c.id === open.card)) return { name: 'rescue', because: 'must' };
  if (isJumpOpen(room)) return { name: 'jump', because: 'must' };
  if (isHandsOn(room)) return { name: 'depth', because: 'must' };
  const { glance } = settings;
  const age = glance ? nowMs - glance.atMs : Infinity;
  // A glance ends with the next tap in the room, and by itself.
  const isLooking = glance !== null && age >= 0 && age < GLANCE_MS && (room.lastAt === null || readInstantMs(room.lastAt) <= glance.atMs);
  if (isLooking) return { name: glance.card, because: 'glance' };
  const asked = findAsked(room);
  if (asked) return { name: asked, because: 'asked' };
  const said = findVerdictCard(room);
  if (said) return { name: said, because: 'phase' };
  return { name: room.phase ? CARD_OF_PHASE[room.phase.phase] : 'plan', because: 'phase' };
}

/**
 * After the release a verdict that a person put on the wall stands there, until a manoeuvre makes it void. The remedy board
 * follows when the room has answered ACT at hold C since then, whatever the word: it never comes by itself, and a wall that
 * turns over would take the word away before it was read.
 */
function findVerdictCard(room: RoomState): 'verdict' | 'remedies' | null {
  const { phase, verdict } = room;
  const said = findStandingAnswer(room, 'C');
  if (!verdict || verdict.voidBy !== null || (phase?.phase !== 'result' && phase?.phase !== 'released')) return null;
  return said?.answer === 'act' && said.at >= verdict.at ? 'remedies' : 'verdict';
}

/** The frame is being placed and a depth was read: its place may not be taken by another card. */
function isHandsOn(room: RoomState): boolean {
  const phase = room.phase?.phase;
  return phase === 'releasing' || phase === 'decision' || (phase === 'position' && room.depth !== null);
}

/** The frame moved, and since then nobody took it back, closed the causes or went on to a step after the release. */
function isJumpOpen(room: RoomState): boolean {
  const attempt = room.attempts.at(-1);
  const moved = attempt?.moved;
  if (!attempt || !moved || attempt.endedBy === 'recaptured') return false;
  if (room.causes && room.causes.at >= moved.at) return false;
  return room.phase === null || room.phase.at <= moved.at;
}

/** The card that was asked for in this phase, the newest first; null: none, or the phase's own was asked for. */
function findAsked(room: RoomState): WallCardName | null {
  const since = room.phase?.at ?? '';
  for (let i = room.records.length - 1; i >= 0 && room.records[i]!.happenedAt >= since; i--) {
    const { standing, entry } = room.records[i]!;
    if (standing === 'current' && entry?.is === 'show') return entry.card;
  }
  return null;
}

/**
 * What was answered in this pass through the phase. ACT is done with the balloon, and WAIT and FINISH answered for the frame as
 * it was: after a manoeuvre hold C is open again, so that no wall and no desk goes on saying ACT.
 */
export function findStandingAnswer({ phase, holds, dilated, verdict }: RoomState, hold: Hold): HoldAnswer | null {
  const answer = holds[hold] ?? null;
  if (!answer || answer.at < (phase?.at ?? '')) return null;
  const isDone = hold === 'C' && (dilated.some((d) => d.when === 'after' && d.at >= answer.at) || (verdict?.voidBy ?? { at: '' }).at >= answer.at);
  return isDone ? null : answer;
}

/** The hold point of the phase (job.md, B) and what was answered in it. */
function findHold(room: RoomState): HoldState {
  const hold = { position: 'A', decision: 'B', result: 'C' } as const;
  const phase = room.phase?.phase;
  if (phase !== 'position' && phase !== 'decision' && phase !== 'result') return null;
  return { hold: hold[phase], answer: findStandingAnswer(room, hold[phase]) };
}

function makeStrip(frozen: FrozenDocument, room: RoomState, nowMs: number): WallStrip {
  const since = (at: string): number => Math.max(0, nowMs - readInstantMs(at));
  const { pacing } = computeRoomTimers(room, frozen, nowMs); // another rate is the same run, here as on the desk
  return {
    phase: room.phase?.phase ?? null, inPhaseMs: room.phase ? since(room.phase.at) : null, window: readWindow(frozen), depth: readLiveDepth(frozen, room, nowMs),
    pacing: pacing && { isOn: pacing.isOn, ratePerMin: pacing.ratePerMin, sinceMs: Math.round(pacing.forS * 1000) },
    recapture: judgeRecapture(frozen, room, nowMs), isBeforePosition: isBeforePosition(room), size: frozen.choice.size, sinceReleaseMs: room.releasedAt === null ? null : since(room.releasedAt),
  };
}

/** Nothing of an attempt was logged, and the step is one before the ring. */
function isBeforePosition(room: RoomState): boolean {
  const phase = room.phase?.phase;
  const isEarly = phase === undefined || phase === 'identity' || phase === 'access' || phase === 'crossing' || phase === 'valve-in';
  return isEarly && room.depth === null && (room.attempts.at(-1)?.endedBy ?? 'none') !== null;
}

function readLiveDepth(frozen: FrozenDocument, room: RoomState, nowMs: number): WallDepth | null {
  const { depth } = room;
  if (!depth) return null;
  const { age, ...placed } = judgeLiveDepth(depth, readDepthWindow(frozen), nowMs, frozen.limits);
  return { ...depth, ...placed, age: age ?? { state: 'not known', ageS: null } };
}

/** Start, aim and stop for the valve that goes in; a landing window of another size says nothing here. */
export function readWindow(frozen: FrozenDocument): WallWindow {
  const { landing } = frozen.plan;
  const window = readDepthWindow(frozen);
  const isOwn = landing !== undefined && window.state !== 'none';
  const agreed = frozen.huddle['depth.stopMm'];
  const stops = [isOwn ? landing.stopMm : null, typeof agreed === 'number' ? agreed : null].filter((v): v is number => v !== null);
  const { conflict, limits } = isOwn ? landing : { conflict: null, limits: [] };
  const mostMm = limits.find((l) => l.code === conflict?.high)?.highMm ?? null;
  const leastMm = limits.find((l) => l.code === conflict?.low)?.lowMm ?? null;
  return {
    state: window.state, unknownLimits: window.accepted?.length ?? 0, startMm: frozen.choice.startMm, aimLowMm: window.lowMm, aimHighMm: window.highMm,
    stopMm: window.state === 'empty' || stops.length === 0 ? null : Math.min(...stops), gap: mostMm === null || leastMm === null ? null : { mostMm, leastMm },
  };
}
