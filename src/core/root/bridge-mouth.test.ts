import { describe, expect, test } from 'vitest';
import { makeWallTable } from '../../../test/support/survey-fixtures.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { bridgeMouth } from './bridge-mouth.ts';

const SIZE = { heights: 121, azimuths: 96, lowMm: -16, stepMm: 0.5 } as const;
const MIDDLE = { azimuthRad: 1, heightMm: 12, radiusMm: 15 } as const;
const arcOf = (rad: number): number => MIDDLE.radiusMm * Math.atan2(Math.sin(rad - MIDDLE.azimuthRad), Math.cos(rad - MIDDLE.azimuthRad));
const belly = (arc: number, up: number): number => 15 + 0.08 * arc - 0.1 * up - 0.03 * arc * arc - 0.02 * up * up;
/** A wall that turns outward by 0.8 mm into a mouth of 4 mm. */
const dented = (rad: number, mm: number): number => {
  const [arc, up] = [arcOf(rad), mm - MIDDLE.heightMm];
  return belly(arc, up) + 0.8 * Math.exp(-0.5 * ((arc * arc + up * up) / 1.2 ** 2));
};
const table = makeWallTable(SIZE, dented);
const mouth = Array.from({ length: SIZE.heights * SIZE.azimuths }, (_, c) => c).filter((c) => {
  const rad = (2 * Math.PI * (c % SIZE.azimuths)) / SIZE.azimuths;
  return Math.hypot(arcOf(rad), SIZE.lowMm + Math.floor(c / SIZE.azimuths) * SIZE.stepMm - MIDDLE.heightMm) <= 2;
});

describe('bridgeMouth', () => {
  test('runs across the mouth as the wall around it would', () => {
    const wall = bridgeMouth(table, mouth, MIDDLE)!;
    for (const [arc, up] of [[0, 0], [1.5, 0], [0, -1.5], [-1, 1]] as const) {
      expectWithin(wall(arc, up), belly(arc, up), { relative: 0, absolute: 0.03, from: 'the dent has 0.01 mm left 4 mm from its middle' });
    }
  });
  test('does not follow the dent: half of it would be an error of 0.4 mm', () => {
    const found = table.radiusMm[Math.round((MIDDLE.heightMm - SIZE.lowMm) / SIZE.stepMm) * SIZE.azimuths + Math.round((MIDDLE.azimuthRad / (2 * Math.PI)) * SIZE.azimuths)]!;
    expect(found - bridgeMouth(table, mouth, MIDDLE)!(0, 0)).toBeGreaterThan(0.6);
  });
  test('moves with the wall as a whole', () => {
    const wide = bridgeMouth(makeWallTable(SIZE, (rad, mm) => dented(rad, mm) + 2), mouth, MIDDLE)!;
    expectWithin(wide(0.5, 0.5), bridgeMouth(table, mouth, MIDDLE)!(0.5, 0.5) + 2, { relative: 0, absolute: 1e-6, from: 'linear equations, rounding' });
  });
  test('answers nothing where the table holds no wall around the mouth', () => {
    expect(bridgeMouth(makeWallTable({ ...SIZE, heights: 3 }, dented), [0, 1], { ...MIDDLE, heightMm: -40 })).toBeNull();
  });
});
