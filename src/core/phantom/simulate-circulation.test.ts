import { describe, expect, test } from 'vitest';
import { seed } from '../../../test/support/seed.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import type { CirculationShape } from './circulation-types.ts';
import { CLEAR_LINE, drawLine } from './draw-line.ts';
import { drawCirculation, PLAIN_CIRCULATION, simulateCirculation } from './simulate-circulation.ts';

const STILL: Partial<CirculationShape> = { rateVariation: 0, elastanceVariation: 0, breathMmHg: 0 };
const run = (change: Partial<CirculationShape>, s = 1) => simulateCirculation({ ...PLAIN_CIRCULATION, ...STILL, ...change }, 8, 250, s);
const mean = (values: readonly number[]): number => values.reduce((a, b) => a + b, 0) / values.length;

describe(`simulateCirculation (seed ${seed})`, () => {
  test('what is ejected and does not leak back runs off through the body: mean pressure is flow times resistance', () => {
    for (const leakAreaCm2 of [0, 0.15]) {
      const { beats } = run({ leakAreaCm2 });
      const flow = mean(beats.map((b) => (b.forwardMl - b.leakMl) / b.lengthS));
      // 0.04 mmHg s/mL lies before the body in the branch.
      const pressure = flow * (PLAIN_CIRCULATION.resistance + 0.04) + 5;
      expectWithin(mean(beats.map((b) => b.mean)), pressure, { relative: 0.01, absolute: 0, from: 'compliance still fills or empties by less than 1 % over eight beats' });
    }
  });
  test('a larger leak leaks more, lowers the diastolic and raises the end-diastolic pressure', () => {
    const runs = [0, 0.05, 0.1, 0.2, 0.4].map((leakAreaCm2) => run({ leakAreaCm2 }));
    for (const [k, next] of runs.slice(1).entries()) {
      const [a, b] = [runs[k]!, next];
      expect(b.leakFraction).toBeGreaterThan(a.leakFraction);
      expect(mean(b.beats.map((x) => x.diastolic))).toBeLessThan(mean(a.beats.map((x) => x.diastolic)));
      expect(mean(b.beats.map((x) => x.endDiastolic))).toBeGreaterThan(mean(a.beats.map((x) => x.endDiastolic)));
    }
    expect(runs[0]!.leakFraction).toBeLessThan(0.05); // closing volume alone
  });
  test('a tight valve has the gradient of its jet: mean over ejection within inertia of 4 v2', () => {
    const { beats } = run({ valveAreaCm2: 0.7, elastanceMax: 4 });
    const [b] = [beats[4]!];
    const mean4v2 = 3.98e-4 * (b.forwardMl / b.ejectionS / 0.7) ** 2;
    // The mean of a square is above the square of the mean: 1.0 for a plateau, 1.23 for a half sine.
    expect(b.meanGradient / mean4v2).toBeGreaterThan(1);
    expect(b.meanGradient / mean4v2).toBeLessThan(1.35);
    expect(b.peakGradient).toBeGreaterThan(b.meanGradient);
  });
  test('the truths of every drawn circulation are ordered', () => {
    for (let s = 0; s < 12; s++) {
      for (const b of simulateCirculation(drawCirculation(seed + s), 5, 250, s).beats) {
        expect(b.systolic, `shape ${s}`).toBeGreaterThan(b.mean);
        expect(b.mean).toBeGreaterThan(b.diastolic);
        expect(b.diastolic).toBeGreaterThan(b.endDiastolic - 12);
        expect(b.endDiastolic).toBeGreaterThanOrEqual(b.ventricularMinimum);
        expect(b.peakGradient).toBeGreaterThanOrEqual(b.ventricularSystolic - b.systolic - 1e-9); // HD-09
      }
    }
  });
  test('the same seed draws the same, another seed another', () => {
    const [a, b, c] = [run({ rateVariation: 0.03 }, 4), run({ rateVariation: 0.03 }, 4), run({ rateVariation: 0.03 }, 5)];
    expect(a.aorticMmHg).toEqual(b.aorticMmHg);
    expect(a.aorticMmHg).not.toEqual(c.aorticMmHg);
  });
});

describe('drawLine', () => {
  const flat = new Float64Array(500).fill(90);
  test('a clear line changes nothing; zero and gain act as they say', () => {
    expect(Array.from(drawLine(flat, 250, CLEAR_LINE, 1))).toEqual(Array.from(flat));
    expect(drawLine(flat, 250, { ...CLEAR_LINE, gain: 1.1, zeroMmHg: -4 }, 1)[10]).toBeCloseTo(95, 4);
  });
  test('a step rings at the natural frequency and decays with the damping', () => {
    const step = Float64Array.from({ length: 500 }, (_, i) => (i < 100 ? 0 : 100));
    const y = drawLine(step, 250, { ...CLEAR_LINE, naturalHz: 10, dampingRatio: 0.2 }, 1);
    const peak = Math.max(...y);
    // Overshoot exp(-pi z / sqrt(1 - z2)) = 52.7 %.
    expectWithin(peak, 152.7, { relative: 0.02, absolute: 0, from: 'bilinear step and samples of 4 ms beside the peak' });
    const at = y.indexOf(peak);
    expectWithin((at - 100) / 250, 1 / (2 * 10 * Math.sqrt(1 - 0.04)), { relative: 0, absolute: 0.006, from: 'samples of 4 ms' });
  });
});
