import type { Result } from '../../core/result.ts';
import type { CaseStore, Person, StoredSession, StoreFailureCode } from '../storage/store-types.ts';
import { hashToken, makeSecretToken } from './secret-token.ts';
import { formatInstant, type ReadNow } from './steady-clock.ts';

/** A person who is logged in, with the session that says so. */
export interface Caller { readonly person: Person; readonly session: StoredSession }
export interface SessionTimes { readonly idleMs: number; readonly longestMs: number; readonly touchMs: number }
export type SessionScope = NonNullable<StoredSession['scope']>;
const HOUR_MS = 60 * 60_000;
/** A remote lies in a pocket between two taps; a wall hangs through the day and the night before. Both end with their pairing. */
export const SCOPED_TIMES: Readonly<Record<SessionScope['kind'], SessionTimes>> = {
  remote: { idleMs: 4 * HOUR_MS, longestMs: 14 * HOUR_MS, touchMs: 60_000 },
  wall: { idleMs: 14 * HOUR_MS, longestMs: 36 * HOUR_MS, touchMs: 60_000 },
};
/** A working day; an hour of silence ends it. `touchMs`: how exactly the last use is kept. */
export const SESSION_TIMES: SessionTimes = { idleMs: 60 * 60_000, longestMs: 12 * 60 * 60_000, touchMs: 60_000 };

export interface Sessions {
  /** A new session with a new token; the one that `replaces` names is over. The token is given here and nowhere else. */
  open(personId: string, replaces: string | null, scope?: SessionScope): Promise<Result<{ readonly token: string; readonly session: StoredSession }, StoreFailureCode>>;
  /** Who a token belongs to; null when it is unknown, over, or its person inactive. */
  find(token: string): Promise<Result<Caller | null, StoreFailureCode>>;
  end(token: string): Promise<Result<null, StoreFailureCode>>;
}

export function makeSessions(store: CaseStore, readNow: ReadNow, times: SessionTimes = SESSION_TIMES): Sessions {
  const timesOf = (scope: SessionScope | undefined): SessionTimes => (scope ? SCOPED_TIMES[scope.kind] : times);
  return {
    async open(personId, replaces, scope) {
      if (replaces !== null) {
        const ended = await store.endSession(hashToken(replaces));
        if (!ended.ok) return ended;
      }
      const token = makeSecretToken();
      const nowMs = readNow();
      const session: StoredSession = {
        tokenSha256: hashToken(token), personId, csrfToken: makeSecretToken(), createdAt: formatInstant(nowMs), seenAt: formatInstant(nowMs),
        expiresAt: formatInstant(nowMs + timesOf(scope).longestMs), ...(scope ? { scope } : {}),
      };
      const added = await store.addSession(session);
      return added.ok ? { ok: true, value: { token, session } } : added;
    },

    async find(token) {
      const nothing = { ok: true, value: null } as const;
      if (!/^[\w-]{43}$/.test(token)) return nothing;
      const found = await store.findSession(hashToken(token));
      if (!found.ok || found.value === null) return found.ok ? nothing : found;
      const session = found.value;
      // Time as this server and this session know it: the later one counts when the clock was set back.
      const nowMs = Math.max(readNow(), Date.parse(session.seenAt));
      if (!(nowMs < Date.parse(session.expiresAt)) || !(nowMs - Date.parse(session.seenAt) < timesOf(session.scope).idleMs)) {
        const ended = await store.endSession(session.tokenSha256);
        return ended.ok ? nothing : ended;
      }
      const person = await store.findPerson({ personId: session.personId });
      if (!person.ok) return person;
      if (person.value === null || !person.value.isActive) return nothing;
      if (nowMs - Date.parse(session.seenAt) >= times.touchMs) {
        const touched = await store.touchSession(session.tokenSha256, formatInstant(nowMs));
        if (!touched.ok) return touched;
      }
      return { ok: true, value: { person: person.value, session } };
    },

    end: (token) => store.endSession(hashToken(token)),
  };
}
