import { computed, signal } from '@preact/signals';
import { formatCanonical } from '../../core/audit/format-canonical.ts';
import { foldRoom, mergeRecords } from '../../core/room/fold-room.ts';
import type { FrozenDocument } from '../../core/room/frozen-types.ts';
import type { RoomState } from '../../core/room/room-state.ts';
import type { RoomEntry, RoomRecord } from '../../core/room/room-types.ts';
import type { ApiFailure } from '../api/call-api.ts';
import { makeFeedPath, readClock, readFrozen, readRoom, sendRecords, type RoomNews } from '../api/room-api.ts';
import { chooseAnchor, correctTap, estimateServerTime, makeAnchor, readJump, type ClockAnchor, type PageTime } from './room-clock.ts';
import { canKeep, forgetOld, listRecords, listTaps, putFrozenText, putNote, putTap, readFrozenText, readKeptRoom, readNote, settleTaps, type KeptRecord, type QueuedTap } from './room-queue.ts';
import { actingSession, keepSession, readSession, session } from './session.ts';

/**
 * The room of one case as a page has it: the frozen plan, the log, and the taps that the server has not. A tap is on the
 * page at once, then on the disk of this browser and on its way to the server; what the server does not confirm is sent
 * again, also by another tab or after a reload. Reads come from the browser's own store first, so that a page without a
 * server opens and goes on.
 */
export type RoomPlace = RoomRecord['place'];
/** The frozen plan that acts; null unless its hash was found right in this page. */
export const frozen = signal<FrozenDocument | null>(null);
export const frozenState = signal<'none' | 'reading' | 'ready' | 'mismatch'>('none');
/** SHA-256 of the plan that acts, also while it is being read or does not match. */
export const frozenSha256 = signal<string | null>(null);
/** Which case this is; null until server or browser have said so. */
export const roomCase = signal<Omit<RoomNews, 'records'> | null>(null);
/** Why the server gave no room: the case is unknown, nobody is logged in, or this session may not. */
export const roomFailure = signal<ApiFailure | null>(null);
/** Whether the server was heard last time it was asked or listened to. */
export const isOnline = signal(true);
/** Server time of the newest news, ms: when this page last knew that it had everything. */
export const newsAt = signal<number | null>(null);
/** Taps that the server refused for good: kept, shown, sent again only by the next load of the page. */
export const stuck = signal<readonly { readonly entryId: string; readonly failure: ApiFailure }[]>([]);
/** False: this browser keeps nothing, and a reload would lose what waits. */
export const isKept = signal(true);
/** Waiting taps of other people on this browser: they are sent when those log in. */
export const waitingOfOthers = signal(0);

const records = signal<readonly KeptRecord[]>([]);
export const room = computed<RoomState>(() => foldRoom(records.value));
const waitingRecords = computed(() => records.value.filter((r) => r.seq === null && r.isSent === undefined));
/** How many taps the server has not. */
export const waiting = computed(() => waitingRecords.value.length);

/** This page's own mark on its taps. */
const ownClient = signal('');
/** The newest tap of this page that counts: what Undo takes back. */
export const lastTap = computed(() => room.value.records.filter((r) => r.clientId === ownClient.value && r.standing === 'current' && r.entry !== null).reduce<RoomState['records'][number] | null>((last, r) => (last !== null && last.count > r.count ? last : r), null));

const LEAST_RETRY_MS = 1000;
const MOST_RETRY_MS = 15_000;
/** How often a page asks although the feed is open: a feed may hang without an error. */
const LOOK_MS = 15_000;
const CLOCK_MS = 120_000;
/** What was not heard of for longer than a session lasts is not kept. */
const FORGET_MS = 12 * 60 * 60_000;
const CLOCK_TRIES = 4;
const CLOCK_GOOD_MS = 50;
const MOST_RECORDS = 200;
/** Below the server's limit for a body. */
const MOST_SEND_CHARS = 48 * 1024;

