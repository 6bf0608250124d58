import { describe, expect, test } from 'vitest';
import { makeFact, refuseFact, type Reason } from './fact.ts';

const stamp = { by: 'trinadir 0.0.0', at: '2026-03-02T08:00:00Z' };
const doubt: Reason = { code: 'slices-thick', text: 'Slices of 2 mm.', next: 'Repeat with thin slices.' };

describe('makeFact', () => {
  test('is settled without reasons and carries value, interval, unit and source', () => {
    expect(makeFact(24.31, 23.9, 24.7, 'mm', 'root.basalRing/2', ['root.nadirs'], stamp)).toEqual({
      value: 24.31, unit: 'mm', low: 23.9, high: 24.7, status: 'settled', reasons: [],
      source: { kind: 'computed', method: 'root.basalRing/2', by: stamp.by, at: stamp.at, from: ['root.nadirs'] },
    });
  });
  test('is doubtful with a reason and keeps its value', () => {
    const fact = makeFact(1, 0, 2, 'mm', 'm/1', [], stamp, [doubt], 'edited');
    expect([fact.status, fact.value, fact.reasons, fact.source.kind]).toEqual(['doubtful', 1, [doubt], 'edited']);
  });
  test('accepts an interval of no width, at its ends too', () => {
    for (const [value, low, high] of [[1, 1, 1], [1, 1, 2], [2, 1, 2], [0, 0, 0]] as const) {
      expect(makeFact(value, low, high, 'mm', 'm/1', [], stamp).status).toBe('settled');
    }
  });
  test('refuses a value outside its interval, an interval upside down, and anything not finite', () => {
    const bad = [
      [1, 2, 3], [4, 2, 3], [2.5, 3, 2], [Number.NaN, 0, 1], [0, Number.NaN, 1], [0, -1, Number.NaN],
      [Infinity, 0, Infinity], [0, -Infinity, 1], [0, -1, Infinity], [0, -Infinity, Infinity],
    ] as const;
    for (const [value, low, high] of bad) {
      const fact = makeFact(value, low, high, 'mm', 'm/1', [], stamp, [doubt]);
      expect([fact.status, fact.value, fact.low, fact.high], `${value} in ${low}..${high}`).toEqual(['refused', null, null, null]);
      expect(fact.reasons.map((r) => r.code)).toEqual(['slices-thick', 'not-measurable']);
      expect(fact.reasons.every((r) => r.next.length > 0)).toBe(true);
    }
  });
});

describe('refuseFact', () => {
  test('has no value and the reason', () => {
    const fact = refuseFact('mm2', 'm/1', stamp, doubt);
    expect([fact.value, fact.low, fact.high, fact.status, fact.unit, fact.reasons]).toEqual([null, null, null, 'refused', 'mm2', [doubt]]);
  });
});
