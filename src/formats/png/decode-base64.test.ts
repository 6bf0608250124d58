import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { decodeBase64 } from './decode-base64.ts';
import { encodeBase64 } from './encode-base64.ts';

describe(`decodeBase64 (seed ${seed})`, () => {
  test('gives back what was encoded, as others encode it too', () => {
    fc.assert(fc.property(fc.uint8Array({ maxLength: 40 }), (bytes) => {
      expect(decodeBase64(encodeBase64(bytes))).toEqual(bytes);
      expect(decodeBase64(Buffer.from(bytes).toString('base64'))).toEqual(bytes);
    }), replay);
  });
  test('refuses what is no base64', () => {
    for (const text of ['A', 'AB', 'ABC', 'AB=C', 'A===', '====', 'AB C', 'ÄAAA', 'AA*A']) expect(decodeBase64(text), text).toBeNull();
  });
});
