import { networkInterfaces } from 'node:os';
import { connect } from 'node:net';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { codeOf, makeTestDesk, must, PASSWORD, type TestDesk, type Visitor } from '../../../test/support/make-desk.ts';
import { ROUTES, type Route } from '../../formats/api/api-routes.ts';
import { ALLOWED, ROLES } from '../security/roles.ts';
import { makeSteadyClock } from '../security/steady-clock.ts';

let desk: TestDesk;
let nowMs = Date.UTC(2026, 10, 25, 9);
beforeAll(async () => {
  desk = await makeTestDesk({ readNow: () => nowMs });
});
afterAll(() => desk.close());

const ID = '0000abcd-none';
const HASH = 'a'.repeat(64);
const fill = (path: string): string => path.replace(/\{(sha256)\}/, HASH).replace('{name}', path.includes('prints') ? 'plan' : 'calcium.stl').replace(/\{\w+\}/g, ID);

describe('first start', () => {
  test('only the printed token makes the first account, once, and logs it in', async () => {
    const visitor = desk.visit();
    expect((await visitor.ask('/api/session')).json()).toMatchObject({ person: null, csrfToken: null, needsFirstPerson: true });
    const body = { startToken: 'guess', login: 'chief', displayName: 'Chief', password: PASSWORD };
    expect(codeOf(await visitor.ask('/api/first-person', { method: 'POST', body }))).toBe('start-token-wrong');
    expect(desk.server.isFirstStart).toBe(true);
    const startToken = /#token=([\w-]{43})$/.exec(desk.server.startUrl)![1]!;
    const [made, second] = await Promise.all([
      visitor.ask('/api/first-person', { method: 'POST', body: { ...body, startToken } }),
      desk.visit().ask('/api/first-person', { method: 'POST', body: { ...body, startToken, login: 'rival' } }),
    ]);
    expect(made.status).toBe(200);
    expect(codeOf(second)).toBe('first-done');
    expect((await visitor.ask('/api/session')).json()).toMatchObject({ person: { login: 'chief', role: 'admin', hasPassword: true }, needsFirstPerson: false });
    expect(made.text).not.toMatch(/scrypt|passwordHash/);
  });
});

