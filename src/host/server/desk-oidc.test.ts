import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { makeTestDesk, must, PASSWORD, type TestDesk } from '../../../test/support/make-desk.ts';
import { readTarget } from './add-oidc-door.ts';
import { readOidcIssuer } from './read-oidc-issuer.ts';

/** The issuer's library has no types of its own; this is what is used of it. */
interface ProviderModule { readonly default: new (issuer: string, configuration: object) => { callback(): (request: IncomingMessage, response: ServerResponse) => unknown } }
/** A small issuer on this machine; whoever names an account there is that account. */
let issuer: Server;
let issuerUrl = '';
let desk: TestDesk;
let oidcFile = '';

const listen = (server: Server): Promise<number> => new Promise((resolve) => server.listen(0, '127.0.0.1', () => resolve((server.address() as { port: number }).port)));
async function findFreePort(): Promise<number> {
  const server = createServer();
  const port = await listen(server);
  await new Promise((resolve) => server.close(resolve));
  return port;
}

beforeAll(async () => {
  const deskPort = await findFreePort();
  for (const say of ['info', 'warn'] as const) vi.spyOn(console, say).mockImplementation(() => {}); // it advises against itself as a product
  const { default: Provider } = (await import('oidc-provider' as string)) as ProviderModule;
  let answer: ReturnType<InstanceType<ProviderModule['default']>['callback']> = () => {};
  issuer = createServer((request, response) => void answer(request, response));
  issuerUrl = `http://127.0.0.1:${await listen(issuer)}`;
  const provider = new Provider(issuerUrl, {
    clients: [{ client_id: 'desk', client_secret: 'a secret of the test', redirect_uris: [`http://127.0.0.1:${deskPort}/oidc/return`] }],
    claims: { openid: ['sub'], profile: ['preferred_username'] },
    findAccount: (_ctx: unknown, id: string) => ({ accountId: id, claims: () => ({ sub: id, preferred_username: id.toUpperCase() }) }),
    pkce: { required: () => true },
    cookies: { keys: ['test'] },
  });
  answer = provider.callback();
  oidcFile = join(mkdtempSync(join(tmpdir(), 'trinadir-oidc-')), 'oidc.json');
  writeFileSync(oidcFile, JSON.stringify({ issuer: issuerUrl, clientId: 'desk', clientSecret: 'a secret of the test', label: 'Hospital' }));
  desk = await makeTestDesk({ port: deskPort, oidc: must(await readOidcIssuer(oidcFile)) });
});
afterAll(async () => {
  await desk.close();
  issuer.closeAllConnections();
  issuer.close();
  rmSync(dirname(oidcFile), { recursive: true, force: true });
  vi.restoreAllMocks();
});

/** A browser with one jar of cookies per site, following links by hand. */
function makeBrowser() {
  const jars = new Map<string, Map<string, string>>();
  const visit = async (url: string, init: RequestInit = {}): Promise<{ url: string; status: number; location: string | null; text: string }> => {
    const { origin } = new URL(url);
    const jar = jars.get(origin) ?? new Map<string, string>();
    jars.set(origin, jar);
    const cookie = [...jar].map(([k, v]) => `${k}=${v}`).join('; ');
    const answer = await fetch(url, { ...init, redirect: 'manual', headers: { ...(init.headers as Record<string, string>), ...(cookie ? { cookie } : {}) } });
    for (const each of answer.headers.getSetCookie()) {
      const [, name, value] = /^([^=]+)=([^;]*)/.exec(each)!;
      if (value === '') jar.delete(name!);
      else jar.set(name!, value!);
    }
    const location = answer.headers.get('location');
    return { url, status: answer.status, location: location === null ? null : new URL(location, url).href, text: await answer.text() };
  };
  return { visit, jars };
}
type Browser = ReturnType<typeof makeBrowser>;

/** Goes from the desk to the issuer, says who one is there, and comes back up to the desk's own return address. */
async function logInAtIssuer(browser: Browser, account: string, start = `${desk.origin}/oidc/start?to=/case/abc`): Promise<string> {
  let at = await browser.visit(start);
  for (let steps = 0; steps < 12; steps++) {
    if (at.location?.startsWith(`${desk.origin}/oidc/return`)) return at.location;
    if (at.location !== null) at = await browser.visit(at.location);
    else {
      const action = /action="([^"]+)"/.exec(at.text)![1]!;
      const prompt = /name="prompt" value="([^"]+)"/.exec(at.text)![1]!;
      at = await browser.visit(new URL(action, at.url).href, { method: 'POST', headers: { 'content-type': 'application/x-www-form-urlencoded' }, body: new URLSearchParams({ prompt, login: account, password: 'any' }) });
    }
  }
  throw new Error('the issuer did not send back');
}
const whoAmI = async (browser: Browser) => JSON.parse((await browser.visit(`${desk.origin}/api/session`)).text) as { person: { login: string; hasOidc: boolean } | null; oidcLabel: string };
const personIdOf = (login: string): string => `person-${login.replace('.', '-')}`;
const addAccount = async (login: string, passwordHash: string | null = null) => must(await desk.opened.store.addPerson({ personId: personIdOf(login), login, displayName: login, role: 'planner', isActive: true, passwordHash, oidcSubject: null }));

