import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { parseContrastRegions, writeContrastRegions } from './parse-contrast-regions.ts';

const AORTA = [[10, 10], [30, 10], [30, 30]];
const OUTFLOW = [[10, 40], [30, 40], [30, 60]];
const codeOf = (content: unknown): string | null => {
  const r = parseContrastRegions(typeof content === 'string' ? content : JSON.stringify(content));
  return r.ok ? null : r.failure.code;
};
const FORMAT = 'trinadir.contrast-regions/1';

describe(`parseContrastRegions (seed ${seed})`, () => {
  test('reads what it writes', () => {
    const point = fc.tuple(fc.double({ min: 0, max: 4000, noNaN: true }), fc.double({ min: 0, max: 4000, noNaN: true })).map(([c, r]) => [c + 0, r + 0] as const);
    const polygon = fc.array(point, { minLength: 3, maxLength: 40 });
    fc.assert(fc.property(polygon, polygon, fc.option(polygon), (aorta, outflow, background) => {
      const back = parseContrastRegions(writeContrastRegions({ aorta, outflow, background }));
      expect(back.ok && back.value).toEqual({ aorta, outflow, background });
    }), replay);
  });
  test('names what is wrong', () => {
    expect(codeOf('{ not json')).toBe('contrast-regions-not-json');
    expect(codeOf('{"aorta":[NaN]}')).toBe('contrast-regions-not-json');
    for (const other of [null, 5, [], {}, { aorta: AORTA, outflow: OUTFLOW }, { format: 'trinadir.frames/1', aorta: AORTA, outflow: OUTFLOW }, { format: FORMAT, aorta: AORTA }]) {
      expect(codeOf(other)).toBe('contrast-regions-other-format');
    }
    for (const bad of [[], [[1, 2], [3, 4]], 'x', [[1, 2], [3, 4], [5]], [[1, 2], [3, 4], [5, '6']], [[1, 2], [3, 4], [5, null]], [[1, 2], [3, 4], [5, 1e9]], Array.from({ length: 3000 }, () => [1, 1]), { length: 3 }]) {
      expect(codeOf({ format: FORMAT, aorta: AORTA, outflow: bad })).toBe('contrast-region-invalid');
      expect(codeOf({ format: FORMAT, aorta: AORTA, outflow: OUTFLOW, background: bad })).toBe('contrast-region-invalid');
    }
  });
  test('answers any text and any JSON with regions or a code, and repeats nothing of it', () => {
    const check = (text: string): void => {
      const r = parseContrastRegions(text);
      if (!r.ok) expect(r.failure.message).not.toContain('SECRET');
    };
    fc.assert(fc.property(fc.string(), (t) => check(`${t}SECRET`)), replay);
    fc.assert(fc.property(fc.jsonValue(), fc.jsonValue(), (aorta, outflow) => check(JSON.stringify({ format: FORMAT, aorta, outflow, note: 'SECRET' }))), replay);
  });
});
