import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { formatCanonical } from '../../../src/core/audit/format-canonical.ts';
import { hashText } from '../../../src/host/storage/hash-chain.ts';
import { makeFrozenFixture } from '../../support/frozen-fixture.ts';
import { replay, seed } from '../../support/seed.ts';

const PYTHON = '/usr/bin/python3';
const hasPython = spawnSync(PYTHON, ['--version']).status === 0;
const ask = (text: string): { came: string; written: string; same: boolean; bytes: number } =>
  JSON.parse(spawnSync(PYTHON, [fileURLToPath(new URL('./canonical.py', import.meta.url))], { input: text, encoding: 'utf8', maxBuffer: 1 << 20 }).stdout) as never;

describe.skipIf(!hasPython)(`canonical bytes by another hand (seed ${seed}; skipped without Python)`, () => {
  test('the frozen training plan has the same bytes and the same hash', () => {
    const { text, sha256 } = makeFrozenFixture();
    expect(ask(text)).toEqual({ came: sha256, written: sha256, same: true, bytes: Buffer.byteLength(text) });
  });
  test('numbers of every size and words of every script have one form', () => {
    const numbers = fc.sample(fc.double({ noNaN: true, noDefaultInfinity: true }), { seed: replay.seed, numRuns: 2000 });
    // Whole numbers beyond 2^53 are read as integers there, as doubles here: none stands in a plan.
    const plain = numbers.filter((v) => !Number.isInteger(v) || Math.abs(v) < 2 ** 53);
    const words = fc.sample(fc.string({ unit: 'grapheme' }), { seed: replay.seed, numRuns: 300 });
    const text = formatCanonical({ numbers: plain, words, keyed: Object.fromEntries(words.map((word, i) => [word, i])) });
    expect(ask(text)).toMatchObject({ same: true, written: hashText(text) });
  });
});
