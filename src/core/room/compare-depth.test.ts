import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { makeFrozenFixture } from '../../../test/support/frozen-fixture.ts';
import type { ReleaseForecast } from '../release/release-types.ts';
import { compareWithForecast, compareWithPlanned } from './compare-depth.ts';

describe(`a read depth against the planned start (seed ${seed})`, () => {
  test('aim 1.5, read 3.2 within 1.0: deeper; 2.1 within 1.0: cannot be told apart (job.md, D51)', () => {
    expect(compareWithPlanned({ depthMm: 3.2, lowMm: 2.2, highMm: 4.2 }, 1.5)).toMatchObject({ verdict: 'deeper' });
    expect(compareWithPlanned({ depthMm: 3.2, lowMm: 2.2, highMm: 4.2 }, 1.5).differenceMm).toBeCloseTo(1.7, 12);
    expect(compareWithPlanned({ depthMm: 2.1, lowMm: 1.1, highMm: 3.1 }, 1.5).verdict).toBe('cannot tell apart');
    expect(compareWithPlanned({ depthMm: 0, lowMm: -1, highMm: 1 }, 1.5).verdict).toBe('higher');
  });

  test('a wider band never says more than a narrower one', () => {
    const mm = fc.double({ min: -20, max: 20, noNaN: true });
    fc.assert(fc.property(mm, mm, fc.double({ min: 0, max: 5, noNaN: true }), fc.double({ min: 0, max: 5, noNaN: true }), (depthMm, planned, half, more) => {
      const narrow = compareWithPlanned({ depthMm, lowMm: depthMm - half, highMm: depthMm + half }, planned).verdict;
      const wide = compareWithPlanned({ depthMm, lowMm: depthMm - half - more, highMm: depthMm + half + more }, planned).verdict;
      expect(wide === narrow || wide === 'cannot tell apart').toBe(true);
    }), replay);
  });
});

describe('a read depth against the forecast of its start', () => {
  const { release } = makeFrozenFixture().document.plan;
  const change = (value: number, low: number, high: number): ReleaseForecast => ({
    ...release!, sweep: release!.sweep.map((s) => ({ ...s, worlds: { ...s.worlds, middle: { ...s.worlds.middle, finalDepthMm: { ...s.worlds.middle.finalDepthMm, status: 'settled', value, low, high } } } })),
  });

  test('speaks of the nearest start and of no start further than a millimetre away', () => {
    expect(compareWithForecast(release, 3.3, null)!.startMm).toBe(3);
    expect(compareWithForecast(release, 3.3, null)!.worlds.middle.fits).toBeNull();
    expect(compareWithForecast(release, 30, null)).toBeNull();
    expect(compareWithForecast(undefined, 3, null)).toBeNull();
    expect(compareWithForecast({ ...release!, sweep: [] }, 3, null)).toBeNull();
  });

  test('a band that touches the forecast meets it; one beyond it is deeper or higher', () => {
    const fits = (lowMm: number, highMm: number) => compareWithForecast(change(4, 3, 5), 3, { lowMm, highMm })!.worlds.middle.fits;
    expect([fits(4, 6), fits(5, 7), fits(5.1, 7), fits(1, 2.9), fits(1, 3)]).toEqual(['meets', 'meets', 'deeper', 'higher', 'meets']);
  });

  test('where the frame leaves the landing zone there is no final depth to meet', () => {
    const gone = { ...release!, sweep: release!.sweep.map((s) => ({ ...s, worlds: { ...s.worlds, slippery: { ...s.worlds.slippery, finalDepthMm: { ...s.worlds.slippery.finalDepthMm, status: 'refused' as const, value: null, low: null, high: null } } } })) };
    expect(compareWithForecast(gone, 3, { lowMm: 1, highMm: 2 })!.worlds.slippery).toMatchObject({ finalMm: null, fits: null });
  });
});
