import type { AnyRecord } from './merge-records.ts';
import type { Attempt, LoggedRecord, Manoeuvre, RoomState } from './room-state.ts';
import type { RoomEntry, RoomEntryKind, RoomPhase } from './room-types.ts';
import { standRecords } from './stand-records.ts';

export { mergeRecords } from './merge-records.ts';

type Draft = { -readonly [K in keyof RoomState]: RoomState[K] };
type EntryOf<K extends RoomEntryKind> = Extract<RoomEntry, { is: K }>;
/** What the state does not show. `isBack`: after a full release the team turned to another valve. */
interface Course { isOpen: boolean; isBack: boolean; manoeuvre: { readonly what: Manoeuvre; readonly at: string } | null }

/** A room in which nothing has been logged. */
export function emptyRoom(): RoomState {
  return {
    records: [], phase: null, pacing: null, view: null, depth: null, attempts: [], recaptures: 0, valveOut: null, releasedAt: null, nextValveAt: null, holds: {}, kit: {}, wire: null,
    tension: null, dilated: [], heparin: [], act: [], contrastMl: 0, radiation: null, pressure: null, rescue: [], causes: null, verdict: null, clocks: [], holes: [], lastAt: null,
  };
}

/**
 * State of the room after its records, in whatever order and however often they are given: copies count once, corrections
 * replace, order is that of `happenedAt` (merge-records.ts, stand-records.ts).
 * Fails    never
 * Source   docs/methods/room-log.md
 */
export function foldRoom(given: readonly AnyRecord[]): RoomState {
  const { records, entries } = standRecords(given);
  const room: Draft = { ...emptyRoom(), records, holes: findHoles(records), lastAt: records.reduce<string | null>((last, r) => (last !== null && last > r.happenedAt ? last : r.happenedAt), null) };
  const course: Course = { isOpen: false, isBack: false, manoeuvre: null };
  // Lists grow in place: a copy for each tap would make the fold quadratic.
  const lists = { dilated: [] as RoomState['dilated'][number][], heparin: [] as RoomState['heparin'][number][], act: [] as RoomState['act'][number][] };
  for (const { entry, at } of entries) apply(room, course, lists, entry, at);
  return { ...room, ...lists };
}

