import * as oidc from 'openid-client';
import { fail, succeed, type Result } from '../../core/result.ts';
import { SERVER_EN } from '../../core/text/server-en.ts';
import { hashToken, makeSecretToken } from '../security/secret-token.ts';
import { SESSION_TIMES } from '../security/sessions.ts';
import type { CaseStore, Person } from '../storage/store-types.ts';
import type { DeskApp } from './bind-routes.ts';
import { formatCookie, noteAudit, readCookie, type Door } from './door.ts';
import type { Services } from './handler-types.ts';

/** An issuer of OpenID Connect, found and checked (read-oidc-issuer.ts). */
export interface OidcIssuer {
  readonly label: string;
  readonly config: oidc.Configuration;
  /** Claim that holds the log-in name which an administrator gave the account. */
  readonly loginClaim: string;
}
const OIDC_START = '/oidc/start';
const OIDC_RETURN = '/oidc/return';

/** A log-in that was begun: what the issuer's answer must fit. Kept here only, used once. */
interface Begun { readonly state: string; readonly nonce: string; readonly verifier: string; readonly to: string; readonly untilMs: number }
const BEGUN_MS = 10 * 60_000;
const MOST_BEGUN = 500;

/**
 * Log-in by an issuer: authorization code with PKCE, state and nonce (OpenID Connect Core 1.0, 3.1; RFC 7636). The
 * begun log-in is tied to the browser by a cookie, so that nobody is logged in by a link that somebody else began.
 */
export function addOidcDoor(app: DeskApp, options: { readonly issuer: OidcIssuer; readonly door: Door; readonly services: Services; readonly base: string }): void {
  const { issuer, door, services: { store }, base } = options;
  const begun = new Map<string, Begun>();
  // Lax: the way back from the issuer is a link from another site. It opens nothing by itself.
  const name = `${door.site.isSecure ? '__Host-' : ''}trinadir_oidc_${door.site.port}`;
  const setBegun = (value: string, seconds: number): string => `${name}=${value}; Path=/; HttpOnly; SameSite=Lax; Max-Age=${seconds}${door.site.isSecure ? '; Secure' : ''}`;
  const redirectUri = new URL(OIDC_RETURN, base).href;
  const goBack = (code: string): Response => new Response(null, { status: 303, headers: { Location: `/?refused=${code}`, 'Set-Cookie': setBegun('', 0) } });

  app.get(OIDC_START, async (c) => {
    const nowMs = door.readNow();
    for (const [key, each] of begun) if (each.untilMs < nowMs || begun.size >= MOST_BEGUN) begun.delete(key);
    const [id, state, nonce, verifier] = [makeSecretToken(), oidc.randomState(), oidc.randomNonce(), oidc.randomPKCECodeVerifier()];
    begun.set(hashToken(id), { state, nonce, verifier, to: readTarget(c.req.query('to')), untilMs: nowMs + BEGUN_MS });
    const url = oidc.buildAuthorizationUrl(issuer.config, {
      redirect_uri: redirectUri, scope: 'openid profile', response_type: 'code', state, nonce,
      code_challenge: await oidc.calculatePKCECodeChallenge(verifier), code_challenge_method: 'S256',
    });
    return new Response(null, { status: 303, headers: { Location: url.href, 'Set-Cookie': setBegun(id, BEGUN_MS / 1000) } });
  });

  app.get(OIDC_RETURN, async (c) => {
    const key = hashToken(readCookie(c.req.raw.headers, door.site, name) ?? '');
    const mine = begun.get(key);
    begun.delete(key);
    if (!mine || mine.untilMs < door.readNow()) return goBack('oidc-state-wrong');
    // The address as the issuer knows it; a proxy may have changed host and scheme.
    const here = new URL(`${OIDC_RETURN}${new URL(c.req.url).search}`, base);
    const claims = await redeemCode(issuer, here, mine);
    if (!claims.ok) return goBack(claims.failure.code);
    const person = await findOrBind(claims.value, store);
    if (!person.ok) return goBack(person.failure.code);
    if (person.value === null) {
      const noted = await noteAudit(store, 'nobody', 'session.refused', { because: 'no account' });
      return goBack(noted.ok ? 'oidc-nobody' : noted.failure.code);
    }
    const noted = await noteAudit(store, person.value.personId, 'session.opened', { how: 'issuer' });
    const opened = noted.ok ? await door.sessions.open(person.value.personId, readCookie(c.req.raw.headers, door.site)) : noted;
    if (!opened.ok) return goBack(opened.failure.code);
    const headers = new Headers({ Location: mine.to });
    headers.append('Set-Cookie', setBegun('', 0));
    headers.append('Set-Cookie', formatCookie(door.site, opened.value.token, SESSION_TIMES.longestMs / 1000));
    return new Response(null, { status: 303, headers });
  });
}

/** A page of ours to return to; anything else, an address of another site above all, is the first page. */
export function readTarget(to: string | undefined): string {
  return to !== undefined && /^\/(?![/\\])[\w./~%-]*$/.test(to) && to.length < 300 && !to.startsWith('/oidc') ? to : '/';
}

interface Claims { readonly subject: string; readonly login: string | null }
async function redeemCode(issuer: OidcIssuer, here: URL, { state, nonce, verifier }: Begun): Promise<Result<Claims, 'oidc-refused'>> {
  try {
    const tokens = await oidc.authorizationCodeGrant(issuer.config, here, { expectedState: state, expectedNonce: nonce, pkceCodeVerifier: verifier, idTokenExpected: true });
    const claims = tokens.claims()!;
    const login = claims[issuer.loginClaim] ?? (await readUserInfo(issuer, tokens.access_token, claims.sub));
    return succeed({ subject: `${claims.iss} ${claims.sub}`, login: typeof login === 'string' ? login.trim().toLowerCase() : null });
  } catch {
    return fail('oidc-refused', SERVER_EN.oidcRefused, SERVER_EN.oidcRefusedNext); // what the issuer said may hold a name
  }
}

/** Many issuers put the name into the user-info answer only. */
async function readUserInfo(issuer: OidcIssuer, accessToken: string, subject: string): Promise<unknown> {
  if (issuer.config.serverMetadata().userinfo_endpoint === undefined) return null;
  return (await oidc.fetchUserInfo(issuer.config, accessToken, subject))[issuer.loginClaim];
}

/**
 * The account of a subject. The first time, it is the account that an administrator made for this log-in name without a
 * password; one with a password is a local account and is never taken over by a name.
 */
async function findOrBind({ subject, login }: Claims, store: CaseStore): Promise<Result<Person | null, string>> {
  const known = await store.findPerson({ oidcSubject: subject });
  if (!known.ok || known.value !== null) return known.ok ? succeed(known.value?.isActive ? known.value : null) : known;
  const waiting = login === null ? succeed(null) : await store.findPerson({ login });
  if (!waiting.ok) return waiting;
  const person = waiting.value;
  if (person === null || !person.isActive || person.passwordHash !== null || person.oidcSubject !== null) return succeed(null);
  const noted = await noteAudit(store, person.personId, 'person.changed', { personId: person.personId, what: 'oidcSubject' });
  return noted.ok ? store.changePerson(person.personId, { oidcSubject: subject }) : noted;
}
