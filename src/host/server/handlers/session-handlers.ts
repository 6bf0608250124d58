import { randomUUID } from 'node:crypto';
import { fail, succeed, type Result } from '../../../core/result.ts';
import { formatText } from '../../../core/text/catalogue.ts';
import { SERVER_EN } from '../../../core/text/server-en.ts';
import { isSameToken } from '../../security/secret-token.ts';
import { SESSION_TIMES, type Caller } from '../../security/sessions.ts';
import type { CaseStore, Person, StoredSession } from '../../storage/store-types.ts';
import { findAnyCaller, formatCookie, formatNoCookie, noteAudit, readCookie, type Door } from '../door.ts';
import type { Handlers, Services } from '../handler-types.ts';
import { showPerson } from './people-handlers.ts';

/** Plans, frozen plans and frames of runs never change under their names and lie in the browser's cache: they go with the person. */
const KEPT_FILES = '"cache"';
const LOOPBACK_ADDRESSES: ReadonlySet<string> = new Set(['127.0.0.1', '::1', '::ffff:127.0.0.1']);
const busy = () => fail('server-busy', SERVER_EN.serverBusy, SERVER_EN.serverBusyNext, { retryAfterS: 3 });

export type SessionRoute = 'readSession' | 'openSession' | 'endSession' | 'addFirstPerson' | 'changeOwnPassword';

/** Who is logged in here, as a page is told. */
export function describeSession(caller: DescribedCaller | null, door: Door) {
  const scope = caller?.session.scope;
  return {
    person: caller && showPerson(caller.person), csrfToken: caller?.session.csrfToken ?? null,
    needsFirstPerson: door.firstStart.token !== null, oidcLabel: door.oidcLabel, version: door.version, scope: scope ? { kind: scope.kind, caseId: scope.caseId } : null,
  };
}
type DescribedCaller = Pick<Caller, 'person'> & { readonly session: Pick<StoredSession, 'csrfToken' | 'scope'> };

