import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { TRAINING_SCENARIOS } from '../../core/phantom/training-shapes.ts';
import { EXIT } from './exit-codes.ts';
import { runPhantomCommand, type PhantomOptions } from './phantom-command.ts';
import { mergeOver, parsePhantomFile } from './phantom-file.ts';

const folder = mkdtempSync(join(tmpdir(), 'phantom-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const small = join(folder, 'small.json');
writeFileSync(small, JSON.stringify({ format: 'trinadir.phantom/1', from: { seed: 4 }, scan: { dims: [24, 20, 6] }, shape: { ring: { ellipticity: 1.3 } } }));

async function run(options: PhantomOptions): Promise<{ code: number; out: string; err: string }> {
  let [out, err] = ['', ''];
  const code = await runPhantomCommand(options, { out: (t) => { out += t; }, err: (t) => { err += t; } });
  return { code, out, err };
}

describe('runPhantomCommand', () => {
  test('writes slices and truth, and the same bytes again', async () => {
    const [a, b] = [join(folder, 'a'), join(folder, 'b')];
    expect((await run({ out: a, shape: small })).code).toBe(EXIT.answered);
    expect((await run({ out: b, shape: small })).code).toBe(EXIT.answered);
    expect(readdirSync(a).sort()).toEqual(['dicom', 'truth.json']);
    const names = readdirSync(join(a, 'dicom'));
    expect(names).toHaveLength(6);
    for (const name of names) expect(readFileSync(join(a, 'dicom', name)).equals(readFileSync(join(b, 'dicom', name)))).toBe(true);
    expect(readFileSync(join(a, 'truth.json'), 'utf8')).toBe(readFileSync(join(b, 'truth.json'), 'utf8'));
    const truth = JSON.parse(readFileSync(join(a, 'truth.json'), 'utf8')) as { format: string; note: string; shape: { ring: { ellipticity: number } } };
    expect([truth.format, truth.note, truth.shape.ring.ellipticity]).toEqual(['trinadir.phantom-truth/1', 'TRAINING, invented sizes', 1.3]);
  });

  test('keeps an answer that is there unless told to replace it', async () => {
    const out = join(folder, 'kept');
    await run({ out, shape: small });
    const second = await run({ out, shape: small, json: true });
    expect(second.code).not.toBe(EXIT.answered);
    expect(JSON.parse(second.err)).toMatchObject({ error: { code: 'out-folder-holds-answer', where: 'phantom' } });
    expect((await run({ out, shape: small, replace: true })).code).toBe(EXIT.answered);
  });

  test('lists the training roots without writing', async () => {
    const { code, out } = await run({ list: true });
    expect(code).toBe(EXIT.answered);
    expect(TRAINING_SCENARIOS.length).toBeGreaterThanOrEqual(8);
    for (const s of TRAINING_SCENARIOS) expect(out).toContain(s.name);
  });

  test('refuses, each with its code, and leaves no folder behind', async () => {
    const broken = join(folder, 'broken.json');
    const codeOf = async (text: string): Promise<string> => {
      writeFileSync(broken, text);
      const { code, err } = await run({ out: join(folder, 'none'), shape: broken, json: true });
      expect(code).toBe(EXIT.refused);
      return (JSON.parse(err) as { error: { code: string } }).error.code;
    };
    expect(await codeOf('{')).toBe('phantom-file-not-json');
    expect(await codeOf('{"format":"trinadir.phantom/1","shape":{"ring":{"colour":1}}}')).toBe('phantom-file-invalid');
    expect(await codeOf('{"format":"trinadir.phantom/1","shape":{"wallMm":1e9}}')).toBe('phantom-file-invalid');
    expect(await codeOf('{"format":"trinadir.phantom/1","from":{"scenario":"no such root"}}')).toBe('phantom-scenario-unknown');
    expect(await codeOf('{"format":"trinadir.phantom/1","scan":{"dims":[2048,2048,2048]}}')).toBe('phantom-too-large');
    expect((await run({ out: join(folder, 'none'), shape: join(folder, 'absent.json') })).code).toBe(EXIT.refused);
    expect((await run({})).code).toBe(EXIT.usage);
    expect((await run({ out: join(folder, 'none'), seed: 1.5 })).code).toBe(EXIT.usage);
    expect(readdirSync(folder)).not.toContain('none');
  });
});

describe('parsePhantomFile', () => {
  test('takes a whole drawn shape back as it is', () => {
    const first = parsePhantomFile('{"format":"trinadir.phantom/1","from":{"seed":12}}');
    if (!first.ok) throw new Error(first.failure.code);
    const again = parsePhantomFile(JSON.stringify({ format: 'trinadir.phantom/1', ...first.value }));
    expect(again).toEqual(first);
  });

  test('merges objects, replaces lists', () => {
    expect(mergeOver({ a: 1, b: { c: [1, 2], d: 3 } }, { b: { c: [9] } })).toEqual({ a: 1, b: { c: [9], d: 3 } });
  });
});
