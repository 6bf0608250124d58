import { symlinkSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { codeOf, makeTestDesk, type TestDesk, type Visitor } from '../../../test/support/make-desk.ts';
import { replay, seed } from '../../../test/support/seed.ts';
import { API_ERROR, ROUTES, type Route, type RouteName } from '../../formats/api/api-routes.ts';
import { makeOpenApi } from '../../formats/api/make-openapi.ts';

let desk: TestDesk;
let admin: Visitor;
let caseId = '';
beforeAll(async () => {
  desk = await makeTestDesk({ limitPoints: { accountHere: 1e6, place: 1e6, account: 1e6, seconds: 60 } });
  admin = await desk.enter('admin');
  caseId = (await admin.ask('/api/cases', { method: 'POST', body: { label: 'Fuzz', procedureOn: null } })).json<{ caseId: string }>().caseId;
});
afterAll(() => desk.close());

type Schema = Readonly<Record<string, unknown>>;
/** Values that a schema of the OpenAPI document describes, and beside them values that it does not. */
function drawFrom(schema: Schema): fc.Arbitrary<unknown> {
  const some = schema['anyOf'] ?? schema['oneOf'];
  if (Array.isArray(some)) return fc.oneof(...some.map((each) => drawFrom(each as Schema)));
  if ('const' in schema) return fc.constant(schema['const']);
  if (Array.isArray(schema['enum'])) return fc.constantFrom(...(schema['enum'] as unknown[]));
  const number = (name: string, preset: number): number => (typeof schema[name] === 'number' ? (schema[name] as number) : preset);
  switch (schema['type']) {
    case 'object': {
      const properties = (schema['properties'] ?? {}) as Readonly<Record<string, Schema>>;
      return fc.record(Object.fromEntries(Object.entries(properties).map(([key, each]) => [key, drawFrom(each)])), { requiredKeys: (schema['required'] as string[] | undefined) ?? [] });
    }
    case 'array': {
      const items = schema['prefixItems'] ?? schema['items'];
      if (Array.isArray(items)) return fc.tuple(...items.map((each) => drawFrom(each as Schema)));
      return fc.array(drawFrom(items as Schema), { minLength: Math.min(number('minItems', 0), 12), maxLength: Math.min(number('maxItems', 4), 14) });
    }
    case 'string': {
      if (typeof schema['pattern'] === 'string' && schema['format'] === undefined) return fc.stringMatching(new RegExp(schema['pattern']));
      if (schema['format'] === 'date') return fc.constantFrom('2026-11-25', '2024-02-29', '2026-12-31');
      if (schema['format'] === 'date-time') return fc.constantFrom('2026-11-25T09:00:00.000Z', '1999-12-31T23:59:59.999Z', '2400-02-29T00:00:00.000Z');
      return fc.string({ minLength: number('minLength', 0), maxLength: Math.min(number('maxLength', 20), 60) });
    }
    case 'integer': return fc.integer({ min: Math.max(number('minimum', -5), -1e9), max: Math.min(number('maximum', 1000), 1e9) });
    case 'number': return fc.double({ min: number('minimum', -100), max: number('maximum', 100), noNaN: true, noDefaultInfinity: true });
    case 'boolean': return fc.boolean();
    case 'null': return fc.constant(null);
    default: return fc.jsonValue({ maxDepth: 3 });
  }
}
/** A right body with one place put wrong: another kind of value, a field too much, one too few. */
const spoil = (body: fc.Arbitrary<unknown>): fc.Arbitrary<unknown> =>
  fc.tuple(body, fc.array(fc.nat(20), { maxLength: 4 }), fc.oneof(fc.jsonValue({ maxDepth: 2 }), fc.constantFrom('', '\u0000', '../../etc/passwd', "'; drop table events; --", '$where', 1e308, -0, '9'.repeat(400), '__proto__'))).map(([value, steps, put]) => {
    const root: Record<string, unknown> = { body: JSON.parse(JSON.stringify(value ?? null)) as unknown };
    let at: Record<string, unknown> = root;
    let key = 'body';
    for (const step of steps) {
      const next = at[key];
      if (next === null || typeof next !== 'object' || Object.keys(next).length === 0) break;
      at = next as Record<string, unknown>;
      key = Object.keys(at)[step % Object.keys(at).length]!;
    }
    if (steps.length % 3 === 2) delete at[key];
    if (key === 'body' && !('body' in root)) root['body'] = null;
    else if (steps.length % 3 !== 2) at[steps.length % 3 === 1 ? `${key}x` : key] = put;
    return root['body'];
  });

const document = makeOpenApi('test');
const routes = (Object.entries(ROUTES) as [RouteName, Route][]).map(([name, route]) => ({ name, route, told: document.paths[route.path]![route.method.toLowerCase()]! }));
const fill = (path: string): string => path.replace('{caseId}', caseId).replace('{sha256}', 'a'.repeat(64)).replace('{name}', path.includes('prints') ? 'plan' : 'calcium.stl').replace('{jobId}', 'job-none').replace('{personId}', 'person-none').replace('{pairingId}', 'pairing-none').replace('{format}', 'csv').replace('{runId}', 'run-none').replace('{recordingId}', 'recording-none').replace('{liveId}', 'live-none').replace('{echoId}', 'echo-none').replace('{angiogramId}', 'angiogram-none').replace('{number}', '1');
/** Those that would end the session that the test uses, or never end. */
const APART: ReadonlySet<RouteName> = new Set<RouteName>(['endSession', 'followCase', 'followRoom', 'changeOwnPassword', 'openSession', 'addFirstPerson']);

function expectSound(name: string, told: string, answer: { status: number; text: string; headers: Headers }): void {
  expect(desk.defects, `${name} ${told}`).toEqual([]);
  expect(answer.status, `${name} ${told} gave ${answer.text.slice(0, 300)}`).not.toBe(500);
  if (answer.status >= 400 && answer.headers.get('content-type')?.startsWith('application/json')) {
    const body = JSON.parse(answer.text) as { error?: unknown };
    if (body.error !== undefined) expect(API_ERROR.safeParse(body).success, `${name} ${answer.text}`).toBe(true);
  }
  expect(answer.text).not.toMatch(/node_modules|at .*\.ts:\d|\/src\/|zod/i);
}

describe(`bodies from the OpenAPI document (seed ${seed})`, () => {
  for (const { name, route, told } of routes.filter((r) => r.route.body !== null && !APART.has(r.name))) {
    test(`${name} answers or refuses by code, whatever is sent`, async () => {
      const schema = (told as { requestBody: { content: { 'application/json': { schema: Schema } } } }).requestBody.content['application/json'].schema;
      const right = drawFrom(schema);
      await fc.assert(fc.asyncProperty(fc.oneof(right, spoil(right), fc.jsonValue({ maxDepth: 4 })), async (body) => {
        const answer = await admin.ask(fill(route.path), { method: route.method, raw: JSON.stringify(body) });
        expectSound(name, JSON.stringify(body), answer);
        if (!route.body!.safeParse(JSON.parse(JSON.stringify(body))).success) expect([400, 413], JSON.stringify(body)).toContain(answer.status);
        else expect(answer.status).not.toBe(400);
      }), { ...replay, numRuns: Math.min(replay.numRuns, 15) });
    });
  }

  test('log-in and first account take any body without falling over', async () => {
    const body = fc.record({ login: fc.string({ maxLength: 45 }), password: fc.string({ maxLength: 210 }), startToken: fc.string({ maxLength: 90 }), displayName: fc.string({ maxLength: 90 }) }, { requiredKeys: [] });
    await fc.assert(fc.asyncProperty(fc.constantFrom('/api/session', '/api/first-person', '/api/session/password'), fc.oneof(body, fc.jsonValue()), async (path, value) => {
      const answer = await desk.visit().ask(path, { method: 'POST', raw: JSON.stringify(value) });
      expectSound(path, JSON.stringify(value), answer);
      expect([400, 401, 403, 409, 503]).toContain(answer.status);
    }), { ...replay, numRuns: Math.min(replay.numRuns, 40) });
  });

  test('every route answers as the document says: 200 of its kind, or a refusal', async () => {
    for (const { name, route, told } of routes.filter((r) => !APART.has(r.name))) {
      const answer = await admin.ask(fill(route.path), { method: route.method });
      expectSound(name, '', answer);
      const type = answer.headers.get('content-type') ?? '';
      if (answer.status === 200) expect(Object.keys((told as { responses: { 200: { content: object } } }).responses[200].content).some((t) => t === '*/*' || type.startsWith(t)), `${name} ${type}`).toBe(true);
      else expect(API_ERROR.safeParse(answer.json()).success, `${name} ${answer.text}`).toBe(true);
      const wrong = await admin.ask(fill(route.path), { method: 'PUT' });
      expect([wrong.status, codeOf(wrong)], name).toEqual([405, 'method-wrong']);
      expect(wrong.headers.get('allow')).toContain(route.method);
    }
  });

  test('a query or path that does not fit is refused by place, without repeating it', async () => {
    for (const path of ['/api/cases?limit=0', '/api/cases?limit=1e9', '/api/cases?limit=x', '/api/cases?more=secretword', '/api/cases?limit=1&limit=2', '/api/cases/UPPER', '/api/cases/a%2f..%2fb', `/api/cases/${'a'.repeat(99)}`, `/api/cases/${caseId}/events?after=-1`, `/api/cases/${caseId}/surfaces/secretword`, '/api/tables/secretword']) {
      const answer = await admin.ask(path);
      expect([answer.status, codeOf(answer)], path).toEqual([400, 'request-invalid']);
      expect(answer.text).not.toContain('secretword');
    }
    const unknown = await admin.ask('/api/cases', { method: 'POST', body: { label: 'A', procedureOn: null, secretword: 1 } });
    expect([unknown.status, unknown.text.includes('secretword')]).toEqual([400, false]);
  });
});

describe('bodies that are no bodies', () => {
  const post = (raw: string | Uint8Array, headers: Record<string, string> = {}) => admin.ask('/api/cases', { method: 'POST', raw, headers });
  test('not JSON, not UTF-8, not said to be JSON, or nested without end', async () => {
    for (const raw of ['', '{', '{"label":"A"', 'null x', '\ufeff{}', '[1,]', "{'label':1}"]) expect((await post(raw)).status, raw).toBe(raw === '\ufeff{}' ? 400 : 415);
    expect(codeOf(await post(Uint8Array.of(0x7b, 0x22, 0xff, 0xfe, 0x22, 0x7d)))).toBe('not-json');
    expect(codeOf(await post('{"label":"A","procedureOn":null}', { 'content-type': 'text/plain' }))).toBe('not-json');
    const deep = await admin.ask('/api/tables', { method: 'POST', raw: `${'['.repeat(200_000)}${']'.repeat(200_000)}` });
    expect([deep.status, codeOf(deep)]).toEqual([400, 'request-invalid']);
    const named = await admin.ask('/api/cases', { method: 'POST', raw: '{"__proto__":{"label":"A"},"constructor":1,"label":"A","procedureOn":null}' });
    expect(named.status).toBe(400);
    expect(({} as { label?: string }).label).toBeUndefined();
    expect(desk.defects).toEqual([]);
  });

  test('too large: said at once when announced, cut off when not', async () => {
    const announced = await post('{}', { 'content-length': '2' });
    expect(announced.status).toBe(400);
    const large = JSON.stringify({ label: 'A'.repeat(70_000), procedureOn: null });
    expect([codeOf(await post(large)), codeOf(await post(large, { 'transfer-encoding': 'chunked' }))]).toEqual(['body-too-large', 'body-too-large']);
    // Ten gigabytes announced and never sent: refused by the announcement.
    const status = await new Promise<string>((resolve) => {
      const socket = connect(desk.server.port, '127.0.0.1', () => socket.write(`POST /api/cases HTTP/1.1\r\nHost: 127.0.0.1:${desk.server.port}\r\nOrigin: ${desk.origin}\r\nCookie: ${admin.cookie}\r\nX-Trinadir-Csrf: ${admin.csrf}\r\nContent-Type: application/json\r\nContent-Length: 10737418240\r\n\r\n{`));
      socket.on('data', (data) => (resolve(data.toString().split('\r\n')[0]!), socket.destroy()));
    });
    expect(status).toContain('413');
    expect((await admin.ask('/api/cases')).status).toBe(200);
  });

  test('a header without end is cut off by the server', async () => {
    const told = await new Promise<string>((resolve) => {
      const socket = connect(desk.server.port, '127.0.0.1', () => socket.write(`GET / HTTP/1.1\r\nHost: 127.0.0.1:${desk.server.port}\r\nX-Long: ${'x'.repeat(40_000)}\r\n\r\n`));
      socket.on('data', (data) => (resolve(data.toString().split('\r\n')[0]!), socket.destroy()));
      socket.on('close', () => resolve('closed'));
    });
    expect(told).toMatch(/431|closed/);
  });
});

describe('pages', () => {
  test('gives the pages, and nothing outside their folder, hidden, linked away or not a file', async () => {
    symlinkSync(join(desk.folder, 'secret.txt'), join(desk.folder, 'web', 'link.txt'));
    symlinkSync(desk.folder, join(desk.folder, 'web', 'up'));
    writeFileSync(join(desk.folder, 'web', '.hidden.txt'), 'secret');
    const visitor = desk.visit();
    const script = await visitor.ask('/assets/main-abc123.js');
    expect([script.status, script.headers.get('content-type'), script.headers.get('cache-control')]).toEqual([200, 'text/javascript; charset=utf-8', 'public, max-age=31536000, immutable']);
    for (const path of ['/', '/case/abc/root', '/people']) expect((await visitor.ask(path)).text, path).toContain('<title>desk</title>');
    const paths = ['/../secret.txt', '/assets/../../secret.txt', '/%2e%2e/secret.txt', '/..%2fsecret.txt', '/assets/..%5c..%5csecret.txt', '/assets/%2e%2e%2f%2e%2e%2fsecret.txt', '//etc/passwd.txt', '/%2fetc/passwd.txt', '/.hidden.txt', '/link.txt', '/up/secret.txt', '/assets//main-abc123.js', '/index.html%00.js', '/%ff.txt', '/%.txt', '/data/lock.txt', '/assets/main-abc123.js/x.js'];
    for (const path of paths) {
      const answer = await visitor.ask(path);
      expect(answer.text, path).not.toContain('secret');
      expect([400, 404], `${path} ${answer.status}`).toContain(answer.status);
    }
    expect((await visitor.ask('/', { method: 'POST' })).status).toBe(405);
    expect((await visitor.ask('/', { method: 'HEAD' })).text).toBe('');
  });
});
