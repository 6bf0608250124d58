import { createServer } from 'node:http';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { homedir, tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { exitOfDesk } from './exit-codes.ts';
import { runMain } from './main.ts';
import { findDataFolder, findDbUrl, makeDefectTeller, runServeCommand, type ServeOptions } from './serve-command.ts';

const base = mkdtempSync(join(tmpdir(), 'trinadir-serve-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));

async function refuse(options: ServeOptions): Promise<{ code: number; told: string }> {
  let err = '';
  const code = await runServeCommand({ quiet: true, json: true, ...options }, { out: () => {}, err: (t) => void (err += t), isTerminal: false }, () => {});
  return { code, told: (JSON.parse(err.trimEnd().split('\n').at(-1)!) as { error: { code: string } }).error.code };
}

describe('serve', () => {
  test('finds the cases where it is told, then by TRINADIR_DATA, then in the home folder', () => {
    expect(findDataFolder('some/where', { TRINADIR_DATA: '/elsewhere' })).toBe(resolve('some/where'));
    expect(findDataFolder(undefined, { TRINADIR_DATA: '/elsewhere' })).toBe('/elsewhere');
    expect(findDataFolder(undefined, { TRINADIR_DATA: '' })).toBe(join(homedir(), '.local', 'share', 'trinadir'));
    expect([findDbUrl('postgres://a', { TRINADIR_DB: 'postgres://b' }), findDbUrl(undefined, { TRINADIR_DB: 'postgres://b' }), findDbUrl(undefined, {})]).toEqual(['postgres://a', 'postgres://b', undefined]);
  });

  test('a database or an issuer that does not answer ends it with 5, a wrong issuer file with 2', async () => {
    expect(await refuse({ data: join(base, 'a'), db: 'postgres://nobody@127.0.0.1:9/none' })).toEqual({ code: 5, told: 'store-unreachable' });
    const file = join(base, 'oidc.json');
    writeFileSync(file, JSON.stringify({ issuer: 'http://127.0.0.1:9', clientId: 'desk' }));
    expect(await refuse({ data: join(base, 'b'), oidc: file })).toEqual({ code: 5, told: 'oidc-unreachable' });
    writeFileSync(file, '{}');
    expect(await refuse({ data: join(base, 'b'), oidc: file })).toEqual({ code: 2, told: 'oidc-file-wrong' });
    expect(await refuse({ data: file })).toMatchObject({ code: 3 }); // a file where the folder should be
    expect([exitOfDesk('port-taken'), exitOfDesk('origin-missing'), exitOfDesk('store-newer'), exitOfDesk('defect')]).toEqual([2, 2, 3, 4]);
  });

  test('other machines are not let in without the name they come under, nor a taken port waited for', async () => {
    const closed: string[] = [];
    const store = { putDocument: async () => ({ ok: true, value: { sha256: 'a'.repeat(64) } }), listPeople: async () => ({ ok: true, value: [] }) };
    const { serveDesk } = await import('../server/serve-desk.ts');
    const serve = (more: object) => serveDesk({ opened: { store, blobs: {}, close: async () => void closed.push('') } as never, dataFolder: base, pagesFolder: base, version: 't', readNow: Date.now, makeJobs: () => ({}) as never, makeHandlers: () => ({}) as never, makeUploads: () => () => {}, onDefect: () => {}, ...more });
    const told = async (more: object): Promise<string> => {
      const served = await serve(more);
      return served.ok ? 'good' : served.failure.code;
    };
    expect(await told({ host: '0.0.0.0' })).toBe('origin-missing');
    for (const origin of ['desk.example.org', 'http://desk.example.org', 'https://desk.example.org/path', 'ftp://desk.example.org', 'https://a@desk.example.org']) expect(await told({ host: '0.0.0.0', origin }), origin).toBe('origin-wrong');
    const taken = createServer();
    const port = await new Promise<number>((done) => taken.listen(0, '127.0.0.1', () => done((taken.address() as { port: number }).port)));
    expect(await told({ port })).toBe('port-taken');
    taken.close();
  });

  test('only so many defects of one life get a report', () => {
    let err = '';
    const tell = makeDefectTeller('serve', { json: true }, { out: () => {}, err: (t) => void (err += t), isTerminal: false });
    for (let k = 0; k < 40; k++) tell(new Error('a name that must not be told'), 'server GET /x');
    const lines = err.trimEnd().split('\n');
    expect(lines.length).toBe(20);
    expect(err).not.toContain('a name');
    for (const line of lines) rmSync(join(/report (\S+) to/.exec(line)![1]!, '..'), { recursive: true, force: true });
  });

  test('its help shows a worked line', async () => {
    let out = '';
    expect(await runMain(['serve', '--help'], { out: (t) => void (out += t), err: () => {}, isTerminal: false })).toBe(0);
    expect(out).toContain('trinadir serve --data cases');
  });
});