function apply(room: Draft, course: Course, lists: { dilated: RoomState['dilated'][number][]; heparin: RoomState['heparin'][number][]; act: RoomState['act'][number][] }, entry: RoomEntry, at: string): void {
  switch (entry.is) {
    case 'phase': return enterPhase(room, course, entry.phase, at);
    case 'pacing':
      room.pacing = { isOn: entry.isOn, ratePerMin: entry.ratePerMin, at };
      // Pacing that came after the frame had moved did not hold it.
      if (entry.isOn && course.isOpen && isRunning(room) && !lastAttempt(room)?.moved) changeAttempt(room, { wasPaced: true });
      return;
    case 'view': room.view = { view: entry.view, at }; return;
    case 'depth': return readDepth(room, course, entry, at);
    case 'fraction':
      takeUp(room, course, at);
      changeAttempt(room, { ratio: { ratio: entry.ratio, at } });
      if (entry.ratio !== null && entry.ratio > 0) openFrame(room, course);
      return;
    case 'hold': room.holds = { ...room.holds, [entry.hold]: { ...entry, at } }; return;
    case 'moved':
      // Often logged late: it belongs to the attempt that was, even when that one is over.
      if (room.attempts.length === 0) takeUp(room, course, at);
      changeAttempt(room, { moved: { direction: entry.direction, mm: entry.mm, at } });
      room.causes = null; // a new movement opens the board again
      outdateDepth(room, 'moved');
      voidVerdict(room, course, 'moved', at);
      return;
    case 'recaptured':
      voidVerdict(room, course, 'recaptured', at);
      return recapture(room, course, at);
    case 'valve-out':
      voidVerdict(room, course, 'valve-out', at);
      room.valveOut = { inspected: entry.inspected, replaced: entry.replaced, at };
      if (isRunning(room) && course.isOpen) recapture(room, course, at);
      return;
    case 'kit': room.kit = { ...room.kit, [entry.item]: { isReady: entry.isReady, at } }; return;
    case 'wire': room.wire = { did: entry.did, side: entry.side, at }; return;
    case 'tension':
      room.tension = { tension: entry.tension, at };
      if (isRunning(room) && !lastAttempt(room)?.moved) changeAttempt(room, { tension: entry.tension });
      return;
    case 'dilated':
      lists.dilated.push({ balloonMm: entry.balloonMm, when: entry.when, at });
      if (entry.when === 'after') voidVerdict(room, course, 'dilated', at);
      return;
    case 'heparin': lists.heparin.push({ units: entry.units, at }); return;
    case 'act': lists.act.push({ seconds: entry.seconds, at }); return;
    case 'contrast': room.contrastMl += entry.ml; return;
    case 'radiation':
      // Totals of the machine only grow: what is not read this time stays as it was read before.
      room.radiation = { airKermaMGy: entry.airKermaMGy ?? room.radiation?.airKermaMGy ?? null, doseAreaGyCm2: entry.doseAreaGyCm2 ?? room.radiation?.doseAreaGyCm2 ?? null, fluoroscopyMin: entry.fluoroscopyMin ?? room.radiation?.fluoroscopyMin ?? null, at };
      return;
    case 'pressure': {
      const { is: _is, ...read } = entry;
      room.pressure = { ...read, at };
      return;
    }
    case 'rescue': room.rescue = turnCard(room.rescue, entry, at); return;
    case 'causes': room.causes = { closedAs: entry.closedAs, because: entry.because, who: entry.who, at }; return;
    case 'verdict': {
      const { is: _is, ...said } = entry;
      // Logged late by another page: who made the verdict did not know of it yet.
      const isUnaware = said.roundAt !== undefined && course.manoeuvre !== null && (said.roundAt === null || course.manoeuvre.at > said.roundAt);
      room.verdict = { ...said, at, voidBy: isUnaware ? course.manoeuvre : null };
      return;
    }
    case 'clock': room.clocks = [...room.clocks.filter((c) => c.name !== entry.name), { name: entry.name, aheadS: entry.aheadS, at }]; return;
    case 'note': return;
  }
}

const lastAttempt = (room: Draft): Attempt | undefined => room.attempts.at(-1);
const isRunning = (room: Draft): boolean => lastAttempt(room)?.endedBy === null;
function changeAttempt(room: Draft, change: Partial<Attempt>): void {
  const last = lastAttempt(room);
  if (last) room.attempts = [...room.attempts.slice(0, -1), { ...last, ...change }];
}

/** The attempt that a depth or a step of release belongs to; a new one when none is running. After full release it goes on. */
function takeUp(room: Draft, course: Course, at: string): void {
  const last = lastAttempt(room);
  if (last && (last.endedBy === null || (last.endedBy === 'released' && !course.isBack))) return;
  course.isOpen = false;
  course.isBack = false;
  room.attempts = [...room.attempts, { number: (last?.number ?? 0) + 1, beganAt: at, start: null, last: null, ratio: null, moved: null, wasPaced: null, tension: room.tension?.tension ?? null, endedBy: null, endedAt: null }];
}

function openFrame(room: Draft, course: Course): void {
  if (course.isOpen) return;
  course.isOpen = true;
  changeAttempt(room, { wasPaced: room.pacing ? room.pacing.isOn : null });
}

function readDepth(room: Draft, course: Course, { reading }: EntryOf<'depth'>, at: string): void {
  takeUp(room, course, at);
  const isStart = !course.isOpen && (reading.unsheathedRatio ?? 0) === 0;
  changeAttempt(room, { last: { reading, at }, ...(isStart ? { start: { reading, at } } : {}) });
  room.depth = { reading, at };
}

/** Where it stood is not where it stands. */
function outdateDepth(room: Draft, before: 'moved' | 'released'): void {
  if (room.depth) room.depth = { ...room.depth, before };
}

