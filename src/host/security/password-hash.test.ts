import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { makePasswordHasher, PASSWORD_COST } from './password-hash.ts';

const CHEAP = { log2N: 10, r: 8, p: 1 };
const hasher = makePasswordHasher(CHEAP);

describe(`makePasswordHasher (seed ${seed})`, () => {
  test('agrees with the vector of RFC 7914, section 12 (N = 16384, r = 8, p = 1)', async () => {
    const key = Buffer.from('7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2', 'hex'); // its first 32 bytes
    // The RFC's salt has 14 bytes; ours have 16, so the check is made on the derivation itself.
    const { scryptSync } = await import('node:crypto');
    expect(scryptSync('pleaseletmein', 'SodiumChloride', 64, { N: 16384, r: 8, p: 1 }).subarray(0, 32).equals(key)).toBe(true);
    const salt = Buffer.from('SodiumChlorideXX');
    const own = scryptSync('pleaseletmein', salt, 32, { N: 2 ** 12, r: 8, p: 1 });
    expect(await hasher.check('pleaseletmein', `scrypt$12$8$1$${salt.toString('base64url')}$${own.toString('base64url')}`)).toBe(true);
  });

  test('takes the password it was made from, and no other', async () => {
    await fc.assert(fc.asyncProperty(fc.string({ minLength: 1, maxLength: 40 }), fc.string({ minLength: 1, maxLength: 40 }), async (one, other) => {
      const hash = (await hasher.hash(one))!;
      expect(await hasher.check(one, hash)).toBe(true);
      expect(await hasher.check(other, hash)).toBe(one.normalize('NFC') === other.normalize('NFC'));
    }), { ...replay, numRuns: Math.min(replay.numRuns, 20) });
  });

  test('the same password has another hash each time; its cost and salt stand in it', async () => {
    const [a, b] = [await hasher.hash('pass phrase'), await hasher.hash('pass phrase')];
    expect(a).not.toBe(b);
    expect(a).toMatch(/^scrypt\$10\$8\$1\$[\w-]{22}\$[\w-]{43}$/);
    expect(PASSWORD_COST).toEqual({ log2N: 17, r: 8, p: 1 });
  });

  test('letters composed differently are the same letters', async () => {
    expect(await hasher.check('Pa\u0308sswort', await hasher.hash('P\u00e4sswort'))).toBe(true);
  });

  test('no hash, a damaged one, or one with a cost that nobody chose is never right and never thrown', async () => {
    const good = (await hasher.hash('x'))!;
    for (const hash of [null, '', 'x', good.slice(0, -1), good.replace('$10$', '$31$'), good.replace('$10$', '$1$'), good.replace('$8$', '$99$'), good.replace('$1$', '$0$'), good.replace('scrypt', 'plain')]) {
      expect(await hasher.check('x', hash), String(hash)).toBe(false);
    }
  });

  test('a crowd is turned away instead of filling the memory', async () => {
    const small = makePasswordHasher(CHEAP, 3);
    const answers = await Promise.all(Array.from({ length: 6 }, () => small.hash('x')));
    expect(answers.map((a) => a === null)).toEqual([false, false, false, true, true, true]);
    expect(await small.hash('x')).not.toBeNull(); // and room again
  });
});
