import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PassThrough, Readable } from 'node:stream';
import fc from 'fast-check';
import { afterAll, describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { writeArriving } from './write-arriving.ts';

const folder = mkdtempSync(join(tmpdir(), 'trinadir-arriving-'));
const file = join(folder, 'file');
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const start = (content: string | Uint8Array): string => (writeFileSync(file, content), file);

describe(`writeArriving (seed ${seed})`, () => {
  test('whatever the pieces, the file is what was sent, from the offset on', async () => {
    const pieces = fc.array(fc.uint8Array({ minLength: 1, maxLength: 700 }), { maxLength: 1200 });
    await fc.assert(fc.asyncProperty(fc.uint8Array({ maxLength: 50 }), pieces, async (before, parts) => {
      const all = Buffer.concat([before, ...parts]);
      const arrived = await writeArriving(Readable.from(parts.map((each) => Buffer.from(each))), start(before), before.length, all.length);
      expect(arrived).toEqual({ offset: all.length, end: 'whole' });
      expect(readFileSync(file).equals(all)).toBe(true);
    }), { ...replay, numRuns: Math.min(replay.numRuns, 25) });
  });

  test('ten megabytes go through several batches', async () => {
    const all = Buffer.alloc(10 * 1024 * 1024 + 7, 'pattern of some length');
    const parts = Array.from({ length: 161 }, (_, k) => all.subarray(k * 65536, (k + 1) * 65536));
    expect((await writeArriving(Readable.from(parts), start(''), 0, all.length)).offset).toBe(all.length);
    expect(readFileSync(file).equals(all)).toBe(true);
  });

  test('what arrived before the connection broke is kept, and said', async () => {
    const incoming = new PassThrough();
    const writing = writeArriving(incoming, start('ab'), 2, 100);
    incoming.write('cdef');
    await new Promise((resolve) => setTimeout(resolve, 20));
    incoming.destroy(Object.assign(new Error('aborted'), { code: 'ECONNRESET' }));
    expect(await writing).toEqual({ offset: 6, end: 'cut' });
    expect(readFileSync(file, 'latin1')).toBe('abcdef');
  });

  test('more than was announced is not written', async () => {
    const arrived = await writeArriving(Readable.from([Buffer.from('cd'), Buffer.from('efgh')]), start('ab'), 2, 5);
    expect(arrived).toEqual({ offset: 4, end: 'too-long' });
    expect(readFileSync(file, 'latin1')).toBe('abcd');
  });

  test('a full disk is thrown on, for who knows what to say', async () => {
    await expect(writeArriving(Readable.from([Buffer.from('x')]), '/dev/full', 0, 10)).rejects.toMatchObject({ code: 'ENOSPC' });
  });
});
