import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { expectAllWithin, expectWithin, type Tolerance } from '../../../test/support/tolerance.ts';
import { bridgeGaps, differentiateQuadratic, filterForward, findQuantile, makeButterworth, measureTone, smoothMoving, smoothQuadratic } from './filters.ts';

interface Reference {
  readonly samplesPerS: number;
  readonly x: readonly number[];
  readonly savgol: readonly { readonly half: number; readonly value: readonly number[]; readonly slope: readonly number[] }[];
  readonly butter: readonly { readonly kind: 'low' | 'high'; readonly hz: number; readonly b: readonly number[]; readonly a: readonly number[]; readonly y: readonly number[] }[];
  readonly tone: readonly number[];
  readonly tones: readonly { readonly hz: number; readonly amplitude: number }[];
}
const reference = JSON.parse(readFileSync(new URL('../../../test/reference/pressure/filters.json', import.meta.url), 'utf8')) as Reference;
const ROUNDING: Tolerance = { relative: 1e-10, absolute: 1e-10, from: '120 steps of a recursive filter x 2.2e-16 x margin' };
const x = Float64Array.from(reference.x);

describe('filters against SciPy', () => {
  test.each(reference.savgol)('parabola over $half samples to each side: value and slope', ({ half, value, slope }) => {
    const inner = (a: ArrayLike<number>): number[] => Array.from(a).slice(half, -half);
    expectAllWithin(inner(smoothQuadratic(x, half)), inner(value), ROUNDING);
    expectAllWithin(inner(differentiateQuadratic(x, half)), inner(slope), ROUNDING);
  });
  test.each(reference.butter)('Butterworth $kind $hz Hz: coefficients and output from rest', ({ kind, hz, b, a, y }) => {
    const biquad = makeButterworth(kind, hz, reference.samplesPerS);
    expectAllWithin([...biquad.b], b, ROUNDING);
    expectAllWithin([...biquad.a], a.slice(1), ROUNDING);
    expectAllWithin(Array.from(filterForward(x, biquad)), y, ROUNDING);
  });
  test.each(reference.tones)('tone of $hz Hz', ({ hz, amplitude }) => {
    const tone = Float64Array.from(reference.tone);
    expectWithin(measureTone(tone, hz, reference.samplesPerS), amplitude, { relative: 0, absolute: 1e-6, from: 'whole periods; the mean leaks by rounding' });
  });
});

describe('filters', () => {
  test('a parabola passes unchanged', () => {
    const parabola = Float64Array.from({ length: 60 }, (_, i) => 3 + 0.5 * i - 0.02 * i * i);
    expectAllWithin(Array.from(smoothQuadratic(parabola, 7)).slice(7, -7), Array.from(parabola).slice(7, -7), ROUNDING);
  });
  test('a gap spreads and is not filled by smoothing', () => {
    const gap = Float64Array.from(x);
    gap[60] = NaN;
    const y = smoothQuadratic(gap, 3);
    expect([56, 57, 60, 63, 64].map((i) => Number.isNaN(y[i]!))).toEqual([false, true, true, true, false]);
  });
  test('a gap is bridged by a line, ends by their neighbour, nothing by zeros', () => {
    expect(Array.from(bridgeGaps(Float64Array.of(NaN, 2, NaN, NaN, 8, NaN)))).toEqual([2, 2, 4, 6, 8, 8]);
    expect(Array.from(bridgeGaps(Float64Array.of(NaN, NaN)))).toEqual([0, 0]);
  });
  test('the moving mean of a constant is the constant, quantiles interpolate', () => {
    expectAllWithin(Array.from(smoothMoving(new Float64Array(20).fill(7), 5)), new Array<number>(20).fill(7), ROUNDING);
    expect([findQuantile([1, 2, 3, 4], 0.5), findQuantile([NaN, 5], 0.3), findQuantile([], 0.5)]).toEqual([2.5, 5, NaN]);
  });
});
