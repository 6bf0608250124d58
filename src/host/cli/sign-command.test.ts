import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { PROPOSED_RHYTHM_RULES } from '../../core/rhythm/training-rhythm-rules.ts';
import { parseRhythmRules } from '../../formats/tables/parse-rhythm-rules.ts';
import { EXIT } from './exit-codes.ts';
import { runSignCommand } from './sign-command.ts';
import { isChangedAfterSigning } from './signed-hash.ts';

let folder = '';
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'sign-'));
});
afterAll(() => rm(folder, { recursive: true }));

async function sign(content: unknown): Promise<{ code: number; out: string; err: string; path: string }> {
  const path = join(folder, 'rhythm-rules.json');
  await writeFile(path, JSON.stringify(content));
  let [out, err] = ['', ''];
  const code = await runSignCommand({ path, by: 'A. Person' }, { out: (text: string) => { out += text; }, err: (text: string) => { err += text; }, isTerminal: false } );
  return { code, out, err, path };
}

describe('trinadir sign', () => {
  test('signs rhythm rules, which then act, and shows a change afterwards', async () => {
    const { code, out, path } = await sign(PROPOSED_RHYTHM_RULES);
    expect(code).toBe(EXIT.answered);
    expect(out).toContain('Signed by A. Person');
    const signed = JSON.parse(await readFile(path, 'utf8')) as { rules: { says: string }[] };
    expect(parseRhythmRules(signed)).toMatchObject({ ok: true, value: { signedBy: 'A. Person', edition: 'proposal 1' } });
    expect(isChangedAfterSigning(signed)).toBe(false);
    signed.rules[0]!.says = 'something else';
    expect(isChangedAfterSigning(signed)).toBe(true);
  });
  test('leaves rhythm rules untouched that it refuses', async () => {
    const broken = { ...PROPOSED_RHYTHM_RULES, rules: [] };
    const { code, err, path } = await sign(broken);
    expect(code).toBe(EXIT.refused);
    expect(err).toContain('rhythm rules');
    expect(await readFile(path, 'utf8')).toBe(JSON.stringify(broken));
  });
});
