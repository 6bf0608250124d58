import { expect, test } from 'vitest';
import type { CtVolume } from './volume-types.ts';
import { roundGrid } from './round-grid.ts';

const makeVolume = (x: number, step: number): CtVolume => ({
  samplesHu: new Int16Array(8), dims: [2, 2, 2], paddingHu: null, spacingMm: [1.5, 1.5, step],
  lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [1.5, 0, 0, x, 0, 1.5, 0, -255.658203125, 0, 0, step, Math.fround(540.2)] },
});

test('gives one grid for the float32 and the decimal form of the same place', () => {
  const [a, b] = [roundGrid(makeVolume(-71.658203125, 1.5)), roundGrid(makeVolume(-71.658203, 1.4999999999999996))];
  expect(a.lpsFromVoxel.rows).toEqual(b.lpsFromVoxel.rows);
  expect(a.spacingMm).toEqual(b.spacingMm);
});
test('moves no voxel by more than a micrometre and keeps the samples', () => {
  const volume = makeVolume(-71.6587654, 0.4882812512);
  const { lpsFromVoxel, samplesHu } = roundGrid(volume);
  expect(samplesHu).toBe(volume.samplesHu);
  lpsFromVoxel.rows.forEach((v, i) => expect(Math.abs(v - volume.lpsFromVoxel.rows[i]!)).toBeLessThan(i % 4 === 3 ? 5.01e-4 : 5.01e-9)); // half of the last digit kept
});
