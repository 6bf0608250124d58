import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { hostname, tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { expectCode, expectOk } from './case-store.suite.ts';
import { lockData } from './data-lock.ts';

const top = mkdtempSync(join(tmpdir(), 'trinadir-lock-'));
afterAll(() => rmSync(top, { recursive: true, force: true }));
let next = 0;
const newFolder = (): string => join(top, String(next++));

describe('lockData', () => {
  test('lets one in and refuses the second until the first is gone', async () => {
    const folder = newFolder();
    const first = expectOk(await lockData(folder));
    const refused = await lockData(folder);
    expect(expectCode(refused)).toBe('store-locked');
    await first.release();
    const third = expectOk(await lockData(folder));
    await third.release();
    expect(readdirSync(folder)).toEqual([]);
  });

  test('of thirty at the same moment one gets in, also over the lock of a dead process', async () => {
    for (const left of [null, JSON.stringify({ pid: 999_999_999, host: hostname(), began: '1' }), '{"pid":', '']) {
      const folder = newFolder();
      await lockData(folder).then((first) => expectOk(first).release());
      if (left !== null) writeFileSync(join(folder, 'lock'), left);
      const outcomes = await Promise.all(Array.from({ length: 30 }, () => lockData(folder)));
      expect(outcomes.filter((o) => o.ok)).toHaveLength(1);
      expect(readdirSync(folder)).toEqual(['lock']);
    }
  });

  test('a lock whose process number was given to another process since does not hold', async () => {
    const folder = newFolder();
    await lockData(folder).then((first) => expectOk(first).release());
    writeFileSync(join(folder, 'lock'), JSON.stringify({ pid: process.pid, host: hostname(), began: '1' }));
    const lock = expectOk(await lockData(folder));
    expect(readFileSync(join(folder, 'lock'), 'utf8')).not.toContain('"began":"1"');
    await lock.release();
  });

  test('a lock of another machine is left alone, and a folder that cannot be one is said to be', async () => {
    const folder = newFolder();
    await lockData(folder).then((first) => expectOk(first).release());
    writeFileSync(join(folder, 'lock'), JSON.stringify({ pid: 1, host: 'another-machine', began: '1' }));
    expect(expectCode(await lockData(folder))).toBe('store-locked');
    expect(expectCode(await lockData(join(folder, 'lock', 'below-a-file')))).toBe('folder-not-writable');
  });
});