describe('sessions', () => {
  test('the cookie cannot be used by scripts or from other sites, and is not what is stored', async () => {
    const visitor = await desk.enter('viewer');
    const answer = await visitor.ask('/api/session', { method: 'POST', body: { login: visitor.login, password: PASSWORD } });
    const given = answer.headers.get('set-cookie')!;
    expect(given).toMatch(new RegExp(`^trinadir_${desk.server.port}=[\\w-]{43}; Path=/; HttpOnly; SameSite=Strict; Max-Age=43200$`));
    const token = /=([\w-]{43});/.exec(given)![1]!;
    expect(must(await desk.opened.store.findSession(token))).toBeNull();
  });

  test('a wrong password, an unknown name and an account that is switched off are refused alike', async () => {
    const visitor = await desk.enter('viewer');
    const admin = await desk.enter('admin');
    const wrong = await desk.visit().ask('/api/session', { method: 'POST', body: { login: visitor.login, password: 'not the password' } });
    const unknown = await desk.visit().ask('/api/session', { method: 'POST', body: { login: 'nobody-here', password: PASSWORD } });
    expect((await admin.ask(`/api/people/${visitor.personId}`, { method: 'PATCH', body: { isActive: false } })).status).toBe(200);
    const off = await desk.visit().ask('/api/session', { method: 'POST', body: { login: visitor.login, password: PASSWORD } });
    expect([wrong.status, unknown.status, off.status]).toEqual([401, 401, 401]);
    expect(new Set([wrong.text, unknown.text, off.text]).size).toBe(1);
    expect((await visitor.ask('/api/cases')).status).toBe(401); // and what it had open is over
  });

  test('logging in gives a new token and ends the one that was there: nobody can plant a session', async () => {
    const visitor = await desk.enter('viewer');
    const before = visitor.cookie;
    const attacker = desk.visit();
    attacker.cookie = before;
    await visitor.ask('/api/session', { method: 'POST', body: { login: visitor.login, password: PASSWORD } });
    expect(visitor.cookie).not.toBe(before);
    expect((await attacker.ask('/api/cases')).status).toBe(401);
    const planted = desk.visit();
    planted.cookie = `trinadir_${desk.server.port}=${'x'.repeat(43)}`;
    await planted.ask('/api/session', { method: 'POST', body: { login: visitor.login, password: PASSWORD } });
    expect(planted.cookie).not.toContain('xxx');
  });

  test('logging out ends it everywhere that the token had been copied to', async () => {
    const visitor = await desk.enter('viewer');
    const thief = desk.visit();
    thief.cookie = visitor.cookie;
    expect((await thief.ask('/api/cases')).status).toBe(200);
    const left = await visitor.ask('/api/session', { method: 'DELETE' });
    expect([left.status, left.headers.get('clear-site-data')]).toEqual([200, '"cache"']);
    expect((await thief.ask('/api/cases')).status).toBe(401);
  });

  test('a stolen cookie alone changes nothing: the mark of the session is needed too', async () => {
    const visitor = await desk.enter('planner');
    const thief = desk.visit();
    thief.cookie = visitor.cookie;
    for (const csrf of ['', 'x'.repeat(43), visitor.cookie.split('=')[1]!]) {
      thief.csrf = csrf;
      expect(codeOf(await thief.ask('/api/cases', { method: 'POST', body: { label: 'A', procedureOn: null } }))).toBe('csrf-wrong');
    }
    const other = await desk.enter('planner');
    thief.csrf = other.csrf; // the mark of another session
    expect(codeOf(await thief.ask('/api/cases', { method: 'POST', body: { label: 'A', procedureOn: null } }))).toBe('csrf-wrong');
  });

  test('two cookies of one name, a broken one or a token in the address open nothing', async () => {
    const visitor = await desk.enter('viewer');
    const token = visitor.cookie.split('=')[1]!;
    const name = visitor.cookie.split('=')[0]!;
    for (const cookie of [`${name}=${'y'.repeat(43)}; ${visitor.cookie}`, `${visitor.cookie}x`, `${name}=%00`, `${name}=`, `other=${token}`]) {
      const guess = desk.visit();
      guess.cookie = cookie;
      expect((await guess.ask('/api/cases')).status, cookie).toBe(401);
    }
    expect((await desk.visit().ask(`/api/cases?session=${token}`)).status).toBe(401);
    expect((await desk.visit().ask('/api/cases', { headers: { authorization: `Bearer ${token}` } })).status).toBe(401);
  });

  test('silence ends it after an hour, twelve hours end it anyway, and a clock set back does not keep it', async () => {
    const start = nowMs;
    const HOUR = 3_600_000;
    const idle = await desk.enter('viewer');
    nowMs += HOUR - 1;
    expect((await idle.ask('/api/cases')).status).toBe(200);
    nowMs += HOUR;
    expect((await idle.ask('/api/cases')).status).toBe(401);
    const busy = await desk.enter('viewer');
    for (let h = 0; h < 11; h++) {
      nowMs += HOUR - 1000;
      expect((await busy.ask('/api/cases')).status).toBe(200);
    }
    nowMs -= 6 * HOUR; // set back: still good, but not younger than it was
    expect((await busy.ask('/api/cases')).status).toBe(200);
    nowMs += 7 * HOUR + 12_000;
    expect((await busy.ask('/api/cases')).status).toBe(401);
    nowMs = start;
  });

  test('a new password ends all other sessions and keeps this one', async () => {
    const visitor = await desk.enter('viewer');
    const elsewhere = desk.visit();
    await elsewhere.ask('/api/session', { method: 'POST', body: { login: visitor.login, password: PASSWORD } });
    expect(codeOf(await visitor.ask('/api/session/password', { method: 'POST', body: { was: 'wrong one', is: 'another long one' } }))).toBe('password-wrong');
    expect(codeOf(await visitor.ask('/api/session/password', { method: 'POST', body: { was: PASSWORD, is: PASSWORD } }))).toBe('password-same');
    expect((await visitor.ask('/api/session/password', { method: 'POST', body: { was: PASSWORD, is: 'another long one' } })).status).toBe(200);
    expect([(await visitor.ask('/api/cases')).status, (await elsewhere.ask('/api/cases')).status]).toEqual([200, 401]);
    expect((await desk.visit().ask('/api/session', { method: 'POST', body: { login: visitor.login, password: 'another long one' } })).status).toBe(200);
  });

  test('guessing is stopped by account and place, and says how long to wait', async () => {
    const visitor = await desk.enter('viewer');
    const guess = (password: string) => desk.visit().ask('/api/session', { method: 'POST', body: { login: visitor.login, password } });
    const codes: string[] = [];
    for (let i = 0; i < 9; i++) codes.push(codeOf(await guess(`guess number ${i}`)));
    expect(codes).toEqual([...Array(8).fill('login-wrong'), 'too-many-attempts']);
    const late = await guess(PASSWORD); // the right one does not help now
    expect(late.status).toBe(429);
    expect(Number(late.headers.get('retry-after'))).toBeGreaterThan(800);
    const refused = must(await desk.opened.store.listAudit({ afterSeq: 0, limit: 500 })).filter((e) => e.kind === 'session.refused');
    expect(refused.length).toBeGreaterThanOrEqual(10);
    expect(JSON.stringify(refused)).not.toMatch(/guess number|correct horse/);
  });
});

