import { describe, expect, test } from 'vitest';
import { seed } from '../../../test/support/seed.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalAt, uniformAt } from '../math/random.ts';
import { findFreeSwing } from './find-free-swing.ts';
import type { LaidBeats } from './lay-beats.ts';

const PART = { fromS: 0.012, lengthS: 0.192, degree: 4 };
/** A cubic in mmHg with a swing that begins at the point, and a little noise. */
function lay(hz: number, ratio: number, heightMmHg: number, noiseMmHg: number, s: number): LaidBeats {
  const mean = Float64Array.from({ length: 100 }, (_, i) => {
    const t = (i - 20) / 250;
    const w = 2 * Math.PI * hz;
    const swing = t < 0 ? 0 : heightMmHg * Math.exp(-ratio * w * t) * Math.cos(w * Math.sqrt(1 - ratio * ratio) * t + 6 * uniformAt(s, 1, 1));
    return 110 + 90 * t - 600 * t * t + 900 * t ** 3 + swing + noiseMmHg * normalAt(s, i, 2);
  });
  return { mean, pointAt: 20, samplesPerS: 250, count: 20 };
}

describe(`findFreeSwing (seed ${seed})`, () => {
  test.each([[9, 0.11], [12, 0.2], [15, 0.14], [22, 0.08]])('finds frequency %f Hz, damping %f and height of a drawn swing', (hz, ratio) => {
    const found = findFreeSwing([{ laid: lay(hz, ratio, 8, 0, seed), ...PART }])!;
    expectWithin(found.naturalHz, hz, { relative: 0, absolute: 0.5, from: 'step of the search' });
    expectWithin(found.dampingRatio, ratio, { relative: 0, absolute: 0.031, from: 'step of the search' });
    expectWithin(found.swingMmHg, 8, { relative: 0.2, absolute: 0, from: 'steps of the search' });
    expect(found.gain).toBeGreaterThan(3);
  });
  test('a cubic with noise has no swing worth naming', () => {
    for (let s = 0; s < 20; s++) {
      const found = findFreeSwing([{ laid: lay(12, 0.2, 0, 0.07, seed + s), ...PART }])!;
      expect(found.explainedMmHg).toBeLessThan(0.06);
    }
  });
  test('a swing of half the size is found with half the height', () => {
    const [one, half] = [8, 4].map((mmHg) => findFreeSwing([{ laid: lay(13, 0.15, mmHg, 0, seed), ...PART }])!);
    expectWithin(half!.swingMmHg, one!.swingMmHg / 2, { relative: 1e-6, absolute: 0, from: 'linear in the pressure' });
  });
  test('too short a part gives nothing', () => {
    expect(findFreeSwing([{ laid: lay(12, 0.2, 5, 0, 1), fromS: 0.012, lengthS: 0.4, degree: 4 }])).toBeNull();
    expect(findFreeSwing([])).toBeNull();
  });
});