interface Opened {
  readonly caseId: string;
  readonly place: RoomPlace;
  readonly clientId: string;
  count: number;
  seq: number;
  /** Whose taps wait, by entry; null: made without a known session. */
  readonly owners: Map<string, string | null>;
  feed: EventSource | null;
  readonly timers: Set<ReturnType<typeof setTimeout>>;
}
let opened: Opened | null = null;
let frozenText: string | null = null;

// --- clock -------------------------------------------------------------------------------------------------------
let anchor: ClockAnchor | null = null;
const readPageTime = (): PageTime => ({ monoMs: performance.now(), wallMs: Date.now() });
/** The server's time now, as well as this page knows it, ms. */
export const readServerNow = (): number => estimateServerTime(anchor, readPageTime()).atMs;
/** How well: within what, ms; null: never compared. */
export const readClockDoubt = (): number | null => estimateServerTime(anchor, readPageTime()).offset?.withinMs ?? null;

async function compareClocks(): Promise<void> {
  const before = readPageTime();
  const answer = await readClock();
  const after = readPageTime();
  if (!answer.ok) return noteReach(answer.failure);
  anchor = chooseAnchor(anchor, makeAnchor(before, after, answer.value.nowMs));
  noteReach(null);
  if (opened !== null) void putNote('clock', anchor);
}
/** A page that opens without its server starts from the last comparison of this browser: its wall clock is all they share. */
async function restoreClock(): Promise<void> {
  const kept = (await readNote('clock')) as ClockAnchor | undefined;
  if (anchor !== null || kept === undefined || typeof kept.serverMs !== 'number') return;
  const now = readPageTime();
  const agedMs = now.wallMs - kept.wallMs;
  anchor = { ...now, serverMs: kept.serverMs + agedMs, withinMs: kept.withinMs + 1000 + Math.abs(agedMs) * 1e-4 };
}

// --- opening -----------------------------------------------------------------------------------------------------
/** Opens the room of a case; the one that is open stays as it is. What this browser keeps is shown before the server answers. */
export async function openRoom(caseId: string, place: RoomPlace): Promise<void> {
  if (opened?.caseId === caseId && opened.place === place) return;
  closeRoom();
  const mine: Opened = { caseId, place, clientId: crypto.randomUUID(), count: 0, seq: 0, owners: new Map(), feed: null, timers: new Set() };
  opened = mine;
  ownClient.value = mine.clientId;
  await Promise.all([restoreClock(), restoreRoom(mine)]);
  if (opened !== mine) return;
  void forgetOld(caseId, Date.now() - FORGET_MS);
  repeat(mine, compareClocks, CLOCK_MS);
  repeat(mine, () => lookAgain(mine), LOOK_MS);
  follow(mine);
  await Promise.all([settleClock(mine), catchUp(mine)]);
}
/** At opening a page has much to do, and its first comparison may be a wide one: a few more. */
async function settleClock(mine: Opened): Promise<void> {
  for (let i = 0; i < CLOCK_TRIES && opened === mine; i++) {
    await compareClocks();
    if ((readClockDoubt() ?? 0) < CLOCK_GOOD_MS) return; // good, or without a server
    await new Promise((resolve) => setTimeout(resolve, 1000));
  }
}
/** Ends what the page listens to; taps that wait stay in the browser. */
function closeRoom(): void {
  opened?.feed?.close();
  for (const timer of opened?.timers ?? []) clearInterval(timer);
  opened = null;
  frozenText = null;
  records.value = [];
  frozen.value = null;
  frozenSha256.value = null;
  frozenState.value = 'none';
  roomCase.value = null;
  roomFailure.value = null;
  newsAt.value = null;
  stuck.value = [];
  waitingOfOthers.value = 0;
}
function repeat(mine: Opened, work: () => Promise<unknown>, everyMs: number): void {
  mine.timers.add(setInterval(() => void work(), everyMs));
}