describe('roles', () => {
  test('every route refuses nobody and every role that it is not for, before it looks at anything else', async () => {
    const visitors = new Map<string, Visitor>();
    for (const role of ROLES) visitors.set(role, await desk.enter(role));
    for (const [name, route] of Object.entries(ROUTES) as [string, Route][]) {
      if (route.needs === 'nobody') continue;
      expect(codeOf(await desk.visit().ask(fill(route.path), { method: route.method })), name).toBe('not-logged-in');
      for (const role of ROLES) {
        if (ALLOWED[role].includes(route.needs)) continue;
        const answer = await visitors.get(role)!.ask(fill(route.path), { method: route.method });
        expect([answer.status, codeOf(answer)], `${role} ${name}`).toEqual([403, 'not-allowed']);
      }
    }
    const refused = must(await desk.opened.store.listAudit({ afterSeq: 0, limit: 1000 })).filter((e) => e.kind === 'access.refused');
    expect(refused.length).toBeGreaterThan(20);
  });

  test('a role that changes ends the sessions it had, and the last administrator stays', async () => {
    const admin = await desk.enter('admin');
    const planner = await desk.enter('planner');
    expect((await admin.ask(`/api/people/${planner.personId}`, { method: 'PATCH', body: { role: 'viewer' } })).status).toBe(200);
    expect((await planner.ask('/api/cases')).status).toBe(401);
    const people = (await admin.ask('/api/people')).json<{ personId: string; role: string; isActive: boolean }[]>();
    const others = people.filter((p) => p.role === 'admin' && p.isActive && p.personId !== admin.personId);
    for (const { personId } of others) await admin.ask(`/api/people/${personId}`, { method: 'PATCH', body: { isActive: false } });
    expect(codeOf(await admin.ask(`/api/people/${admin.personId}`, { method: 'PATCH', body: { role: 'viewer' } }))).toBe('last-admin');
    expect(codeOf(await admin.ask(`/api/people/${admin.personId}`, { method: 'PATCH', body: { isActive: false } }))).toBe('last-admin');
    expect(codeOf(await admin.ask('/api/people/person-none', { method: 'PATCH', body: { role: 'viewer' } }))).toBe('person-unknown');
    expect(codeOf(await admin.ask('/api/people', { method: 'POST', body: { login: planner.login, displayName: 'Twin', role: 'viewer', password: PASSWORD } }))).toBe('login-taken');
  });
});

