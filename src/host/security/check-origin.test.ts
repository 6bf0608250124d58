import { describe, expect, test } from 'vitest';
import { cookieName, formatCookie, readCookie } from '../server/door.ts';
import { checkOrigin, makeSiteAddress } from './check-origin.ts';

const fields = (all: Record<string, string>) => new Headers(all);
const codeOf = (result: ReturnType<typeof checkOrigin>): string => (result.ok ? 'good' : result.failure.code);

describe('checkOrigin', () => {
  const here = makeSiteAddress(8471, null);
  const proxied = makeSiteAddress(8471, 'https://desk.example.org');

  test('on this machine: only its own names, and what changes something only from the page of the same name', () => {
    const post = (host: string, origin?: string) => codeOf(checkOrigin(fields({ host, ...(origin ? { origin } : {}) }), 'POST', here));
    expect(post('127.0.0.1:8471', 'http://127.0.0.1:8471')).toBe('good');
    expect(post('localhost:8471', 'http://localhost:8471')).toBe('good');
    expect(post('localhost:8471', 'http://127.0.0.1:8471')).toBe('cross-site');
    expect(post('127.0.0.1:8471', 'https://127.0.0.1:8471')).toBe('cross-site');
    expect(post('127.0.0.1:8471')).toBe('cross-site');
    expect(post('127.0.0.1', 'http://127.0.0.1')).toBe('host-foreign');
    expect(post('desk.example.org', 'https://desk.example.org')).toBe('host-foreign');
  });

  test('behind a proxy: the public name is ours, whichever name the proxy passes on', () => {
    const post = (host: string, origin: string) => codeOf(checkOrigin(fields({ host, origin }), 'POST', proxied));
    expect(post('desk.example.org', 'https://desk.example.org')).toBe('good');
    expect(post('127.0.0.1:8471', 'https://desk.example.org')).toBe('good');
    expect(post('desk.example.org', 'http://desk.example.org')).toBe('cross-site');
    expect(post('desk.example.org', 'https://desk.example.org.evil.example')).toBe('cross-site');
    expect(post('evil.example', 'https://desk.example.org')).toBe('host-foreign');
  });

  test('reading: a link from anywhere opens a page, nothing of another site reads an answer', () => {
    const get = (more: Record<string, string>) => codeOf(checkOrigin(fields({ host: '127.0.0.1:8471', ...more }), 'GET', here));
    expect([get({}), get({ 'sec-fetch-site': 'none' }), get({ 'sec-fetch-site': 'same-origin' })]).toEqual(['good', 'good', 'good']);
    expect(get({ 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate', 'sec-fetch-dest': 'document' })).toBe('good');
    for (const dest of ['iframe', 'object', 'embed']) expect(get({ 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate', 'sec-fetch-dest': dest })).toBe('cross-site');
    expect([get({ 'sec-fetch-site': 'same-site' }), get({ 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'cors' })]).toEqual(['cross-site', 'cross-site']);
  });

  test('cookies: over TLS they are tied to the one host and never sent without it', () => {
    expect(formatCookie(proxied, 'token', 60)).toBe('__Host-trinadir_8471=token; Path=/; HttpOnly; SameSite=Strict; Max-Age=60; Secure');
    expect(formatCookie(here, 'token', 60)).toBe('trinadir_8471=token; Path=/; HttpOnly; SameSite=Strict; Max-Age=60');
    expect(readCookie(fields({ cookie: `a=1; ${cookieName(here)}=token; b=2` }), here)).toBe('token');
    expect(readCookie(fields({ cookie: `trinadir_84711=other; xtrinadir_8471=other` }), here)).toBeNull();
    expect(readCookie(fields({ cookie: `${cookieName(here)}=token; ${cookieName(here)}=token` }), here)).toBeNull();
  });
});