async function restoreRoom(mine: Opened): Promise<void> {
  const [room, known, , isStoreOpen] = await Promise.all([readKeptRoom(mine.caseId), listRecords(mine.caseId), adoptTaps(mine), canKeep()]);
  if (opened !== mine) return;
  isKept.value = isStoreOpen;
  addRecords(known);
  if (room === null || roomCase.value !== null) return;
  const { newsAtMs, ...about } = room;
  mine.seq = Math.max(mine.seq, about.seq);
  roomCase.value = about;
  newsAt.value = newsAtMs;
  await takeFrozen(mine, about.frozen?.frozenSha256 ?? null);
}
/** Taps in this browser's queue, of this page or of one that is gone: they are shown and sent by whoever is open. */
async function adoptTaps(mine: Opened): Promise<void> {
  const taps = await listTaps(mine.caseId);
  if (opened !== mine) return;
  for (const tap of taps) mine.owners.set(tap.record.entryId, tap.personId);
  addRecords(taps.map((tap) => ({ ...tap.record, by: tap.personId, seq: null })));
}

function addRecords(added: readonly KeptRecord[]): void {
  if (added.length === 0) return;
  const sent = new Set(records.value.flatMap((r) => (r.isSent ? [r.entryId] : [])));
  records.value = mergeRecords(records.value, added).map((r) => (r.seq === null && sent.has(r.entryId) && r.isSent === undefined ? { ...r, isSent: true as const } : r));
}

// --- the frozen plan ---------------------------------------------------------------------------------------------
async function hashText(text: string): Promise<string> {
  const digest = await crypto.subtle.digest('SHA-256', new TextEncoder().encode(text));
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}
/** The document of a text, or null: not what its hash says, not canonical, or of another kind. */
async function readFrozenDocument(text: string, sha256: string, caseId: string): Promise<FrozenDocument | null> {
  if ((await hashText(text)) !== sha256) return null;
  try {
    const document = JSON.parse(text) as FrozenDocument;
    return document.format === 'trinadir.frozen/1' && document.caseId === caseId && formatCanonical(document) === text ? document : null;
  } catch {
    return null;
  }
}
async function takeFrozen(mine: Opened, sha256: string | null): Promise<void> {
  if (frozenSha256.value === sha256 && frozenState.value !== 'reading') return;
  frozenSha256.value = sha256;
  if (sha256 === null) {
    [frozen.value, frozenText, frozenState.value] = [null, null, 'none'];
    return;
  }
  [frozen.value, frozenText, frozenState.value] = [null, null, 'reading'];
  const isWanted = (): boolean => opened === mine && frozenSha256.value === sha256;
  const kept = await readFrozenText(sha256);
  const known = kept === null ? null : await readFrozenDocument(kept, sha256, mine.caseId);
  if (!isWanted() || frozenState.value !== 'reading') return;
  if (known !== null) {
    [frozen.value, frozenText, frozenState.value] = [known, kept, 'ready'];
    return;
  }
  const answer = await readFrozen(mine.caseId, sha256);
  if (!isWanted() || frozenState.value !== 'reading') return;
  if (!answer.ok) return noteReach(answer.failure); // tried again with the next news
  const text = await answer.value.text().catch(() => null);
  if (text === null || !isWanted()) return;
  const document = await readFrozenDocument(text, sha256, mine.caseId);
  if (!isWanted()) return;
  if (document === null) {
    [frozen.value, frozenText, frozenState.value] = [null, null, 'mismatch'];
    return;
  }
  [frozen.value, frozenText, frozenState.value] = [document, text, 'ready'];
  void putFrozenText(sha256, text);
}
/** Computes the hash of what is shown once more; from then on a plan that does not match is not shown. */
export async function checkFrozen(): Promise<void> {
  const [text, sha256] = [frozenText, frozenSha256.value];
  if (text === null || sha256 === null || frozenState.value !== 'ready') return;
  if ((await hashText(text)) === sha256 && formatCanonical(frozen.peek()) === text) return;
  if (frozenSha256.value === sha256) [frozen.value, frozenText, frozenState.value] = [null, null, 'mismatch'];
}

