import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { partValues } from './part-values.ts';

describe(`partValues (seed ${seed})`, () => {
  const some = fc.array(fc.oneof(fc.integer({ min: -3, max: 3 }), fc.float({ noNaN: true })), { minLength: 1, maxLength: 80 });
  test('puts at its place what sorting puts there, smaller before and greater after, and loses nothing', () => {
    fc.assert(fc.property(some, fc.nat(), (list, pick) => {
      const [values, sorted] = [Float32Array.from(list), Float32Array.from(list).sort()];
      const at = pick % list.length;
      partValues(values, at);
      expect(values[at]! === sorted[at]!).toBe(true);
      expect(values.slice(0, at).every((v) => v <= values[at]!) && values.slice(at).every((v) => v >= values[at]!)).toBe(true);
      expect([...values].map((v) => v + 0).sort((a, b) => a - b)).toEqual([...sorted].map((v) => v + 0));
    }), replay);
  });
  test('keeps to its part', () => {
    const values = Float32Array.from([9, 5, 4, 3, 2, 1, 0]);
    partValues(values, 3, 1, 6);
    expect([values[0], values[3], values[6]]).toEqual([9, 3, 0]);
  });
  test('equal values, ordered values and NaN come to an end', () => {
    for (const list of [new Array(500).fill(1), Array.from({ length: 500 }, (_, i) => i), Array.from({ length: 500 }, (_, i) => -i), Array.from({ length: 50 }, (_, i) => (i % 3 === 0 ? NaN : i)), new Array(9).fill(NaN)]) {
      expect(() => partValues(Float32Array.from(list as number[]), list.length >> 1)).not.toThrow();
    }
  });
});
