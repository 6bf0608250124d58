import { fail, succeed, type Result } from '../../core/result.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { isUnsafeMethod, type SiteAddress } from '../security/check-origin.ts';
import type { LoginLimit } from '../security/login-limit.ts';
import type { PasswordHasher } from '../security/password-hash.ts';
import { isSameToken } from '../security/secret-token.ts';
import type { Caller, Sessions } from '../security/sessions.ts';
import type { ReadNow } from '../security/steady-clock.ts';
import type { CaseStore, StoreFailureCode } from '../storage/store-types.ts';

/** Everything that decides who comes in; made once per server. */
export interface Door {
  readonly sessions: Sessions;
  readonly hasher: PasswordHasher;
  readonly limit: LoginLimit;
  readonly site: SiteAddress;
  readonly readNow: ReadNow;
  readonly version: string;
  /** Exchanged for the first account; null when there is one. In memory only: a new start prints a new one. */
  readonly firstStart: { token: string | null };
  /** What the log-in button of the issuer says; null: no issuer. */
  readonly oidcLabel: string | null;
  /** One at a time: what reads the accounts and then changes them. */
  inTurn<T>(work: () => Promise<T>): Promise<T>;
}

export const cookieName = (site: SiteAddress): string => `${site.isSecure ? '__Host-' : ''}trinadir_${site.port}`; // cookies do not tell ports apart, names do
export function formatCookie(site: SiteAddress, token: string, seconds: number): string {
  return `${cookieName(site)}=${token}; Path=/; HttpOnly; SameSite=Strict; Max-Age=${seconds}${site.isSecure ? '; Secure' : ''}`;
}
export const formatNoCookie = (site: SiteAddress): string => formatCookie(site, '', 0);

/** The session token that a request carries. Two of one name: none, since one of them was put there by somebody else. */
export function readCookie(headers: Headers, site: SiteAddress, name: string = cookieName(site)): string | null {
  const found = (headers.get('cookie') ?? '').split(';').map((part) => part.trim()).filter((part) => part.startsWith(`${name}=`));
  return found.length === 1 ? found[0]!.slice(name.length + 1) : null;
}

/** The person who asks; null: nobody who is logged in. A paired wall or remote is no person at a browser. */
export async function findCaller(headers: Headers, door: Door): Promise<Result<Caller | null, StoreFailureCode>> {
  const found = await findAnyCaller(headers, door);
  return found.ok && found.value?.session.scope !== undefined ? succeed(null) : found;
}
/** Who asks, a paired wall or remote too: whoever uses this looks at the session's scope. */
export async function findAnyCaller(headers: Headers, door: Door): Promise<Result<Caller | null, StoreFailureCode>> {
  const token = readCookie(headers, door.site);
  return token === null ? succeed(null) : door.sessions.find(token);
}

/** What changes something carries the session's mark, which a foreign page cannot read. */
export function checkCsrf(request: Request, caller: Caller): Result<null, 'csrf-wrong'> {
  if (!isUnsafeMethod(request.method)) return succeed(null);
  const given = request.headers.get('x-trinadir-csrf') ?? '';
  return isSameToken(given, caller.session.csrfToken) ? succeed(null) : fail('csrf-wrong', SERVER_EN.csrfWrong, SERVER_EN.csrfWrongNext);
}

export function makeTurns(): Door['inTurn'] {
  let last: Promise<unknown> = Promise.resolve();
  return (work) => {
    const mine = last.then(work);
    last = mine.catch(() => null);
    return mine;
  };
}

/** Notes something that belongs to no case. Fails as the store: what cannot be noted is not done. */
export const noteAudit = (store: CaseStore, by: string, kind: string, data: Readonly<Record<string, string | number | boolean | null>> = {}, caseId: string | null = null) =>
  store.addAudit({ by, kind, caseId, data });