// --- news --------------------------------------------------------------------------------------------------------
function noteReach(failure: ApiFailure | null): void {
  isOnline.value = failure === null || (failure.status !== 0 && failure.status < 500);
}
async function takeNews(mine: Opened, news: RoomNews): Promise<void> {
  if (opened !== mine || news.caseId !== mine.caseId) return;
  const { records: fresh, ...about } = news;
  mine.seq = Math.max(mine.seq, news.seq);
  newsAt.value = readServerNow();
  roomFailure.value = null;
  addRecords(fresh);
  for (const record of fresh) mine.owners.delete(record.entryId);
  const isNewest = roomCase.value === null || about.seq >= roomCase.value.seq;
  if (isNewest) roomCase.value = about;
  await settleTaps(mine.caseId, fresh, isNewest ? { ...about, newsAtMs: newsAt.value } : null);
  if (isNewest && opened === mine) await takeFrozen(mine, about.frozen?.frozenSha256 ?? null);
}
async function catchUp(mine: Opened): Promise<void> {
  const after = mine.seq;
  const answer = await readRoom(mine.caseId, after);
  if (opened !== mine) return;
  if (!answer.ok) {
    noteReach(answer.failure);
    if (answer.failure.status !== 0 && answer.failure.status < 500) roomFailure.value = answer.failure;
    return;
  }
  noteReach(null);
  if (answer.value.seq < after) return readAfterLoss(mine);
  await takeNews(mine, answer.value);
  if (opened !== mine) return; // logged out meanwhile: nothing is asked or kept for whoever has left
  if (!session.value?.person) await readSession(); // the page opened without its server, or the session had ended
  if (opened !== mine) return;
  keepSession();
  void sendWaiting();
}
/** The server has fewer events than it had (an older store was put back): everything is read, and what it lost is sent again. */
async function readAfterLoss(mine: Opened): Promise<void> {
  const answer = await readRoom(mine.caseId, 0);
  if (!answer.ok || opened !== mine) return;
  const has = new Set(answer.value.records.map((r) => r.entryId));
  const own = session.value?.person?.personId ?? null;
  const lost = records.value.filter((r) => !has.has(r.entryId) && (r.by === own || r.by === null));
  records.value = records.value.filter((r) => has.has(r.entryId));
  addRecords(lost.map(({ isSent: _sent, ...r }) => ({ ...r, seq: null })));
  for (const record of lost) {
    mine.owners.set(record.entryId, own);
    void putTap({ caseId: mine.caseId, personId: own, record: readPlain(record) });
  }
  mine.seq = answer.value.seq;
  roomCase.value = null;
  await takeNews(mine, answer.value);
  void sendWaiting();
}
async function lookAgain(mine: Opened): Promise<void> {
  if (anchor !== null && readJump(anchor, readPageTime()) !== 0) void compareClocks();
  await adoptTaps(mine);
  if (opened !== mine) return;
  if (mine.feed === null || mine.feed.readyState === EventSource.CLOSED) follow(mine);
  const before = mine.seq;
  await catchUp(mine);
  if (opened === mine && mine.seq > before && mine.feed?.readyState === EventSource.OPEN) follow(mine); // it should have told
}
function follow(mine: Opened): void {
  mine.feed?.close();
  const source = new EventSource(makeFeedPath(mine.caseId, mine.seq));
  mine.feed = source;
  let wasAway = false;
  source.onopen = () => {
    isOnline.value = true;
    if (wasAway) void compareClocks();
    if (wasAway) void catchUp(mine); // what happened meanwhile may not be sent
    void sendWaiting();
    wasAway = false;
  };
  source.onerror = () => {
    wasAway = true;
    if (source.readyState !== EventSource.CLOSED) isOnline.value = false;
    else if (mine.feed === source) setTimeout(() => opened === mine && mine.feed === source && follow(mine), MOST_RETRY_MS);
  };
  source.addEventListener('room', (event) => {
    isOnline.value = true;
    void takeNews(mine, JSON.parse(event.data as string) as RoomNews);
  });
}

