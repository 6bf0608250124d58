import { randomBytes } from 'node:crypto';
import { mkdir, open, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { fail, succeed, type Result } from '../../core/result.ts';
import { formatText } from '../../core/text/catalogue.ts';
import { RUNS_EN } from '../../core/text/runs-en.ts';
import { failUnwritable } from '../storage/data-lock.ts';

/** Longest silence between two parts of a file. */
const SILENCE_MS = 30_000;

/**
 * Writes a request's body to a file beside the store, where a killed server leaves nothing behind (the blob store clears
 * it when it opens). Nothing of a run is kept before it is known whose it is: the caller adopts the file or removes it.
 * Fails     body-too-large, body-slow, run-cut, store-full, folder-not-writable
 */
export async function takeRunFile(request: Request, dataFolder: string, mostBytes: number, silenceMs = SILENCE_MS): Promise<Result<string, string>> {
  const tooLarge = fail('body-too-large', formatText(RUNS_EN, 'tooLarge', { bytes: mostBytes }), RUNS_EN.tooLargeNext, { mostBytes });
  const announced = Number(request.headers.get('content-length') ?? 0);
  if (announced > mostBytes) return tooLarge;
  const cut = fail('run-cut', RUNS_EN.notTaken, RUNS_EN.notTakenNext);
  if (!request.body) return cut;
  const folder = join(dataFolder, 'pixels', 'incoming');
  const path = join(folder, `run-${randomBytes(12).toString('hex')}`);
  const reader = request.body.getReader();
  let refused: Result<never, string> | null = null;
  try {
    await mkdir(folder, { recursive: true });
    const file = await open(path, 'wx', 0o600);
    try {
      for (let length = 0; refused === null; ) {
        const next = await nextPart(reader, silenceMs);
        if (next === 'slow') refused = fail('body-slow', RUNS_EN.slow, RUNS_EN.slowNext);
        else if (next === 'cut') refused = cut;
        else if (next === 'end') {
          if (length === 0 || (announced > 0 && length !== announced)) refused = cut;
          break;
        } else if ((length += next.byteLength) > mostBytes) refused = tooLarge;
        else await file.writeFile(next);
      }
    } finally {
      await file.close();
    }
  } catch (problem) {
    refused = failUnwritable(problem);
  }
  if (refused === null) return succeed(path);
  reader.cancel().catch(() => {});
  await rm(path, { force: true }).catch(() => {});
  return refused;
}

async function nextPart(reader: ReadableStreamDefaultReader<Uint8Array>, silenceMs: number): Promise<Uint8Array | 'end' | 'slow' | 'cut'> {
  let timer: NodeJS.Timeout | undefined;
  const slow = new Promise<'slow'>((resolve) => (timer = setTimeout(resolve, silenceMs, 'slow')));
  const read = reader.read().then((part) => (part.done ? 'end' as const : part.value), () => 'cut' as const);
  try {
    return await Promise.race([read, slow]);
  } finally {
    clearTimeout(timer);
  }
}
