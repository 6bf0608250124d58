import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { normalAt, normalQuantile, uniformAt } from './random.ts';

const EXACT: Tolerance = { relative: 0, absolute: 0, from: 'integers up to the last division by 2^32' };
const SAME_WORD: Tolerance = { relative: 0, absolute: 0.5 / 2 ** 32, from: 'half a step of the 32 bit word: no other word is as near' };
const QUANTILE: Tolerance = { relative: 1.2e-9, absolute: 1e-15, from: 'stated relative error of the approximation, 1.15e-9' };

describe(`uniformAt (seed ${seed})`, () => {
  test('gives the published test vectors', () => {
    expectWithin(uniformAt(11, 0, 0), 0.5356334418756887, EXACT);
    expectWithin(uniformAt(11, 0, 1), 0.7157613035524264, EXACT);
    expectWithin(uniformAt(11, 1, 0), 0.869558886741288, EXACT);
    expectWithin(uniformAt(7, 999, 20), 0.15082857095, SAME_WORD);
  });
  test('agrees with the same mixing done in whole numbers of any size', () => {
    const mask = 0xffffffffn;
    const mix = (x: bigint): bigint => {
      x ^= x >> 16n;
      x = (x * 0x85ebca6bn) & mask;
      x ^= x >> 13n;
      x = (x * 0xc2b2ae35n) & mask;
      return x ^ (x >> 16n);
    };
    const word = fc.integer({ min: 0, max: 0xffffffff });
    fc.assert(
      fc.property(word, word, word, (s, i, k) => {
        let h = mix((BigInt(s) + 0x9e3779b9n) & mask);
        h = mix(h ^ ((BigInt(i) * 0x85ebca77n) & mask));
        h = mix(h ^ ((BigInt(k) * 0xc2b2ae3dn) & mask));
        expect(uniformAt(s, i, k)).toBe((Number(h) + 0.5) / 2 ** 32);
      }),
      replay,
    );
  });
  test('stays strictly between 0 and 1', () => {
    fc.assert(
      fc.property(fc.integer(), fc.integer(), fc.integer(), (s, i, k) => {
        const u = uniformAt(s, i, k);
        expect(u > 0 && u < 1).toBe(true);
      }),
      replay,
    );
  });
  test('fills 100 equal bins evenly, for neighbouring indices and for neighbouring variables', () => {
    const n = 100_000;
    for (const draw of [(i: number) => uniformAt(11, i, 3), (i: number) => uniformAt(11, 3, i)]) {
      const bins = new Array<number>(100).fill(0);
      for (let i = 0; i < n; i++) bins[Math.floor(draw(i) * 100)]! += 1;
      const chiSquared = bins.reduce((sum, count) => sum + (count - n / 100) ** 2 / (n / 100), 0);
      // 99 degrees of freedom: mean 99, and between 55 and 160 with probability 1 - 1e-4 or more
      expect(chiSquared).toBeGreaterThan(55);
      expect(chiSquared).toBeLessThan(160);
    }
  });
});

describe('normalQuantile', () => {
  test('gives tabulated quantiles of the standard normal distribution', () => {
    const table: readonly (readonly [number, number])[] = [
      [0.5, 0], [0.75, 0.674489750196082], [0.95, 1.644853626951473], [0.975, 1.959963984540054],
      [0.99, 2.326347874040841], [0.999, 3.090232306167813], [0.9999999, 5.19933758219273],
    ];
    for (const [p, z] of table) {
      expectWithin(normalQuantile(p), z, QUANTILE);
      expectWithin(normalQuantile(1 - p), -z, { ...QUANTILE, absolute: 1e-8, from: '1 - p is rounded' });
    }
  });
  test('rises through its three branches without a step back', () => {
    const values = Array.from({ length: 99_999 }, (_, k) => normalQuantile((k + 1) / 100_000));
    expect(values.filter((z, k) => k > 0 && !(z > values[k - 1]!))).toEqual([]);
  });
  test('gives infinities at the ends and NaN outside', () => {
    expect(normalQuantile(0)).toBe(-Infinity);
    expect(normalQuantile(1)).toBe(Infinity);
    for (const p of [-0.1, 1.1, Number.NaN]) expect(normalQuantile(p)).toBeNaN();
  });
});

describe('normalAt', () => {
  test('gives the published first normal, that of (11, 0, 0)', () => {
    expectWithin(normalAt(11, 0, 0), 0.0894388916895692, QUANTILE);
  });
  test('has mean 0, variance 1 and no draw beyond its limit', () => {
    const n = 100_000;
    let sum = 0;
    let squares = 0;
    let clipped = 0;
    for (let i = 0; i < n; i++) {
      const z = normalAt(11, i, 0);
      sum += z;
      squares += z * z;
      if (Math.abs(normalAt(11, i, 0, 2.5)) > 2.5) clipped++;
    }
    expectWithin(sum / n, 0, { relative: 0, absolute: 4 / Math.sqrt(n), from: '4 standard errors' });
    expectWithin(squares / n, 1, { relative: 0, absolute: 4 * Math.sqrt(2 / n), from: '4 standard errors' });
    expect(clipped).toBe(0);
  });
});
