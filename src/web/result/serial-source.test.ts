import fc from 'fast-check';
import { expect, test } from 'vitest';
import { cutText } from './serial-source.ts';

test('a stream is cut after lines, in parts below the bound, and nothing is lost', () => {
  expect(cutText('a;b\n1;2\n3;4\n', 8)).toEqual(['a;b\n1;2\n', '3;4\n']);
  expect(cutText('abcdefgh', 3)).toEqual(['abc', 'def', 'gh']);
  expect(cutText('')).toEqual([]);
  fc.assert(fc.property(fc.string({ maxLength: 200 }), fc.integer({ min: 1, max: 50 }), (text, most) => {
    const parts = cutText(text, most);
    expect(parts.join('')).toBe(text);
    expect(parts.every((p) => p.length > 0 && p.length <= most)).toBe(true);
  }), { seed: 20260302, numRuns: 200 });
});