// --- taps --------------------------------------------------------------------------------------------------------
const tabs = typeof BroadcastChannel === 'undefined' ? null : new BroadcastChannel('trinadir-room');
type TabNews = { readonly kind: 'tap'; readonly tap: QueuedTap } | { readonly kind: 'sent'; readonly caseId: string; readonly entryIds: readonly string[] };
tabs?.addEventListener('message', (event: MessageEvent<TabNews>) => {
  const news = event.data;
  if (news.kind === 'tap' && news.tap.caseId === opened?.caseId) {
    opened.owners.set(news.tap.record.entryId, news.tap.personId);
    addRecords([{ ...news.tap.record, by: news.tap.personId, seq: null }]);
  }
  if (news.kind === 'sent' && news.caseId === opened?.caseId) markSent(new Set(news.entryIds));
});

/**
 * One tap. `corrects` names the record that it replaces; with `entry` null it takes that one back. It stands on the page
 * when this returns, and in other tabs of this browser a moment later, server or not. Gives the entry's id, or null when no
 * room is open.
 */
export function logEntry(entry: RoomEntry | null, corrects: string | null = null): string | null {
  const mine = opened;
  if (mine === null) return null;
  const now = readPageTime();
  const { atMs, offset } = estimateServerTime(anchor, now);
  const record: RoomRecord = {
    entryId: crypto.randomUUID(), clientId: mine.clientId, place: mine.place, count: ++mine.count, monotonicMs: now.monoMs,
    clientAt: new Date(now.wallMs).toISOString(), happenedAt: new Date(atMs).toISOString(), offset, corrects, entry,
  };
  const personId = actingSession.value?.person?.personId ?? null;
  const tap: QueuedTap = { caseId: mine.caseId, personId, record };
  mine.owners.set(record.entryId, personId);
  addRecords([{ ...record, by: personId, seq: null }]);
  tabs?.postMessage({ kind: 'tap', tap } satisfies TabNews);
  writing = Promise.all([writing, putTap(tap).then((isDone) => (isKept.value = isDone))]);
  void sendWaiting();
  return record.entryId;
}
let writing: Promise<unknown> = Promise.resolve();

function markSent(entryIds: ReadonlySet<string>): void {
  records.value = records.value.map((r) => (r.seq === null && entryIds.has(r.entryId) ? { ...r, isSent: true as const } : r));
}

let isSending = false;
let isAskedAgain = false;
let retryMs = LEAST_RETRY_MS;
let retryTimer: ReturnType<typeof setTimeout> | null = null;
/** Sends what waits, oldest first, and goes on until nothing waits or the server does not answer. */
async function sendWaiting(): Promise<void> {
  if (isSending) {
    isAskedAgain = true;
    return;
  }
  isSending = true;
  let isGoingOn = true;
  while (isGoingOn) {
    isAskedAgain = false;
    const outcome = await sendSome();
    if (outcome === 'later') {
      if (retryTimer !== null) clearTimeout(retryTimer); // one, however many taps wait
      retryTimer = setTimeout(() => void sendWaiting(), retryMs);
      retryMs = Math.min(MOST_RETRY_MS, retryMs * 2);
    } else retryMs = LEAST_RETRY_MS;
    isGoingOn = outcome === 'more' || (outcome === 'none' && isAskedAgain);
  }
  isSending = false;
}