/** A verdict answers for the frame as it stood; the first manoeuvre after it is the one that is named. */
function voidVerdict(room: Draft, course: Course, what: Manoeuvre, at: string): void {
  course.manoeuvre = { what, at };
  if (room.verdict?.voidBy === null) room.verdict = { ...room.verdict, voidBy: { what, at } };
}

/** Every read of the attempt is void: the team returns to hold A (job.md, B). */
function resetReads(room: Draft, course: Course): void {
  room.depth = null;
  room.releasedAt = null;
  room.holds = {};
  course.isOpen = false;
}

function recapture(room: Draft, course: Course, at: string): void {
  // Said twice, or by two people, it happened once: a second recapture needs a second attempt.
  if (lastAttempt(room)?.endedBy === 'recaptured') return;
  if (room.attempts.length === 0 || course.isBack) takeUp(room, course, at);
  changeAttempt(room, { endedBy: 'recaptured', endedAt: at });
  room.recaptures += 1;
  course.isBack = false;
  resetReads(room, course);
  // Back at hold A (job.md, B), also before anybody taps the step: the next one is the release.
  if (room.phase && AFTER_POSITION.has(room.phase.phase)) room.phase = { phase: 'position', at };
}
const AFTER_POSITION: ReadonlySet<RoomPhase> = new Set(['releasing', 'decision', 'released', 'result']);

function enterPhase(room: Draft, course: Course, phase: RoomPhase, at: string): void {
  room.phase = { phase, at };
  const wasReleased = lastAttempt(room)?.endedBy === 'released';
  if (wasReleased && !course.isBack && (phase === 'valve-in' || phase === 'position' || phase === 'releasing')) {
    course.isBack = true; // another valve: what was read of the first one does not answer for it
    resetReads(room, course);
    room.nextValveAt = at;
    voidVerdict(room, course, 'next valve', at);
  }
  if (phase === 'releasing' || phase === 'decision') {
    if (phase === 'decision' && wasReleased && !course.isBack) return;
    takeUp(room, course, at);
    openFrame(room, course);
  }
  if (phase !== 'released' || (wasReleased && !course.isBack)) return;
  takeUp(room, course, at);
  openFrame(room, course);
  changeAttempt(room, { endedBy: 'released', endedAt: at });
  room.releasedAt = at;
  outdateDepth(room, 'released');
  voidVerdict(room, course, 'released', at);
}

function turnCard(open: RoomState['rescue'], { card, did, line }: EntryOf<'rescue'>, at: string): RoomState['rescue'] {
  const was = open.find((c) => c.card === card);
  const others = open.filter((c) => c.card !== card);
  if (did === 'closed') return others;
  const is = was ?? { card, openedAt: at, ticked: [] }; // a tick on a card that another page has closed opens it again
  if (did === 'opened') return [...others, is];
  const rest = is.ticked.filter((t) => t.line !== line);
  const changed = { ...is, ticked: did === 'unticked' || line === null ? rest : [...rest, is.ticked.find((t) => t.line === line) ?? { line, at }] };
  return was ? open.map((c) => (c.card === card ? changed : c)) : [...others, changed];
}

/** Most missing counts that are listed for one page. */
const MOST_MISSING = 1000;
function findHoles(records: readonly LoggedRecord[]): RoomState['holes'] {
  const counts = new Map<string, number[]>();
  for (const { clientId, count } of records) {
    const list = counts.get(clientId);
    if (list) list.push(count); else counts.set(clientId, [count]);
  }
  return [...counts.keys()].sort().flatMap((clientId) => {
    const missing: number[] = [];
    let next = 1;
    for (const count of counts.get(clientId)!.sort((a, b) => a - b)) {
      for (; next < count && missing.length < MOST_MISSING; next += 1) missing.push(next);
      next = Math.max(next, count + 1);
    }
    return missing.length === 0 ? [] : [{ clientId, missing }];
  });
}