describe('log-in by an issuer', () => {
  test('an account that an administrator made without a password is bound at its first log-in, and found again by subject', async () => {
    await addAccount('dr.first');
    const browser = makeBrowser();
    const back = await browser.visit(await logInAtIssuer(browser, 'dr.first'));
    expect([back.status, back.location]).toEqual([303, `${desk.origin}/case/abc`]);
    expect(await whoAmI(browser)).toMatchObject({ person: { login: 'dr.first', hasOidc: true }, oidcLabel: 'Hospital' });
    expect(must(await desk.opened.store.findPerson({ login: 'dr.first' }))!.oidcSubject).toBe(`${issuerUrl} dr.first`);
    const again = makeBrowser();
    await again.visit(await logInAtIssuer(again, 'dr.first'));
    expect((await whoAmI(again)).person?.login).toBe('dr.first');
    expect(again.jars.get(desk.origin)!.has(`trinadir_oidc_${desk.server.port}`)).toBe(false); // used and gone
  });

  test('nobody comes in without an account, by a name that has a password, or when switched off', async () => {
    await addAccount('dr.local', must({ ok: true, value: await desk.server.door.hasher.hash(PASSWORD) }));
    await addAccount('dr.off');
    must(await desk.opened.store.changePerson(personIdOf('dr.off'), { isActive: false }));
    for (const account of ['dr.unknown', 'dr.local', 'dr.off']) {
      const browser = makeBrowser();
      const back = await browser.visit(await logInAtIssuer(browser, account));
      expect([back.location, (await whoAmI(browser)).person], account).toEqual([`${desk.origin}/?refused=oidc-nobody`, null]);
    }
    expect(must(await desk.opened.store.findPerson({ login: 'dr.local' }))!.oidcSubject).toBeNull();
  });

  test('an answer of the issuer works once, in the browser that began, and as it was given', async () => {
    await addAccount('dr.once');
    const victim = makeBrowser();
    const url = await logInAtIssuer(victim, 'dr.once');
    const other = makeBrowser(); // somebody sends the link on
    expect((await other.visit(url)).location).toBe(`${desk.origin}/?refused=oidc-state-wrong`);
    const changed = new URL(url);
    changed.searchParams.set('state', 'x'.repeat(43));
    expect((await victim.visit(changed.href)).location).toBe(`${desk.origin}/?refused=oidc-refused`);
    expect((await victim.visit(url)).location).toBe(`${desk.origin}/?refused=oidc-state-wrong`);
    expect((await whoAmI(victim)).person).toBeNull();
    const mixed = makeBrowser(); // a code of one log-in, put into another
    const first = new URL(await logInAtIssuer(mixed, 'dr.once'));
    const second = new URL(await logInAtIssuer(mixed, 'dr.once'));
    second.searchParams.set('code', first.searchParams.get('code')!);
    expect((await mixed.visit(second.href)).location).toBe(`${desk.origin}/?refused=oidc-refused`);
    expect(desk.defects).toEqual([]);
  });

  test('leads back to a page of ours only', () => {
    for (const to of ['//evil.example', 'https://evil.example', '/\\evil.example', '/a?x=1', 'javascript:alert(1)', '/oidc/start', '', '/%0d%0aX: y', undefined]) expect(readTarget(to), String(to)).toBe('/');
    expect(readTarget('/case/abc/root')).toBe('/case/abc/root');
  });

  test('the file that names the issuer is checked before anything is opened', async () => {
    const tell = async (content: string) => {
      writeFileSync(oidcFile, content);
      const read = await readOidcIssuer(oidcFile);
      return read.ok ? 'good' : read.failure.code;
    };
    const good = { issuer: issuerUrl, clientId: 'desk' };
    expect(await tell('{')).toBe('oidc-file-wrong');
    expect(await tell(JSON.stringify({ ...good, more: 1 }))).toBe('oidc-file-wrong');
    expect(await tell(JSON.stringify({ ...good, issuer: 'http://issuer.example' }))).toBe('oidc-file-wrong'); // not over the open net
    expect(await tell(JSON.stringify({ ...good, issuer: `${issuerUrl}/none` }))).toBe('oidc-unreachable');
    expect(await tell(JSON.stringify(good))).toBe('good');
  });
});