async function sendSome(): Promise<'more' | 'none' | 'later'> {
  const mine = opened;
  const personId = session.value?.person?.personId ?? null;
  if (mine === null) return 'none';
  const isStuck = new Set(stuck.value.map((s) => s.entryId));
  const open = waitingRecords.value.filter((r) => !isStuck.has(r.entryId));
  const own = open.filter((r) => (mine.owners.get(r.entryId) ?? personId) === personId);
  waitingOfOthers.value = open.length - own.length;
  if (own.length === 0 || personId === null) return 'none';
  const batch = takeBatch(own.map((r) => correctTap(readPlain(r), r.clientId === mine.clientId ? anchor : null)));
  const answer = await sendRecords(mine.caseId, batch);
  if (opened !== mine) return 'none';
  if (answer.ok) {
    noteReach(null);
    await settleSent(mine, batch, [...answer.value.taken, ...answer.value.known]);
    return 'more';
  }
  const { failure } = answer;
  noteReach(failure);
  if (failure.status === 401 || failure.status === 403) void readSession(); // gives a new mark of the session, or says that it is over
  if (!isForGood(failure)) return 'later';
  if (batch.length > 1) return sendOneByOne(mine, batch);
  stuck.value = [...stuck.value, { entryId: batch[0]!.entryId, failure }];
  return 'more';
}
/** The server will never take it like this: its form is wrong, this session may not log it, or it is a verdict that was not shown so. */
const isForGood = ({ code }: ApiFailure): boolean => code === 'request-invalid' || code === 'not-allowed' || code === 'verdict-not-shown';
/** One record that is refused must not hold up the others. */
async function sendOneByOne(mine: Opened, batch: readonly RoomRecord[]): Promise<'more' | 'later'> {
  for (const record of batch) {
    const answer = await sendRecords(mine.caseId, [record]);
    if (opened !== mine) return 'more';
    if (answer.ok) await settleSent(mine, [record], [record.entryId]);
    else if (isForGood(answer.failure)) stuck.value = [...stuck.value, { entryId: record.entryId, failure: answer.failure }];
    else return 'later';
  }
  return 'more';
}
async function settleSent(mine: Opened, batch: readonly RoomRecord[], entryIds: readonly string[]): Promise<void> {
  const isDone = new Set(entryIds);
  records.value = records.value.map((r) => (r.seq === null && isDone.has(r.entryId) ? { ...r, ...batch.find((b) => b.entryId === r.entryId), isSent: true as const } : r));
  tabs?.postMessage({ kind: 'sent', caseId: mine.caseId, entryIds } satisfies TabNews);
  if (opened !== mine) return;
  await writing; // a tap is on the disk before it is taken from its queue
  await settleTaps(mine.caseId, records.value.filter((r) => isDone.has(r.entryId)));
  if (mine.feed?.readyState !== EventSource.OPEN) void catchUp(mine);
}
const readPlain = ({ entryId, clientId, place, count, monotonicMs, clientAt, happenedAt, offset, corrects, entry }: RoomRecord): RoomRecord => ({ entryId, clientId, place, count, monotonicMs, clientAt, happenedAt, offset, corrects, entry });
function takeBatch(waitingOnes: readonly RoomRecord[]): readonly RoomRecord[] {
  let chars = 0;
  const batch = waitingOnes.slice(0, MOST_RECORDS).filter((r) => (chars += JSON.stringify(r).length) <= MOST_SEND_CHARS);
  return batch.length > 0 ? batch : waitingOnes.slice(0, 1);
}

actingSession.subscribe((acting) => {
  if (acting === null) closeRoom(); // logged out, here or in another tab
});
session.subscribe((now) => {
  const mine = opened;
  if (mine === null || !now?.person) return;
  if (mine.feed === null || mine.feed.readyState === EventSource.CLOSED) void lookAgain(mine);
  else void sendWaiting();
});
if (typeof addEventListener === 'function' && typeof document !== 'undefined') {
  const wake = (): void => {
    const mine = opened;
    if (mine === null || document.visibilityState === 'hidden') return;
    retryMs = LEAST_RETRY_MS;
    void compareClocks();
    void lookAgain(mine);
  };
  addEventListener('online', wake);
  addEventListener('pageshow', wake);
  document.addEventListener('visibilitychange', wake);
}
