import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { emptyCase } from '../../core/case/fold-case.ts';
import { PROPOSED_RHYTHM_RULES } from '../../core/rhythm/training-rhythm-rules.ts';
import { runSignCommand } from '../cli/sign-command.ts';
import { hashText } from '../storage/hash-chain.ts';
import { readAddedFile } from './read-added-file.ts';

const folder = mkdtempSync(join(tmpdir(), 'trinadir-rhythm-rules-'));
afterAll(() => rmSync(folder, { recursive: true }));
const path = join(folder, 'rhythm-rules.json');
const put = (content: unknown): void => writeFileSync(path, JSON.stringify(content));
const silent = { out: () => {}, err: () => {} } as unknown as Parameters<typeof runSignCommand>[1];

test('the proposal is refused as it is; signed it is kept byte for byte and chosen for the case; changed after signing it is refused', async () => {
  put(PROPOSED_RHYTHM_RULES);
  expect(await readAddedFile(path)).toMatchObject({ ok: false, failure: { code: 'rhythm-rules-unsigned' } });
  expect(await runSignCommand({ path, by: 'A. Person', quiet: true }, silent)).toBe(0);
  const added = await readAddedFile(path);
  if (!added.ok) throw new Error(added.failure.code);
  const text = readFileSync(path, 'utf8');
  expect([added.value.what, added.value.document]).toEqual(['rhythm rules', text]);
  const state = emptyCase('case-1');
  const chosen = { devicesSha256: null, rulesSha256: null, rhythmSha256: hashText(text) };
  expect(added.value.listEvents(state, null)).toEqual({ ok: true, value: [{ kind: 'tables.chosen', data: chosen }] });
  expect(added.value.listEvents({ ...state, tables: chosen }, null)).toEqual({ ok: true, value: [] });
  put({ ...(JSON.parse(text) as object), edition: 'mine' });
  expect(await readAddedFile(path)).toMatchObject({ ok: false, failure: { code: 'table-changed' } });
});
