import { spawn } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeEach, describe, expect, test } from 'vitest';
import { claimOutFolder, writeWhole, type OutFolder, type OutFolderOptions } from './write-whole.ts';

const base = mkdtempSync(join(tmpdir(), 'trinadir-write-'));
afterAll(() => rmSync(base, { recursive: true, force: true }));
let place = '';
let count = 0;
beforeEach(() => {
  place = join(base, `case-${count++}`, 'out');
});

async function claim(options: Partial<OutFolderOptions> = {}): Promise<OutFolder> {
  const claimed = await claimOutFolder(place, { replace: false, ...options });
  if (!claimed.ok) throw new Error(claimed.failure.code);
  return claimed.value;
}
async function putAnswer(text: string, options: Partial<OutFolderOptions> = {}): Promise<void> {
  const folder = await claim(options);
  mkdirSync(join(folder.workDir, 'surfaces'));
  writeFileSync(join(folder.workDir, 'surfaces', 'root.stl'), text);
  await writeWhole(join(folder.workDir, 'plan.json'), text);
  const published = await folder.publish();
  expect(published.ok).toBe(true);
}
const readAnswer = (): string[] => ['plan.json', 'surfaces/root.stl'].map((n) => readFileSync(join(place, n), 'utf8'));
async function codeOf(options: Partial<OutFolderOptions> = {}): Promise<string> {
  const claimed = await claimOutFolder(place, { replace: false, ...options });
  if (claimed.ok) await claimed.value.abandon();
  return claimed.ok ? 'claimed' : claimed.failure.code;
}

describe('claimOutFolder', () => {
  test('shows nothing until the answer is published, and nothing beside it afterwards', async () => {
    const folder = await claim();
    await writeWhole(join(folder.workDir, 'plan.json'), 'a');
    expect(existsSync(place)).toBe(false);
    await folder.publish();
    expect(readdirSync(place)).toEqual(['plan.json']);
    expect(readdirSync(join(place, '..'))).toEqual(['out']);
  });
  test('takes everything back when abandoned, the parent folders it made included', async () => {
    const folder = await claim();
    await folder.abandon();
    expect(existsSync(join(place, '..'))).toBe(false);
  });
  test('refuses a folder that holds an answer, and replaces it whole when asked', async () => {
    await putAnswer('first');
    expect(await codeOf()).toBe('out-folder-holds-answer');
    expect(readAnswer()).toEqual(['first', 'first']);
    await putAnswer('second', { replace: true });
    expect(readAnswer()).toEqual(['second', 'second']);
    expect(readdirSync(join(place, '..'))).toEqual(['out']);
  });
  test('drops files of the old answer that the new one lacks, and keeps a person\'s own files', async () => {
    await putAnswer('first');
    writeFileSync(join(place, 'plan.pdf'), 'stale');
    writeFileSync(join(place, 'landmarks.json'), 'my marks', { mode: 0o444 });
    await putAnswer('second', { replace: true });
    expect(readdirSync(place).sort()).toEqual(['landmarks.json', 'plan.json', 'surfaces']);
    expect(readFileSync(join(place, 'landmarks.json'), 'utf8')).toBe('my marks');
  });
  test('never touches a folder with other files, even with replace', async () => {
    mkdirSync(place, { recursive: true });
    expect(await codeOf()).toBe('claimed'); // empty is free
    writeFileSync(join(place, 'IM0001'), 'a CT slice');
    for (const replace of [false, true]) expect(await codeOf({ replace })).toBe('out-folder-holds-other-files');
    expect(readdirSync(place)).toEqual(['IM0001']);
  });
  test('tells a plan from a phantom', async () => {
    await putAnswer('plan');
    expect(await codeOf({ kind: 'phantom', replace: true })).toBe('out-folder-holds-other-files');
  });
  test('refuses a place that is a file, or below a file', async () => {
    mkdirSync(join(place, '..'), { recursive: true });
    writeFileSync(place, 'x');
    expect(await codeOf({ replace: true })).toBe('out-folder-is-file');
    place = join(place, 'deeper');
    expect(await codeOf()).toBe('out-folder-not-writable');
  });
  test('refuses at publication when another answer came first', async () => {
    const slow = await claim();
    writeFileSync(join(slow.workDir, 'plan.json'), 'slow');
    mkdirSync(place);
    writeFileSync(join(place, 'plan.json'), 'quick');
    const published = await slow.publish();
    expect(!published.ok && published.failure.code).toBe('out-folder-holds-answer');
    expect(readFileSync(join(place, 'plan.json'), 'utf8')).toBe('quick');
    expect(readdirSync(join(place, '..'))).toEqual(['out']);
  });
});

describe('a killed process', () => {
  const built = new URL('../../../dist/host/cli/write-whole.js', import.meta.url);
  const writer = `
    import { claimOutFolder, writeWhole } from ${JSON.stringify(built.href)};
    import { mkdirSync, writeFileSync } from 'node:fs';
    for (let n = Number(process.argv[2]); ; n++) {
      const claimed = await claimOutFolder(process.argv[1], { replace: true });
      if (!claimed.ok) throw new Error(claimed.failure.code);
      mkdirSync(claimed.value.workDir + '/surfaces');
      writeFileSync(claimed.value.workDir + '/surfaces/root.stl', String(n));
      await writeWhole(claimed.value.workDir + '/plan.json', String(n));
      const published = await claimed.value.publish();
      if (!published.ok) throw new Error(published.failure.code);
      process.stdout.write('.');
    }`;
  /** Lets the writer replace its answer `rounds` times, then kills it some milliseconds later, wherever it then is. */
  async function writeUntilKilled(rounds: number, laterMs: number, start: number): Promise<void> {
    const child = spawn(process.execPath, ['--input-type=module', '-e', writer, place, String(start)]);
    let seen = 0;
    let trouble = '';
    child.stderr.on('data', (data: Buffer) => (trouble += data.toString()));
    const ended = new Promise<string | null>((resolve) => child.on('exit', (_, signal) => resolve(signal)));
    child.stdout.on('data', (data: Buffer) => {
      const before = seen;
      seen += data.length;
      if (before < rounds && seen >= rounds) setTimeout(() => child.kill('SIGKILL'), laterMs);
    });
    expect(await ended, trouble).toBe('SIGKILL');
  }

  test('leaves a whole answer, and the next claim clears its remains', async () => {
    expect(existsSync(built), 'dist is missing: npm run setup').toBe(true);
    for (let k = 0; k < 8; k++) {
      await writeUntilKilled(2, k * 0.7, k * 1000);
      expect(await codeOf()).toBe('out-folder-holds-answer'); // puts back what was caught between two renames
      const folder = await claim({ replace: true });
      await folder.abandon();
      const [plan, surface] = readAnswer();
      expect(plan).toBe(surface);
      expect(Number(plan)).toBeGreaterThanOrEqual(k * 1000 + 1);
      expect(readdirSync(join(place, '..'))).toEqual(['out']);
    }
  });
});