/** Logging in and out, the first account, one's own password. */
export function makeSessionHandlers(door: Door): Pick<Handlers, SessionRoute> {
  const describe = (caller: DescribedCaller | null) => describeSession(caller, door);

  return {
    async readSession({ request }) {
      const caller = await findAnyCaller(request.headers, door);
      return caller.ok ? succeed(describe(caller.value)) : caller;
    },

    async openSession({ body, address, request }, { store }) {
      const login = body.login.trim().toLowerCase();
      const waitS = await door.limit.begin(login, address);
      if (waitS > 0) {
        const noted = await noteAudit(store, 'nobody', 'session.refused', { because: 'too many attempts' });
        return noted.ok ? fail('too-many-attempts', SERVER_EN.tooManyAttempts, formatText(SERVER_EN, 'tooManyAttemptsNext', { minutes: Math.ceil(waitS / 60) }), { retryAfterS: waitS }) : noted;
      }
      const found = await store.findPerson({ login });
      if (!found.ok) return found;
      const person = found.value;
      const isRight = await door.hasher.check(body.password, person?.isActive ? person.passwordHash : null);
      if (isRight === null) return busy();
      if (!isRight || person === null) {
        const noted = await noteAudit(store, person?.personId ?? 'nobody', 'session.refused', { because: 'password' });
        return noted.ok ? fail('login-wrong', SERVER_EN.loginWrong, SERVER_EN.loginWrongNext) : noted;
      }
      await door.limit.forgive(login, address);
      return openFor(person, request, { store }, door, describe, 'password');
    },

    async endSession({ request, caller }, { store }) {
      const token = readCookie(request.headers, door.site);
      const noted = await noteAudit(store, caller!.personId, 'session.ended');
      if (!noted.ok) return noted;
      const ended = token === null ? succeed(null) : await door.sessions.end(token);
      return ended.ok ? succeed(Response.json(null, { headers: { 'Set-Cookie': formatNoCookie(door.site), 'Clear-Site-Data': KEPT_FILES } })) : ended;
    },

    async addFirstPerson({ body, address, request }, { store }) {
      if (!LOOPBACK_ADDRESSES.has(address)) return fail('only-here', SERVER_EN.onlyHere, SERVER_EN.onlyHereNext);
      return door.inTurn(async () => {
        if (door.firstStart.token === null) return fail('first-done', SERVER_EN.firstDone, SERVER_EN.firstDoneNext);
        if (!isSameToken(body.startToken, door.firstStart.token)) return fail('start-token-wrong', SERVER_EN.startTokenWrong, SERVER_EN.startTokenWrongNext);
        const people = await store.listPeople();
        if (!people.ok) return people;
        if (people.value.length > 0) { // made through another server on the same database
          door.firstStart.token = null;
          return fail('first-done', SERVER_EN.firstDone, SERVER_EN.firstDoneNext);
        }
        const passwordHash = await door.hasher.hash(body.password);
        if (passwordHash === null) return busy();
        const added = await store.addPerson({ personId: randomUUID(), login: body.login, displayName: body.displayName, role: 'admin', isActive: true, passwordHash, oidcSubject: null });
        if (!added.ok) return added;
        door.firstStart.token = null;
        const noted = await noteAudit(store, added.value.personId, 'person.added', { personId: added.value.personId, role: 'admin', first: true });
        return noted.ok ? openFor(added.value, request, { store }, door, describe, 'first start') : noted;
      });
    },

    async changeOwnPassword({ body, caller, session, address, request }, { store }) {
      const person = caller!;
      if (person.passwordHash === null) return fail('password-none', SERVER_EN.passwordNone, SERVER_EN.passwordNoneNext);
      const waitS = await door.limit.begin(person.login, address); // a stolen session must not be a way to guess
      if (waitS > 0) return fail('too-many-attempts', SERVER_EN.tooManyAttempts, formatText(SERVER_EN, 'tooManyAttemptsNext', { minutes: Math.ceil(waitS / 60) }), { retryAfterS: waitS });
      const isRight = await door.hasher.check(body.was, person.passwordHash);
      if (isRight === null) return busy();
      if (!isRight) return fail('password-wrong', SERVER_EN.passwordWrong, SERVER_EN.passwordWrongNext);
      await door.limit.forgive(person.login, address);
      if (body.is === body.was) return fail('password-same', SERVER_EN.passwordSame, SERVER_EN.passwordSameNext);
      const passwordHash = await door.hasher.hash(body.is);
      if (passwordHash === null) return busy();
      const noted = await noteAudit(store, person.personId, 'person.changed', { personId: person.personId, what: 'own password' });
      if (!noted.ok) return noted;
      const changed = await store.changePerson(person.personId, { passwordHash });
      if (!changed.ok) return changed;
      return replaceOtherSessions(person, session!.csrfToken, request, { store }, door);
    },
  };
}

type Describe = (caller: DescribedCaller) => object;

async function openFor(person: Person, request: Request, { store }: Pick<Services, 'store'>, door: Door, describe: Describe, how: string): Promise<Result<Response, string>> {
  const noted = await noteAudit(store, person.personId, 'session.opened', { how });
  if (!noted.ok) return noted;
  // A token that was there before (planted, or of another person) is not taken over.
  const opened = await door.sessions.open(person.personId, readCookie(request.headers, door.site));
  if (!opened.ok) return opened;
  const { token, session } = opened.value;
  return succeed(Response.json(describe({ person, session }), { headers: { 'Set-Cookie': formatCookie(door.site, token, SESSION_TIMES.longestMs / 1000) } }));
}

/** After a new password nobody stays logged in but this browser, and it by the session that it has. */
async function replaceOtherSessions(person: Person, csrfToken: string, request: Request, { store }: { readonly store: CaseStore }, door: Door): Promise<Result<Response | null, string>> {
  const token = readCookie(request.headers, door.site);
  const kept = token === null ? succeed(null) : await door.sessions.find(token);
  if (!kept.ok) return kept;
  const ended = await store.endSessionsOf(person.personId);
  if (!ended.ok) return ended;
  if (kept.value === null || kept.value.session.csrfToken !== csrfToken) return succeed(null);
  const again = await store.addSession(kept.value.session);
  return again.ok ? succeed(null) : again;
}
