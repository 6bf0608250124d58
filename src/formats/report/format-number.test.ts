import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { makeFact, refuseFact, type Ucum } from '../../core/units/fact.ts';
import { formatCoordinate, formatFact, formatHeight, formatHeightFact, formatNumber } from './format-number.ts';

const STAMP = { by: 'trinadir 0.1.0', at: '2026-03-02T08:11:00Z' };
const say = (value: number, low: number, high: number, unit: Ucum): string => {
  const words = formatFact(makeFact(value, low, high, unit, 'test/1', [], STAMP));
  return words ? `${words.value} ${words.interval}` : 'refused';
};
const readNumber = (text: string): number => Number(text.replace('\u2212', '-'));

describe(`formatNumber (seed ${seed})`, () => {
  test('rounds to tenths, whole numbers and tens, with a true minus and no minus zero', () => {
    expect(formatNumber(24.31, 1)).toBe('24.3');
    expect(formatNumber(-24.36, 1)).toBe('\u221224.4');
    expect(formatNumber(-0.01, 1)).toBe('0.0');
    expect(formatNumber(457, -1)).toBe('460');
    expect(formatNumber(NaN, 1)).toBe('\u2013');
  });
  test('coordinates hold no exponent, no NaN and no minus zero', () => {
    fc.assert(fc.property(fc.double(), (v) => {
      expect(formatCoordinate(v)).toMatch(/^-?\d+(\.\d{1,2})?$/);
    }), replay);
    expect([formatCoordinate(-0.001), formatCoordinate(2.5), formatCoordinate(-10)]).toEqual(['0', '2.5', '-10']);
  });
});

describe(`formatFact (seed ${seed})`, () => {
  test('shows value, interval and unit as on every page', () => {
    expect(say(24.31, 23.9, 24.7, 'mm')).toBe('24.3 mm (23.9–24.7)');
    expect(say(462.4, 453.6, 470.9, 'mm2')).toBe('462 mm² (453–471)');
    expect(say(49.3, 48.4, 50.2, 'deg')).toBe('49° (48–51)');
    expect(say(1.2512, 1.221, 1.281, '1')).toBe('1.25 (1.22–1.29)');
  });
  test('never shows more digits than the interval warrants', () => {
    expect(say(24.31, 20.3, 28.3, 'mm')).toBe('24 mm (20–29)');
    expect(say(457, 405, 509, 'mm2')).toBe('460 mm² (400–510)');
    expect(say(24.31, 24.309, 24.311, 'mm')).toBe('24.3 mm (24.3–24.4)');
  });
  test('uses "to" where an interval reaches below zero', () => {
    expect(say(0.4, -0.5, 1.3, 'mm')).toBe('0.4 mm (\u22120.5 to 1.3)');
  });
  test('the shown interval is never narrower than the true one, and holds the shown value', () => {
    const units = fc.constantFrom<Ucum>('mm', 'mm2', 'deg', '1', 'mm3');
    fc.assert(fc.property(fc.double({ min: -900, max: 900, noNaN: true }), fc.double({ min: 0, max: 300, noNaN: true }),
      fc.double({ min: 0, max: 300, noNaN: true }), units, (value, down, up, unit) => {
        const words = formatFact(makeFact(value, value - down, value + up, unit, 'test/1', [], STAMP))!;
        const [low, high] = words.interval.slice(1, -1).split(/ to |–/).map(readNumber);
        // The slack of the rounding: a billionth of the step.
        expect(low!).toBeLessThanOrEqual(value - down + 1e-6);
        expect(high!).toBeGreaterThanOrEqual(value + up - 1e-6);
        const shown = readNumber(words.value.replace(/[^\d.\u2212].*$/, ''));
        expect(shown).toBeGreaterThanOrEqual(low! - 1e-9);
        expect(shown).toBeLessThanOrEqual(high! + 1e-9);
      }), replay);
  });
  test('has no number for a refused fact', () => {
    const refused = refuseFact('mm', 'test/1', STAMP, { code: 'x', text: 'X.', next: 'Y.' });
    expect(formatFact(refused)).toBeNull();
    expect(formatHeightFact(refused)).toBeNull();
  });
});

describe('formatHeightFact', () => {
  const sayHeight = (value: number, low: number, high: number): string => {
    const words = formatHeightFact(makeFact(value, low, high, 'mm', 'test/1', [], STAMP))!;
    return `${words.value} ${words.interval}`;
  };
  test('says above and below instead of signs', () => {
    expect(sayHeight(13.2, 12.6, 13.8)).toBe('13.2 mm above (12.6–13.8)');
    expect(sayHeight(-6.5, -7.3, -5.7)).toBe('6.5 mm below (5.7–7.3)');
    expect(sayHeight(0.3, -1, 1.5)).toBe('0.3 mm above (1.0 below to 1.5 above)');
    expect(formatHeight(-5)).toBe('5 mm below');
  });
});