describe('other sites', () => {
  test('a request from another site is refused whatever it carries', async () => {
    const visitor = await desk.enter('planner');
    const body = { label: 'A', procedureOn: null };
    const post = (headers: Record<string, string | undefined>) => visitor.ask('/api/cases', { method: 'POST', body, headers });
    for (const origin of ['https://evil.example', 'null', 'http://127.0.0.1', `http://127.0.0.1:${desk.server.port + 1}`, `http://localhost:${desk.server.port}`, undefined]) {
      expect(codeOf(await post({ origin })), String(origin)).toBe('cross-site');
    }
    for (const site of ['cross-site', 'same-site', 'none']) expect(codeOf(await post({ 'sec-fetch-site': site })), site).toBe('cross-site');
    expect((await post({ 'sec-fetch-site': 'same-origin' })).status).toBe(200);
    const get = (headers: Record<string, string>) => visitor.ask('/api/cases', { headers });
    expect(codeOf(await get({ 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'no-cors', 'sec-fetch-dest': 'image' }))).toBe('cross-site');
    expect((await get({ 'sec-fetch-site': 'same-origin' })).status).toBe(200);
    const link = await visitor.ask('/case/abc', { headers: { 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate', 'sec-fetch-dest': 'document' } });
    expect(link.status).toBe(200); // a link in a letter opens the page, which then asks by itself
    const frame = await visitor.ask('/case/abc', { headers: { 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate', 'sec-fetch-dest': 'iframe' } });
    expect(frame.status).toBe(403);
  });

  test('a form of another site cannot log anybody in or out', async () => {
    const visitor = await desk.enter('viewer');
    const form = { method: 'POST', raw: 'login=a&password=b', headers: { 'content-type': 'application/x-www-form-urlencoded' } };
    expect(codeOf(await desk.visit().ask('/api/session', form))).toBe('not-json');
    expect(codeOf(await desk.visit().ask('/api/session', { ...form, headers: { ...form.headers, 'content-type': 'text/plain', origin: 'https://evil.example' } }))).toBe('cross-site');
    expect((await visitor.ask('/api/session', { method: 'DELETE', headers: { origin: 'https://evil.example' } })).status).toBe(403);
    expect((await visitor.ask('/api/cases')).status).toBe(200);
  });

  test('serves only its own name and no other machine', async () => {
    for (const host of ['evil.example', `evil.example:${desk.server.port}`, '127.0.0.1:1', `127.0.0.1.evil.example:${desk.server.port}`]) {
      expect((await desk.visit().ask('/', { headers: { host } })).status, host).toBe(421);
    }
    for (const { address } of Object.values(networkInterfaces()).flat().filter((a) => a && !a.internal && a.family === 'IPv4') as { address: string }[]) {
      const isReached = await new Promise<boolean>((resolve) => {
        const socket = connect({ host: address, port: desk.server.port, timeout: 1000 });
        socket.on('connect', () => resolve(true)).on('error', () => resolve(false)).on('timeout', () => resolve(false));
      });
      expect(isReached).toBe(false);
    }
  });

  test('every answer forbids scripts of others, frames, sniffing and keeping', async () => {
    const visitor = await desk.enter('viewer');
    for (const answer of [await visitor.ask('/'), await visitor.ask('/api/cases'), await visitor.ask('/api/none'), await visitor.ask('/', { headers: { host: 'evil.example' } }), await visitor.ask('/api/cases', { method: 'PUT' })]) {
      const policy = answer.headers.get('content-security-policy')!;
      expect(policy).toContain("default-src 'none'");
      expect(/script-src ([^;]*)/.exec(policy)![1]).toBe("'self'");
      expect(/style-src ([^;]*)/.exec(policy)![1]).toBe("'self'");
      expect(policy).toContain("frame-ancestors 'none'");
      expect(answer.headers.get('x-content-type-options')).toBe('nosniff');
      expect(answer.headers.get('cross-origin-resource-policy')).toBe('same-origin');
      expect(answer.headers.get('access-control-allow-origin')).toBeNull();
      expect(answer.headers.get('cache-control')).toMatch(/no-store|no-cache/);
    }
    expect((await visitor.ask('/api/cases')).headers.get('cache-control')).toBe('no-store');
  });
});

describe('makeSteadyClock', () => {
  test('goes on by the monotonic timer when the wall clock is set back, and follows it forward', () => {
    let wall = 1_000_000;
    let tick = 0;
    const read = makeSteadyClock(() => wall, () => tick);
    expect(read()).toBe(1_000_000);
    wall -= 500_000;
    tick += 250;
    expect(read()).toBe(1_000_250);
    wall = 2_000_000;
    tick += 1;
    expect(read()).toBe(2_000_000);
  });
});
