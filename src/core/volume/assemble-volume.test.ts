import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { replay, seed } from '../../../test/support/seed.ts';
import { expectAllWithin, expectWithin } from '../../../test/support/tolerance.ts';
import { add, completeBasis, norm, scale, sub, unit, type Vec3 } from '../math/vec3.ts';
import { applyToPoint } from '../units/affine.ts';
import { lpsPoint, lpsVector, makePoint } from '../units/frames.ts';
import type { SliceRecord } from './group-slices-types.ts';
import { assembleGrid, type VolumeGrid } from './assemble-volume.ts';

const ROUNDING = { relative: 1e-9, absolute: 1e-9, from: 'sums over some hundred slices, 2e-16 x 500 mm x margin' };

function makeStack(positions: readonly Vec3[], u: Vec3 = [1, 0, 0], v: Vec3 = [0, 1, 0]): SliceRecord[] {
  return positions.map((p, i) => ({
    sopClassUid: null, sopInstanceUid: String(i), studyUid: null, seriesUid: null, frameOfReferenceUid: null, modality: 'CT',
    imageType: [], patientKey: null, patientPosition: null, frameIndex: 0, rows: 40, columns: 30, pixelSpacingMm: [0.6, 0.5],
    sliceThicknessMm: 3, positionLps: lpsPoint(...p), rowDirLps: lpsVector(...u), columnDirLps: lpsVector(...v), phasePercent: null,
    triggerTimeMs: null, temporalPositionIndex: null, acquisitionNumber: null, acquisitionTime: null, instanceNumber: i,
    seriesNumber: null, seriesDescription: null, kernel: null,
  }));
}
const alongZ = (zMm: readonly number[]): Vec3[] => zMm.map((z) => [-100, -80, z]);
const evenly = (n: number, stepMm: number): number[] => Array.from({ length: n }, (_, k) => 50 + k * stepMm);
function gridOf(slices: readonly SliceRecord[]): VolumeGrid {
  const grid = assembleGrid(slices);
  if (!grid.ok) throw new Error(grid.failure.message);
  return grid.value;
}

describe(`assembleGrid (seed ${seed})`, () => {
  test('CT-56 takes column and row to LPS: first pixel spacing is between rows', () => {
    const grid = gridOf(makeStack(alongZ(evenly(10, 0.5))));
    const p = applyToPoint(grid.lpsFromVoxel, makePoint<'voxel'>(200, 150, 0));
    expectAllWithin([...p], [0, 10, 50], ROUNDING);
    expectAllWithin(grid.spacingMm, [0.5, 0.6, 0.5], ROUNDING);
  });
  test('places every slice of an oblique or tilted stack where its header says', () => {
    const real = (min: number, max: number) => fc.double({ min, max, noNaN: true });
    fc.assert(fc.property(real(-1, 1), real(-1, 1), real(0.2, 1), real(-0.35, 0.35), real(0.3, 2), fc.integer({ min: 3, max: 60 }), (x, y, z, tilt, stepMm, n) => {
      const normal = unit([x, y, z]);
      const { u, v } = completeBasis(normal);
      const step = scale(unit(add(normal, scale(v, Math.tan(tilt)))), stepMm); // slices slide along v: tilted gantry
      const positions = Array.from({ length: n }, (_, k): Vec3 => add([-120, 30, 400], scale(step, k)));
      const grid = gridOf(makeStack(positions, u, v));
      for (const [k, p] of positions.entries()) {
        expectAllWithin([...applyToPoint(grid.lpsFromVoxel, makePoint<'voxel'>(0, 0, k))], p, ROUNDING);
      }
      expectWithin(grid.shearDeg, (Math.abs(tilt) * 180) / Math.PI, { relative: 0, absolute: 1e-5, from: 'acos near 1 loses half the digits' });
    }), replay);
  });
  test('takes positions rounded to 0.1 mm as even and finds the true step', () => {
    const grid = gridOf(makeStack(alongZ(evenly(200, 0.625).map((z) => Math.round(z * 10) / 10))));
    expect(grid.dims[2]).toBe(200);
    expect(grid.breaks).toEqual([]);
    expectWithin(grid.stepMm, 0.625, { relative: 0, absolute: 2e-4, from: 'rounding of 0.05 mm over a line of 200 slices' });
  });
  test('takes the step from positions, never from the thickness', () => {
    expectWithin(gridOf(makeStack(alongZ(evenly(10, 1.5)))).stepMm, 1.5, ROUNDING); // thickness says 3
  });
  test('uses the longest whole run of a stack with missing slices, and says where', () => {
    const z = evenly(100, 1).filter((_, k) => k !== 30 && k !== 31);
    const grid = gridOf(makeStack(alongZ(z)));
    expect(grid.breaks).toEqual([{ kind: 'missing', afterMm: 79, gapMm: 3, missing: 2 }]);
    expect([grid.used[0], grid.dims[2]]).toEqual([30, 68]);
    expectAllWithin([...applyToPoint(grid.lpsFromVoxel, makePoint<'voxel'>(0, 0, 0))], [-100, -80, 82], ROUNDING);
  });
  test('breaks the stack where the picture centre jumps sideways', () => {
    const positions = alongZ(evenly(40, 1)).map((p, k): Vec3 => (k >= 25 ? [p[0] + 3, p[1], p[2]] : p));
    const grid = gridOf(makeStack(positions));
    expect(grid.breaks.map((b) => b.kind)).toEqual(['shifted']);
    expect(grid.dims[2]).toBe(25);
  });
  test('does not average uneven spacing: the run it uses is even', () => {
    const gaps = [4, 4, 1.08, 7, 7, 7, 7];
    const z = gaps.reduce((list, gap) => [...list, list.at(-1)! + gap], [0]);
    const grid = gridOf(makeStack(alongZ(z)));
    expect(grid.breaks.length).toBeGreaterThan(0);
    expectWithin(grid.stepMm, 7, ROUNDING);
    expectAllWithin(grid.gapRangeMm, [1.08, 7], ROUNDING);
  });
  test('refuses one slice, slices without a place, and a stack where no three lie evenly', () => {
    const codeOf = (slices: readonly SliceRecord[]) => { const grid = assembleGrid(slices); return grid.ok ? 'ok' : grid.failure.code; };
    expect(codeOf(makeStack(alongZ([0])))).toBe('one-slice');
    expect(codeOf([])).toBe('one-slice');
    expect(codeOf(makeStack(alongZ(evenly(3, 1))).map((s) => ({ ...s, positionLps: null })))).toBe('slice-without-position');
    expect(codeOf(makeStack(alongZ([0, 1, 3.5, 9.7, 20.1])))).toBe('spacing-uneven');
    expect(codeOf(makeStack(alongZ(evenly(40, 1).map((z, k) => z + 0.0015 * k * k))))).not.toBe('ok'); // spacing that drifts
  });
  test('does not depend on where the origin lies', () => {
    const grid = gridOf(makeStack(alongZ(evenly(20, 0.7))));
    const moved = gridOf(makeStack(alongZ(evenly(20, 0.7)).map((p) => add(p, [500, -300, 900]))));
    const shift = sub([moved.lpsFromVoxel.rows[3]!, moved.lpsFromVoxel.rows[7]!, moved.lpsFromVoxel.rows[11]!], [grid.lpsFromVoxel.rows[3]!, grid.lpsFromVoxel.rows[7]!, grid.lpsFromVoxel.rows[11]!]);
    expectWithin(norm(sub(shift, [500, -300, 900])), 0, ROUNDING);
    expectAllWithin(moved.spacingMm, grid.spacingMm, ROUNDING);
  });
});
