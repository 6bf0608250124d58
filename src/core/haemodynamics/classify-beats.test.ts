import { describe, expect, test } from 'vitest';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { classifyBeats, isAlternating } from './classify-beats.ts';
import { EMPTY } from './measure-beat.ts';
import type { BeatMeasure } from './pressure-types.ts';

/** Beats of these lengths; the pressure of each is given by its turn. */
function line(lengths: readonly number[], of: (k: number) => Partial<BeatMeasure>): readonly BeatMeasure[] {
  let at = 0;
  return lengths.map((lengthS, k) => {
    const beat: BeatMeasure = { ...EMPTY, atS: at, lengthS, kind: 'counted', rAtS: NaN, ...of(k) };
    at += lengthS;
    return beat;
  });
}
const turn = (k: number): Partial<BeatMeasure> => (k % 2 === 0 ? { systolic: 130, diastolic: 80, mean: 98 } : { systolic: 104, diastolic: 68, mean: 84 });

describe('bigeminy', () => {
  const beats = line(Array.from({ length: 20 }, (_, k) => (k % 2 === 0 ? 0.55 : 1.05)), turn);
  test('is told by lengths that take turns; even, random and single early beats are not', () => {
    expect(isAlternating(beats)).toBe(true);
    expect(isAlternating(line(new Array<number>(20).fill(0.8), turn))).toBe(false);
    expect(isAlternating(line([0.8, 0.82, 0.8, 0.79, 0.5, 1.1, 0.8, 0.81, 0.8, 0.8], turn))).toBe(false);
    expect(isAlternating(line([0.6, 0.7, 0.9, 1.1, 0.8, 0.7, 0.5, 0.9, 1, 0.7, 0.6, 0.9], turn))).toBe(false);
    expect(isAlternating(beats.slice(0, 6))).toBe(false);
  });
  test('both kinds of beat enter the means, none is taken for disturbed', () => {
    const { beats: classed, word } = classifyBeats(beats);
    expect([word, new Set(classed.map((b) => b.kind))]).toEqual(['irregular', new Set(['counted'])]);
    expectWithin(classed.reduce((s, b) => s + b.lengthS, 0) / classed.length, 0.8, { relative: 1e-9, absolute: 0, from: 'rounding' });
  });
  test('a beat that is truly off is still disturbed', () => {
    const off = beats.map((b, k) => (k === 7 ? { ...b, systolic: 300 } : b));
    expect(classifyBeats(off).beats[7]!.kind).toBe('disturbed');
  });
});
