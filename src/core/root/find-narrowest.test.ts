import { describe, expect, test } from 'vitest';
import { expectAllWithin, expectWithin } from '../../../test/support/tolerance.ts';
import { normalAt } from '../math/random.ts';
import { findNarrowest, sharpenSeries } from './find-narrowest.ts';
import { smoothSeries } from './find-junction.ts';

const STEP = 0.5;
const HEIGHTS = Array.from({ length: 61 }, (_, i) => i * STEP);
const find = (radiusMm: (mm: number) => number, noiseMm = 0) => findNarrowest(smoothSeries(HEIGHTS.map((h, i) => radiusMm(h) + noiseMm * normalAt(11, i, 0)), 2), 0, STEP, 15, 26)!;
/** A sinus that runs out at 20 mm like the 1.5th power of the way to it. */
const sinus = (mm: number): number => (mm < 20 ? 3 * ((20 - mm) / 10) ** 1.5 : 0);

describe('findNarrowest', () => {
  test('finds the floor of a rounded ridge, though the sinus below pulls the smoothed wall outward', () => {
    const ridge = (mm: number): number => 15 + sinus(mm) - 1.2 * Math.exp(-0.5 * ((mm - 20) / 1.6) ** 2);
    const found = find(ridge);
    const fine = Array.from({ length: 801 }, (_, i) => 16 + i * 0.01);
    const floorMm = fine.reduce((a, b) => (ridge(b) < ridge(a) ? b : a));
    expectWithin(found.narrowestMm, floorMm, { relative: 0, absolute: 0.4, from: 'the lowest section within 0.01 mm of the floor lies up to 0.2 mm below it, rows stand 0.5 mm apart' });
    expect(found.riseMm).toBeGreaterThan(0.8);
    expect(found.floorMm).toBeLessThan(0.5);
  });
  test('on a flat floor it takes the lower end, where the fall stops, and says how long the floor is', () => {
    const found = find((mm) => 14 + sinus(mm) + (mm > 23 ? 0.15 * (mm - 23) : 0));
    expectWithin(found.narrowestMm, 20, { relative: 0, absolute: 0.7, from: 'the 1.5th power is within 0.01 mm of its end 0.2 mm below it; sharpening is not perfect' });
    expect(found.floorMm).toBeGreaterThan(0.8);
  });
  test('where a straight fall bends into a straight tube, the bend is its middle and nothing rises again', () => {
    const found = find((mm) => 14 + 0.35 * Math.max(0, 20 - mm));
    expectWithin(found.bendMm, 20, { relative: 0, absolute: 0.25, from: 'half a row' });
    expect(found.riseMm).toBeLessThan(0.05);
  });
  test('noise of 0.01 mm, that of a mean over all azimuths, moves the answers by less than their interval', () => {
    const wall = (mm: number): number => 14 + sinus(mm) + 0.08 * Math.max(0, mm - 20);
    const [still, noisy] = [find(wall), find(wall, 0.01)];
    expectWithin(noisy.narrowestMm, still.narrowestMm, { relative: 0, absolute: 0.4, from: '1.96 x 0.2 mm' });
    expectWithin(noisy.bendMm, still.bendMm, { relative: 0, absolute: 0.8, from: 'the bend of a sinus that runs out slowly is wide' });
  });
  test('answers nothing where fewer than three rows lie above the widest one', () => {
    expect(findNarrowest([14, 14, 14, 15, 16], 0, STEP, 2.5, 2)).toBeNull();
  });
});

describe('sharpenSeries', () => {
  const wave = HEIGHTS.map((h) => 14 + Math.sin(h / 4));
  test('undoes the blur it is told of, away from the ends', () => {
    const sharp = sharpenSeries(smoothSeries(wave, 2), 2, 1);
    expectAllWithin([...sharp].slice(8, -8), wave.slice(8, -8), { relative: 0, absolute: 0.02, from: 'a wave of 25 mm loses 3 % to the blur; stiffness keeps a little of that' });
    const blurred = smoothSeries(wave, 2);
    expect(Math.max(...wave.slice(8, -8).map((v, i) => Math.abs(v - blurred[i + 8]!)))).toBeGreaterThan(0.025);
  });
  test('moves with the series as a whole', () => {
    const plain = sharpenSeries(wave, 2, 1);
    expectAllWithin([...sharpenSeries(wave.map((v) => v + 5), 2, 1)], [...plain].map((v) => v + 5), { relative: 1e-9, absolute: 1e-9, from: 'linear equations, rounding' });
  });
});
