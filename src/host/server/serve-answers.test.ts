import { mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { connect } from 'node:net';
import { networkInterfaces, tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { drawAnswerIndex } from './draw-answer-index.ts';
import { serveAnswers, type AnswerServer } from './serve-answers.ts';

const base = mkdtempSync(join(tmpdir(), 'trinadir-serve-'));
const folder = join(base, 'answers');
let server: AnswerServer;
let cookie = '';

beforeAll(async () => {
  mkdirSync(join(folder, 'plan', 'surfaces'), { recursive: true });
  writeFileSync(join(base, 'secret.txt'), 'secret');
  writeFileSync(join(folder, '.hidden'), 'secret');
  writeFileSync(join(folder, 'plan', 'plan.html'), '<p>ring</p>');
  writeFileSync(join(folder, 'plan', 'plan.json'), '{"format":"trinadir.plan/1"}');
  writeFileSync(join(folder, 'plan', 'surfaces', 'a b.stl'), 'solid');
  writeFileSync(join(folder, 'plan', 'odd.bin'), 'odd');
  symlinkSync(join(base, 'secret.txt'), join(folder, 'plan', 'link.txt'));
  symlinkSync(base, join(folder, 'plan', 'up'));
  const started = await serveAnswers({ folder, indexHtml: drawAnswerIndex(['plan/plan.html']), port: 0 });
  if (!started.ok) throw new Error(started.failure.code);
  server = started.value;
});
afterAll(async () => {
  await server.close();
  rmSync(base, { recursive: true, force: true });
});

interface Answer { readonly status: number; readonly headers: Readonly<Record<string, unknown>>; readonly text: string }
/** Sends the path as it stands (fetch would tidy it first). */
function ask(path: string, options: { method?: string; host?: string; cookie?: string } = {}): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const headers = {
      host: options.host ?? `127.0.0.1:${server.port}`,
      ...((options.cookie ?? cookie) === '' ? {} : { cookie: options.cookie ?? cookie }),
    };
    const call = request({ host: '127.0.0.1', port: server.port, path, method: options.method ?? 'GET', headers, agent: false }, (answer) => {
      let text = '';
      answer.on('data', (data: Buffer) => (text += data.toString()));
      answer.on('end', () => resolve({ status: answer.statusCode!, headers: answer.headers, text }));
    });
    call.on('error', reject);
    call.end();
  });
}

