import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { formatCanonical } from './format-canonical.ts';

describe('canonical JSON', () => {
  it('is the worked example of RFC 8785, 3.2.2 and 3.2.3', () => {
    const input = JSON.parse('{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],"string":"\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/","literals":[null,true,false]}') as unknown;
    expect(formatCanonical(input)).toBe('{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}');
  });

  it('does not depend on the order of keys, and parses back', () => {
    fc.assert(fc.property(fc.dictionary(fc.string(), fc.jsonValue()), (record) => {
      const turned = Object.fromEntries(Object.entries(record).reverse());
      expect(formatCanonical(turned)).toBe(formatCanonical(record));
      expect(JSON.parse(formatCanonical(record))).toEqual(JSON.parse(JSON.stringify(record)));
    }));
  });

  it('one digit more is another text', () => expect(formatCanonical({ a: 1.0000001 })).not.toBe(formatCanonical({ a: 1 })));
  it('refuses what JSON cannot hold', () => expect(() => formatCanonical({ a: Number.NaN })).toThrow());
});
