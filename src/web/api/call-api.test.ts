import { afterEach, describe, expect, test, vi } from 'vitest';
import { callApi, makeApiPath, sendText, setCsrfToken, whenSessionLost } from './call-api.ts';

const answer = (status: number, body: unknown): void => void vi.stubGlobal('fetch', vi.fn(async () => new Response(typeof body === 'string' ? body : JSON.stringify(body), { status })));
const asked = (): { url: string; init: RequestInit & { headers: Record<string, string> } } => {
  const [url, init] = vi.mocked(fetch).mock.calls[0]!;
  return { url: url as string, init: init as RequestInit & { headers: Record<string, string> } };
};
const HEALTH = { store: 'ready', version: '0.1.0' };
afterEach(() => {
  vi.unstubAllGlobals();
  setCsrfToken(null);
});

describe('a question to the server', () => {
  test('puts parameters into the address and leaves out what was not asked', () => {
    expect(makeApiPath('readPlan', { params: { caseId: 'case-1', sha256: 'ab' } })).toBe('/api/cases/case-1/plans/ab');
    expect(makeApiPath('readCase', { params: { caseId: '../people' } })).toBe('/api/cases/..%2Fpeople');
    expect(makeApiPath('listCases', { query: { find: 'a b&c', missing: undefined, limit: 5 } })).toBe('/api/cases?find=a+b%26c&limit=5');
  });
  test('carries the mark of the session where it changes something, and nowhere else', async () => {
    setCsrfToken('token');
    answer(200, null);
    await callApi('cancelJob', { params: { jobId: 'job-1' }, body: {} });
    expect(asked().init.headers['x-trinadir-csrf']).toBe('token');
    answer(200, HEALTH);
    await callApi('readHealth');
    expect(asked().init.headers['x-trinadir-csrf']).toBeUndefined();
    expect(asked().init.credentials).toBe('same-origin');
  });
  test('gives the answer when it has the shape of the table, and refuses another', async () => {
    answer(200, HEALTH);
    expect(await callApi('readHealth')).toEqual({ ok: true, value: HEALTH });
    for (const other of [{ ...HEALTH, store: 'odd' }, { ...HEALTH, more: 1 }, 'not json', null]) {
      answer(200, other);
      expect(await callApi('readHealth')).toMatchObject({ ok: false, failure: { code: 'answer-not-understood' } });
    }
  });
  test('gives the server’s own refusal with its next step and newer events', async () => {
    answer(409, { error: { code: 'case-changed', text: 'Changed.', next: 'Look.' }, newer: [{ seq: 4 }] });
    const refused = await callApi('addEvents', { params: { caseId: 'case-1' }, body: { expectSeq: 3, events: [] } });
    expect(refused).toMatchObject({ ok: false, failure: { status: 409, code: 'case-changed', message: 'Changed.', nextStep: 'Look.', newer: [{ seq: 4 }] } });
  });
  test('a part of a stream goes as CSV, as it is, with the mark of the session', async () => {
    setCsrfToken('token');
    answer(200, { liveId: 'live-1', beats: [], findings: [] });
    expect(await sendText('appendLive', { params: { caseId: 'case-1', liveId: 'live-1' } }, 'time;AO\n0;80\n')).toMatchObject({ ok: true });
    expect(asked()).toMatchObject({ url: '/api/cases/case-1/live/live-1', init: { method: 'POST', body: 'time;AO\n0;80\n', headers: { 'content-type': 'text/csv', 'x-trinadir-csrf': 'token' } } });
    answer(404, { error: { code: 'live-unknown', text: 'Over.', next: 'Begin.' } });
    expect(await sendText('appendLive', { params: { caseId: 'case-1', liveId: 'live-1' } }, 'x')).toMatchObject({ ok: false, failure: { code: 'live-unknown' } });
  });
  test('says so when no server answers, or a proxy answers in its place', async () => {
    vi.stubGlobal('fetch', vi.fn(async () => Promise.reject(new TypeError('failed'))));
    expect(await callApi('readHealth')).toMatchObject({ ok: false, failure: { status: 0, code: 'server-unreachable' } });
    answer(502, '<html>Bad gateway</html>');
    expect(await callApi('readHealth')).toMatchObject({ ok: false, failure: { status: 502, code: 'server-refused' } });
  });
  test('tells when the session is over, but not for a wrong password', async () => {
    const tell = vi.fn();
    whenSessionLost(tell);
    answer(401, { error: { code: 'login-wrong', text: 'x', next: 'y' } });
    await callApi('openSession', { body: { login: 'anna', password: 'wrong' } });
    expect(tell).not.toHaveBeenCalled();
    answer(401, { error: { code: 'not-logged-in', text: 'x', next: 'y' } });
    await callApi('listPeople');
    expect(tell).toHaveBeenCalledOnce();
  });
});
