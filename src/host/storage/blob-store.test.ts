import { createHash } from 'node:crypto';
import { mkdtempSync, readdirSync, rmSync, statSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { listBlobs, openBlobStore } from './blob-store.ts';
import { expectCode, expectOk } from './case-store.suite.ts';

const top = mkdtempSync(join(tmpdir(), 'trinadir-blob-'));
afterAll(() => rmSync(top, { recursive: true, force: true }));
const bytesOf = (text: string): Uint8Array => new TextEncoder().encode(text);
async function* stream(...parts: readonly string[]): AsyncGenerator<Uint8Array> {
  for (const part of parts) yield bytesOf(part);
}

describe('blob store', () => {
  test('keeps what is streamed in under the hash of its content, once', async () => {
    const blobs = expectOk(await openBlobStore(top));
    const put = expectOk(await blobs.put(stream('ab', '', 'c')));
    expect(put).toEqual({ sha256: createHash('sha256').update('abc').digest('hex'), bytes: 3 });
    expect(expectOk(await blobs.put(stream('abc')))).toEqual(put);
    expect(new TextDecoder().decode(expectOk(await blobs.read(put.sha256)))).toBe('abc');
    expect(await blobs.has(put.sha256)).toBe(true);
    expect(await listBlobs(top)).toEqual([put.sha256]);
  });

  test('a stream that breaks off leaves nothing', async () => {
    const blobs = expectOk(await openBlobStore(top));
    async function* broken(): AsyncGenerator<Uint8Array> {
      yield bytesOf('begin');
      throw Object.assign(new Error('cut'), { code: 'ECONNRESET' });
    }
    expect(expectCode(await blobs.put(broken()))).toBe('folder-not-writable');
    expect(readdirSync(join(top, 'pixels', 'incoming'))).toEqual([]);
  });

  test('takes over a finished file, and clears what a killed process left beside', async () => {
    const blobs = expectOk(await openBlobStore(top));
    const upload = join(top, 'upload');
    writeFileSync(upload, 'from an upload');
    const { sha256 } = expectOk(await blobs.adopt(upload));
    expect(statSync(blobs.pathOf(sha256)).size).toBe(14);
    expect(() => statSync(upload)).toThrow();
    writeFileSync(join(top, 'pixels', 'incoming', 'left'), 'half');
    expectOk(await openBlobStore(top));
    expect(readdirSync(join(top, 'pixels', 'incoming'))).toEqual([]);
  });

  test('says which files are damaged or missing, and answers nothing from them', async () => {
    const blobs = expectOk(await openBlobStore(top));
    const [a, b] = [expectOk(await blobs.put(stream('first'))), expectOk(await blobs.put(stream('second')))];
    truncateSync(blobs.pathOf(a.sha256), 2);
    expect(await blobs.verify([a.sha256, b.sha256, 'f'.repeat(64)])).toEqual([{ sha256: a.sha256, problem: 'damaged' }, { sha256: 'f'.repeat(64), problem: 'missing' }]);
    expect(expectCode(await blobs.read(a.sha256))).toBe('blob-damaged');
    expect(expectCode(await blobs.read('f'.repeat(64)))).toBe('blob-unknown');
    expect(expectCode(await blobs.read('../../etc/passwd'))).toBe('blob-unknown');
    // What is stored again is whole again.
    expectOk(await blobs.put(stream('first')));
    expect(await blobs.verify([a.sha256])).toEqual([]);
  });
});
