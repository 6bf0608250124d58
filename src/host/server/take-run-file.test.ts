import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { takeRunFile } from './take-run-file.ts';

let folder = '';
beforeEach(() => void (folder = mkdtempSync(join(tmpdir(), 'run-'))));
afterEach(() => rmSync(folder, { recursive: true, force: true }));
const ask = (body: ReadableStream<Uint8Array> | Uint8Array<ArrayBuffer>, headers: Record<string, string> = {}): Request => new Request('http://desk/', { method: 'POST', body, headers, duplex: 'half' } as RequestInit);
const stream = (parts: readonly number[], then: 'end' | 'silence' | 'break' = 'end'): ReadableStream<Uint8Array> => new ReadableStream({
  start(to) {
    for (const length of parts) to.enqueue(new Uint8Array(length).fill(7));
    if (then === 'end') to.close();
    if (then === 'break') to.error(new Error('connection ended'));
  },
});
const codeOf = async (request: Request, mostBytes = 1000): Promise<string> => {
  const taken = await takeRunFile(request, folder, mostBytes, 50);
  return taken.ok ? 'taken' : taken.failure.code;
};
const listLeft = (): string[] => readdirSync(join(folder, 'pixels', 'incoming'));

describe('the body of a run', () => {
  test('lies whole beside the store', async () => {
    const taken = await takeRunFile(ask(stream([10, 20, 30])), folder, 1000);
    expect(taken.ok && readFileSync(taken.value).length).toBe(60);
  });

  test('too long, cut, silent, empty or shorter than announced: refused by name, and nothing is left', async () => {
    expect(await codeOf(ask(stream([600, 600])))).toBe('body-too-large');
    expect(await codeOf(ask(new Uint8Array(10), { 'content-length': '5000' }))).toBe('body-too-large');
    expect(await codeOf(ask(stream([10], 'break')))).toBe('run-cut');
    expect(await codeOf(ask(stream([10], 'silence')))).toBe('body-slow');
    expect(await codeOf(ask(stream([])))).toBe('run-cut');
    expect(await codeOf(ask(stream([10]), { 'content-length': '20' }))).toBe('run-cut');
    expect(listLeft()).toEqual([]);
  });

  test('a folder that cannot be written is said', async () => {
    writeFileSync(join(folder, 'file'), '');
    const taken = await takeRunFile(ask(stream([10])), join(folder, 'file'), 1000);
    expect(!taken.ok && taken.failure.code).toBe('folder-not-writable');
  });
});
