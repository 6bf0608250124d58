import { computed, signal } from '@preact/signals';
import { callApi, setCsrfToken, whenSessionLost, type ApiAnswer, type ApiFailure } from '../api/call-api.ts';
import { isRoomPath } from './room-path.ts';
import { clearKept, countTaps, putNote, readNote } from './room-queue.ts';

export type Session = ApiAnswer<'readSession'>;
export type PersonLine = NonNullable<Session['person']>;
export type Role = PersonLine['role'];

/** Who is logged in; null until the server has said so. */
export const session = signal<Session | null>(null);
export const sessionFailure = signal<ApiFailure | null>(null);
/** Whoever was last logged in on this page, until they log out: the room goes on with them while the server is away. */
const last = signal<Session | null>(null);
/** The server does not know the session of a page that goes on: what it logs waits for the next log-in. */
export const isSessionOver = computed(() => session.value !== null && session.value.person === null && last.value !== null);
/** The person asked to log in or pair again on a page that goes on without a session; over once somebody is in. */
export const wantsLogIn = signal(false);
/** Who acts on a page of the room: also without the server. */
export const actingSession = computed(() => (session.value?.person ? session.value : last.value));
/** What a paired remote or wall may do: one case, and little in it. Null: a person at a desk. */
export const readScope = (given: Session | null): Session['scope'] => given?.scope ?? null;

/** How long this browser may open a room without having heard the server: as long as a session lasts at most. */
const KEPT_MS = 12 * 60 * 60_000;
const SESSION_MS = 3000;
const ENDING = 'trinadir.ending';
interface KeptSession {
  readonly session: Session;
  readonly untilMs: number;
}

export function takeSession(next: Session): void {
  setCsrfToken(next.csrfToken);
  session.value = next;
  if (next.person) {
    last.value = next;
    wantsLogIn.value = false;
  }
  sessionFailure.value = null;
}

export async function readSession(): Promise<void> {
  const asked = endings;
  // In the room a silent network must not keep the page waiting: it has what it needs.
  const answer = await callApi('readSession', isRoomPath(location.pathname) ? { mostMs: SESSION_MS } : {});
  if (asked !== endings) return; // of before a log-out: it would bring back whoever has left
  if (!answer.ok) {
    sessionFailure.value = answer.failure;
    return;
  }
  takeSession(answer.value);
  if (readEnding() && answer.value.person && !isEnding) await logOut(); // asked for while the server was away
}
/** A page of the room was opened by this person: it may open again without the server. */
export function keepSession(): void {
  const now = session.value;
  if (!now?.person) return;
  void putNote('session', { session: { ...now, csrfToken: null }, untilMs: Date.now() + KEPT_MS } satisfies KeptSession);
}
/** Whoever opened the room last in this browser; only for a page whose server does not answer. */
export async function restoreSession(): Promise<void> {
  const kept = (await readNote('session')) as KeptSession | undefined;
  if (session.value === null && kept !== undefined && Date.now() < kept.untilMs && !readEnding()) last.value = kept.session;
}

/** Taps that the server has not; the person is told before they log out. Null: nothing to tell. */
export const logOutWarning = signal<number | null>(null);
export async function askLogOut(): Promise<void> {
  const count = await countTaps();
  if (count > 0) logOutWarning.value = count;
  else await logOut();
}
let isEnding = false;
/** Grows when a log-out begins and when the server has heard of it. */
let endings = 0;
/** Ends the session and takes from this browser what the room kept; only taps that the server has not stay. */
export async function logOut(): Promise<void> {
  logOutWarning.value = null;
  last.value = null;
  session.value = null; // pages let go of what they hold before the store is emptied
  isEnding = true;
  endings++;
  tabs?.postMessage('log-out');
  await clearKept();
  const ended = await callApi('endSession', { mostMs: SESSION_MS });
  endings++; // what was asked meanwhile was asked of a session that is over
  noteEnding(!ended.ok && ended.failure.status !== 401);
  tabs?.postMessage('ended');
  await readSession();
  isEnding = false;
}
/** Storage may be switched off; the server is then told with the next log-out. */
function noteEnding(isPending: boolean): void {
  try {
    if (isPending) localStorage.setItem(ENDING, 'yes');
    else localStorage.removeItem(ENDING);
  } catch {
    // see above
  }
}
function readEnding(): boolean {
  try {
    return localStorage.getItem(ENDING) === 'yes';
  } catch {
    return false;
  }
}
const tabs = typeof BroadcastChannel === 'undefined' || typeof document === 'undefined' ? null : new BroadcastChannel('trinadir-session');
/** Another tab logs out: this one lets go at once, and asks who is in only when the server has heard of it. */
tabs?.addEventListener('message', ({ data }: MessageEvent<'log-out' | 'ended'>) => {
  endings++;
  if (data === 'ended') return void readSession();
  last.value = null;
  session.value = null; // pages let go of what they hold; what one was just writing goes after it
  void clearKept();
  setTimeout(() => session.value === null && void readSession(), 2 * SESSION_MS); // that tab was closed on the way
});

whenSessionLost(() => void readSession());

const EDITS: readonly Role[] = ['planner', 'operator', 'programme', 'admin'];
const SIGNS: readonly Role[] = ['programme', 'admin'];
/** What the page offers; the server decides by itself. */
export function may(what: 'edit' | 'sign' | 'audit' | 'people'): boolean {
  const role = session.value?.person?.role;
  if (!role) return false;
  if (what === 'people') return role === 'admin';
  return (what === 'edit' ? EDITS : SIGNS).includes(role);
}
