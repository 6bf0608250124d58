import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { convertToHu, convertWordsToHu, scaleToHu, type HuScale } from './convert-to-hu.ts';

const scale = (slope: number, intercept: number, padding: HuScale['padding'] = null): HuScale => ({
  slope,
  intercept,
  padding,
});

describe(`convertToHu (seed ${seed})`, () => {
  test('adds the intercept of a usual CT', () => {
    const out = new Int16Array(4);
    expect(convertToHu(Int16Array.of(0, 24, 1024, 4095), scale(1, -1024), out)).toEqual({
      paddingCount: 0,
      clippedCount: 0,
    });
    expect([...out]).toEqual([-1024, -1000, 0, 3071]);
  });

  test('clips and counts what 16 bits cannot hold, in both directions', () => {
    const out = new Int16Array(3);
    expect(convertToHu(Int16Array.of(-32768, 0, 32767), scale(1, -1024), out)).toEqual({
      paddingCount: 0,
      clippedCount: 1,
    });
    expect([...out]).toEqual([-32768, -1024, 31743]);
    expect(convertToHu(Uint16Array.of(65535, 1, 2), scale(1, 0), out).clippedCount).toBe(1);
    expect(out[0]).toBe(32767);
  });

  test('writes padding as given, a range where a range is declared', () => {
    const out = new Int16Array(4);
    const answer = convertToHu(
      Int16Array.of(-2000, -1999, 0, 5),
      scale(1, -24, { low: -2000, high: -1999, hu: -1024 }),
      out,
    );
    expect(answer.paddingCount).toBe(2);
    expect([...out]).toEqual([-1024, -1024, -24, -19]);
  });

  test('gives what the clear version gives, for every slope, intercept, sign and padding', () => {
    const kinds = fc.oneof(
      fc.array(fc.integer({ min: -32768, max: 32767 })).map((values) => Int16Array.from(values)),
      fc.array(fc.integer({ min: 0, max: 65535 })).map((values) => Uint16Array.from(values)),
    );
    const slope = fc.oneof(fc.constant(1), fc.double({ min: 0.01, max: 4, noNaN: true }));
    const intercept = fc.oneof(
      fc.integer({ min: -40000, max: 40000 }),
      fc.double({ min: -2000, max: 2000, noNaN: true }),
    );
    const padding = fc.option(
      fc
        .tuple(fc.integer({ min: -40000, max: 70000 }), fc.nat(100))
        .map(([low, span]) => ({ low, high: low + span, hu: -1024 })),
      { nil: null },
    );
    fc.assert(
      fc.property(kinds, slope, intercept, padding, (stored, m, b, pad) => {
        const fast = new Int16Array(stored.length);
        const clear = new Int16Array(stored.length);
        expect(convertToHu(stored, scale(m, b, pad), fast)).toEqual(
          scaleToHu(stored, scale(m, b, pad), clear),
        );
        expect(fast).toEqual(clear);
      }),
      { ...replay, numRuns: replay.numRuns * 5 },
    );
  });
});

describe(`convertWordsToHu (seed ${seed})`, () => {
  const cut = (word: number, bits: number, isSigned: boolean): number =>
    isSigned ? (word << (32 - bits)) >> (32 - bits) : (word << (32 - bits)) >>> (32 - bits);

  test('agrees with cutting to the stored bits first, or gives nothing', () => {
    const word = fc.oneof(fc.integer({ min: 0, max: 4095 }), fc.integer({ min: 0xf800, max: 0xffff }), fc.integer({ min: 0, max: 0xffff }));
    const intercept = fc.constantFrom(-1024, 0, -32768, 1.5);
    const padding = fc.constantFrom(null, { low: -2000, high: -2000, hu: -1024 });
    fc.assert(
      fc.property(fc.array(word, { minLength: 1, maxLength: 9 }), fc.constantFrom(12, 13, 16), fc.boolean(), intercept, padding, (list, bits, isSigned, shift, pad) => {
        const words = isSigned ? Int16Array.from(list) : Uint16Array.from(list);
        const stored = isSigned ? Int16Array.from(list, (w) => cut(w, bits, true)) : Uint16Array.from(list, (w) => cut(w, bits, false));
        const [out, wanted] = [new Int16Array(list.length), new Int16Array(list.length)];
        const answer = convertWordsToHu(words, bits, scale(1, shift, pad), out);
        if (answer === null) return;
        expect(answer).toEqual(scaleToHu(stored, scale(1, shift, pad), wanted));
        expect([...out]).toEqual([...wanted]);
      }),
      replay,
    );
  });
  test('takes clean words of 12 bits, signed and unsigned, and leaves the others to the decoder', () => {
    const out = new Int16Array(2);
    expect(convertWordsToHu(Uint16Array.of(0, 4095), 12, scale(1, -1024), out)).not.toBeNull();
    expect(convertWordsToHu(Int16Array.of(-2048, 2047), 12, scale(1, 0), out)).not.toBeNull();
    expect(convertWordsToHu(Uint16Array.of(0, 4096), 12, scale(1, -1024), out)).toBeNull();
    expect(convertWordsToHu(Int16Array.of(-2049, 0), 12, scale(1, 0), out)).toBeNull();
    expect(convertWordsToHu(Int16Array.of(2048, 0), 12, scale(1, 0), out)).toBeNull();
  });
});
