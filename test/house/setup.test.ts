import { spawnSync } from 'node:child_process';
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';

/** A checkout of two files, whose compiler and package manager only write down that they were called. */
let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'trinadir-setup-'));
  put('package-lock.json', '{}');
  put('tsconfig.json', '{}');
  put('src/a.ts', 'a');
  mkdirSync(join(folder, 'tools'));
  copyFileSync(fileURLToPath(new URL('../../tools/setup.mjs', import.meta.url)), join(folder, 'tools', 'setup.mjs'));
  put('npm.cjs', `
    const fs = require('node:fs'), at = ${JSON.stringify(folder)};
    fs.appendFileSync(at + '/calls', 'npm ' + process.argv[2] + '\\n');
    if (fs.existsSync(at + '/npm-fails')) process.exit(7);
    fs.mkdirSync(at + '/node_modules/typescript/bin', { recursive: true });
    fs.writeFileSync(at + '/node_modules/.package-lock.json', '{}');
    fs.mkdirSync(at + '/node_modules/vite/bin', { recursive: true });
    fs.copyFileSync(at + '/tsc.cjs', at + '/node_modules/typescript/bin/tsc');
    fs.writeFileSync(at + '/node_modules/vite/bin/vite.js', fs.readFileSync(at + '/tsc.cjs', 'utf8').replace("'tsc '", "'vite '"));`);
  put('tsc.cjs', `
    const fs = require('node:fs'), at = ${JSON.stringify(folder)};
    fs.appendFileSync(at + '/calls', 'tsc ' + process.argv[2] + '\\n');
    if (fs.existsSync(at + '/tsc-fails')) process.exit(2);`);
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

function put(name: string, text: string): void {
  mkdirSync(dirname(join(folder, name)), { recursive: true });
  writeFileSync(join(folder, name), text);
}
function setUp(): { code: number | null; calls: string[]; out: string; err: string } {
  rmSync(join(folder, 'calls'), { force: true });
  const env = { ...process.env, npm_execpath: join(folder, 'npm.cjs') };
  const done = spawnSync(process.execPath, [join(folder, 'tools', 'setup.mjs')], { encoding: 'utf8', env });
  const calls = existsSync(join(folder, 'calls')) ? readFileSync(join(folder, 'calls'), 'utf8').trimEnd().split('\n') : [];
  return { code: done.status, calls, out: done.stdout, err: done.stderr };
}

describe('tools/setup.mjs', () => {
  test('installs and builds a fresh checkout, then does nothing, silently', () => {
    expect(setUp()).toMatchObject({ code: 0, calls: ['npm ci', 'tsc -b'], out: '' });
    expect(setUp()).toEqual({ code: 0, calls: [], out: '', err: '' });
  });
  test('builds again when a source is changed, added or removed, not for a test file', () => {
    setUp();
    put('src/a.ts', 'changed');
    expect(setUp().calls).toEqual(['tsc -b']);
    put('src/deep/b.ts', 'b');
    expect(setUp().calls).toEqual(['tsc -b']);
    rmSync(join(folder, 'src/deep/b.ts'));
    expect(setUp().calls).toEqual(['tsc -b']);
    put('src/a.test.ts', 'test');
    expect(setUp().calls).toEqual([]);
  });
  test('builds the pages where there are some, and again only when what they are made of has changed', () => {
    put('vite.config.ts', '');
    put('src/web/page.css', '');
    put('src/host/server.ts', '');
    expect(setUp().calls).toEqual(['npm ci', 'tsc -b', 'vite build']);
    expect(setUp().calls).toEqual([]);
    put('src/web/page.css', 'changed');
    expect(setUp().calls).toEqual(['vite build']);
    put('src/host/server.ts', 'changed');
    expect(setUp().calls).toEqual(['tsc -b']);
    put('src/web/page.tsx', 'added');
    expect(setUp().calls).toEqual(['tsc -b', 'vite build']);
  });
  test('installs again when the lockfile is newer than what is installed', () => {
    setUp();
    const later = new Date(Date.now() + 60_000);
    utimesSync(join(folder, 'package-lock.json'), later, later);
    expect(setUp().calls[0]).toBe('npm ci');
  });
  test('says what failed and what to do, and tries again next time', () => {
    put('npm-fails', '');
    expect(setUp()).toMatchObject({ code: 1, calls: ['npm ci'], err: expect.stringMatching(/npm ci failed \(exit 7\)[^]*Next: /) });
    rmSync(join(folder, 'npm-fails'));
    put('tsc-fails', '');
    expect(setUp()).toMatchObject({ code: 1, calls: ['npm ci', 'tsc -b'], err: expect.stringMatching(/build failed \(exit 2\)[^]*Next: /) });
    rmSync(join(folder, 'tsc-fails'));
    expect(setUp()).toMatchObject({ code: 0, calls: ['tsc -b'] });
  });
});