describe('serveAnswers', () => {
  test('shows nothing before the start address was opened', async () => {
    for (const path of ['/', '/plan/plan.html', '/nothing']) {
      const answer = await ask(path);
      expect([answer.status, answer.text]).toEqual([403, 'Open the start address that the program printed.']);
    }
    expect((await ask('/start/wrong')).status).toBe(403);
    expect((await ask('/', { cookie: `trinadir_${server.port}=wrong` })).status).toBe(403);
  });

  test('exchanges the start token for a cookie that scripts and foreign sites cannot use', async () => {
    const answer = await fetch(server.startUrl, { redirect: 'manual' });
    expect(answer.status).toBe(303);
    expect(answer.headers.get('location')).toBe('/');
    const given = answer.headers.get('set-cookie')!;
    expect(given).toMatch(new RegExp(`^trinadir_${server.port}=[\\w-]{32}; `));
    expect(given).toContain('HttpOnly');
    expect(given).toContain('SameSite=Strict');
    expect(given).not.toContain(server.startUrl.split('/').at(-1)!); // the cookie is not the token of the address
    cookie = given.split(';')[0]!;
  });

  test('serves the index and the files with their types', async () => {
    const index = await ask('/');
    expect(index.status).toBe(200);
    expect(index.text).toContain('href="/plan/plan.html"');
    expect(index.text).toContain('not a medical device');
    const page = await ask('/plan/plan.html');
    expect([page.status, page.text, page.headers['content-type']]).toEqual([200, '<p>ring</p>', 'text/html; charset=utf-8']);
    expect((await ask('/plan/plan.json')).headers['content-type']).toBe('application/json; charset=utf-8');
    expect((await ask('/plan/surfaces/a%20b.stl')).text).toBe('solid');
    expect((await ask('/plan/odd.bin')).headers['content-disposition']).toBe('attachment');
  });

  test('every answer carries the security headers and allows no inline script', async () => {
    for (const answer of [await ask('/'), await ask('/plan/plan.html'), await ask('/none'), await ask('/', { host: 'evil.example' })]) {
      const policy = String(answer.headers['content-security-policy']);
      expect(policy).toContain("default-src 'none'");
      expect(policy).toContain("frame-ancestors 'none'");
      expect(/script-src ([^;]*)/.exec(policy)![1]).toBe("'self'");
      expect(answer.headers['x-content-type-options']).toBe('nosniff');
      expect(answer.headers['referrer-policy']).toBe('no-referrer');
      expect(answer.headers['cross-origin-resource-policy']).toBe('same-origin');
      expect(answer.headers['cache-control']).toBe('no-store');
      expect(answer.headers['access-control-allow-origin']).toBeUndefined();
    }
  });

  test('gives nothing outside the folder, hidden, linked away or not a file', async () => {
    const paths = [
      '/../secret.txt', '/plan/../../secret.txt', '/%2e%2e/secret.txt', '/..%2fsecret.txt', '/plan/..%5c..%5csecret.txt',
      '/plan/%2e%2e%2f%2e%2e%2fsecret.txt', '//etc/passwd', '/%2fetc/passwd', '/etc/passwd', '/.hidden', '/plan/link.txt',
      '/plan/up/secret.txt', '/plan', '/plan/', '/plan//plan.html', '/plan/plan.html%00.json', '/%ff', '/%', '/plan/plan.html/x',
    ];
    for (const path of paths) {
      const answer = await ask(path);
      expect(answer.text, path).not.toContain('secret');
      expect([400, 404], path).toContain(answer.status);
    }
  });

  test('serves only its own address: no foreign host name, no writing', async () => {
    for (const host of ['evil.example', `evil.example:${server.port}`, '127.0.0.1:1', `127.0.0.1.evil.example:${server.port}`]) {
      expect((await ask('/plan/plan.html', { host })).status, host).toBe(421);
    }
    expect((await ask('/', { host: `localhost:${server.port}` })).status).toBe(200);
    for (const method of ['POST', 'PUT', 'DELETE', 'PATCH']) expect((await ask('/', { method })).status, method).toBe(405);
    expect((await ask('/', { method: 'HEAD' })).status).toBe(200);
  });

  test('listens on loopback only', async () => {
    const others = Object.values(networkInterfaces()).flat().filter((a) => a && !a.internal && a.family === 'IPv4');
    for (const address of others) {
      const reached = await new Promise<boolean>((resolve) => {
        const socket = connect({ host: address!.address, port: server.port, timeout: 1000 });
        socket.on('connect', () => resolve(true)).on('error', () => resolve(false)).on('timeout', () => resolve(false));
        socket.on('close', () => resolve(false));
      });
      expect(reached).toBe(false);
    }
  });

  test('refuses a port that is in use, by code', async () => {
    const second = await serveAnswers({ folder, indexHtml: '', port: server.port });
    expect(!second.ok && second.failure.code).toBe('port-taken');
  });
});

describe('drawAnswerIndex', () => {
  test('lists the page first, then data, surfaces and the truth; names are escaped', () => {
    const page = drawAnswerIndex(['ct/IM1.dcm', 'ct/truth.json', 'plan/plan.html', 'plan/plan.json', 'plan/surfaces/<b>&".stl']);
    const links = [...page.matchAll(/href="([^"]*)"/g)].map((m) => m[1]);
    expect(links).toEqual(['/plan/plan.html', '/plan/plan.json', '/plan/surfaces/%3Cb%3E%26%22.stl', '/ct/truth.json']);
    expect(page).toContain('&lt;b&gt;&amp;&quot;.stl');
    expect(page).not.toContain('<script');
  });
});
