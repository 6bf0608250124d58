import { describe, expect, test } from 'vitest';
import { expectAllWithin } from '../../../test/support/tolerance.ts';
import type { Vec3 } from '../math/vec3.ts';
import { normalAt } from '../math/random.ts';
import { compareBone } from './compare-bone.ts';
import type { CtVolume } from './volume-types.ts';

/** A body of 40 HU with two columns of bone at the back, jointed every 24 mm where `isJointed`, seen through a soft edge. */
function drawBody(spacingMm: readonly [number, number, number], shiftMm: Vec3, options: { bloodHu: number; isJointed: boolean; noiseHu?: number }): CtVolume {
  const sizeMm = [150, 130, 110] as const;
  const dims = spacingMm.map((s, axis) => Math.round(sizeMm[axis]! / s)) as unknown as [number, number, number];
  const samplesHu = new Int16Array(dims[0] * dims[1] * dims[2]);
  const low = sizeMm.map((mm) => -mm / 2) as unknown as Vec3;
  const soft = (mm: number): number => 1 / (1 + Math.exp(mm / 0.6));
  for (let k = 0, o = 0; k < dims[2]; k++) {
    for (let j = 0; j < dims[1]; j++) {
      for (let i = 0; i < dims[0]; i++, o++) {
        const [x, y, z] = [low[0] + i * spacingMm[0] - shiftMm[0], low[1] + j * spacingMm[1] - shiftMm[1], low[2] + k * spacingMm[2] - shiftMm[2]];
        const joint = options.isJointed ? soft(Math.abs(z - 24 * Math.round(z / 24)) - 2.5) : 0;
        const bone = Math.max(soft(Math.hypot(x - 22, y - 28) - 8), soft(Math.hypot(x + 22, y - 30) - 6)) * (1 - joint);
        const blood = soft(Math.hypot(x, y + 40) - 12);
        const hu = 40 + 660 * bone + (options.bloodHu - 40) * blood + (options.noiseHu ?? 0) * normalAt(5, o, 0);
        samplesHu[o] = Math.round(hu);
      }
    }
  }
  const rows = [spacingMm[0], 0, 0, low[0], 0, spacingMm[1], 0, low[1], 0, 0, spacingMm[2], low[2]];
  return { samplesHu, dims, spacingMm, paddingHu: null, lpsFromVoxel: { to: 'lps', from: 'voxel', rows } };
}
const HEART: Vec3 = [0, -40, 0];
const first = drawBody([1, 1, 1], [0, 0, 0], { bloodHu: 400, isJointed: true });
const second = (shiftMm: Vec3, isJointed = true): CtVolume => drawBody([1, 1, 3], shiftMm, { bloodHu: 42, isJointed, noiseHu: 20 });

describe('compareBone', () => {
  test('finds how far the second series lies from the first, whatever the contrast', () => {
    for (const shift of [[0, 0, 0], [2.4, -3.3, 0], [-1.2, 0.5, 4.5]] as const) {
      const found = compareBone(first, second(shift), HEART, 40)!;
      expectAllWithin(found.shiftMm as unknown as Vec3, shift, { relative: 0, absolute: 0.5, from: 'parabola on a grid of 1 mm; a sixth of a slice of 3 mm along the table' });
      expect(found.likeness).toBeGreaterThan(0.9);
    }
  });
  test('does not name a shift along bone without an edge', () => {
    const smooth = drawBody([1, 1, 1], [0, 0, 0], { bloodHu: 400, isJointed: false });
    const found = compareBone(smooth, second([2, 0, 5], false), HEART, 40)!;
    expect(found.shiftMm[2]).toBeNull();
    expectAllWithin([found.shiftMm[0]!, found.shiftMm[1]!], [2, 0], { relative: 0, absolute: 0.3, from: 'parabola on a grid of 1 mm' });
  });
  test('says nothing where no bone shows, or none far enough from the heart', () => {
    const boneless = { ...first, samplesHu: first.samplesHu.map((v) => Math.min(v, 200)) };
    expect(compareBone(first, boneless, HEART, 40)).toBeNull();
    expect(compareBone(first, second([0, 0, 0]), HEART, 200)).toBeNull();
  });
  test('finds little likeness where the bones differ', () => {
    const other = drawBody([1, 1, 3], [30, -26, 0], { bloodHu: 42, isJointed: true });
    const found = compareBone(first, other, [0, 200, 0], 10);
    expect(found === null || found.likeness < 0.4).toBe(true);
  });
});
