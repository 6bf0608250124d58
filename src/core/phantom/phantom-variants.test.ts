import { describe, expect, test } from 'vitest';
import { applyToPoint, invertAffine } from '../units/affine.ts';
import { lpsPoint } from '../units/frames.ts';
import type { CtVolume } from '../volume/volume-types.ts';
import { drawPhantom } from './draw-phantom.ts';
import { makeSeededShape } from './draw-seeded-shape.ts';
import { arrangeHeart } from './heart-anatomy.ts';
import { checkTruth, measureTruth } from './measure-truth.ts';
import type { PhantomScan } from './phantom-types.ts';
import {
  cutToRoot, delayContrast, fuseRightAndLeft, makeCalciumScoringScan, makeTwoSinuses, moveToPhase, openLeaflets, removeContrast, thickenSlices, truncateAbove,
} from './phantom-variants.ts';
import { makeTrainingShape, TRAINING_SCENARIOS } from './training-shapes.ts';

const SEED = 11;
const { shape, scan } = makeSeededShape(SEED);
const quiet: PhantomScan = { ...cutToRoot(shape, scan, 40), noise: { sdHu: 0, correlationMm: 0.5 }, contrastGradientHuPerCm: 0, spacingMm: [0.8, 0.8, 0.8], sliceThicknessMm: 0.8, dims: [50, 50, 50] };
const meanOf = (v: CtVolume): number => v.samplesHu.reduce((t, x) => t + x, 0) / v.samplesHu.length;
const at = (v: CtVolume, p: readonly [number, number, number]): number => {
  const q = applyToPoint(invertAffine(v.lpsFromVoxel)!, lpsPoint(...p)).map(Math.round) as [number, number, number];
  return v.samplesHu[(q[2] * v.dims[1] + q[1]) * v.dims[0] + q[0]]!;
};

describe(`variants of a phantom (seed ${SEED})`, () => {
  test('no contrast leaves blood at some 40 HU and calcium bright; late contrast pales the aorta', () => {
    const centre = shape.pose.positionLps;
    expect(at(drawPhantom(shape, removeContrast(quiet)).volume, centre)).toBeCloseTo(42, -1);
    expect(at(drawPhantom(shape, delayContrast(quiet)).volume, centre)).toBeCloseTo(155, -1);
  });

  test('scoring series: 3 mm slices over the same length, no contrast', () => {
    const s = makeCalciumScoringScan(scan);
    expect([s.spacingMm[2], s.sliceThicknessMm, s.contrastHu]).toEqual([3, 3, 42]);
    expect(Math.abs(s.dims[2] * 3 - scan.dims[2] * scan.spacingMm[2])).toBeLessThanOrEqual(1.5);
  });

  test('thick slices are the mean of the thin ones', () => {
    const thin = drawPhantom(shape, quiet).volume;
    const thick = drawPhantom(shape, thickenSlices(quiet, 4)).volume;
    expect(thick.dims[2]).toBe(10);
    expect(Math.abs(meanOf(thick) - meanOf(thin))).toBeLessThan(6); // ends of the field differ by half a slice
    // a thick slice is the mean of the five thin ones that it covers
    const plane = thin.dims[0] * thin.dims[1];
    for (let i = 0; i < plane; i += 7) {
      let sum = 0;
      for (let k = 20; k < 25; k++) sum += thin.samplesHu[k * plane + i]!;
      expect(Math.abs(thick.samplesHu[4 * plane + i]! - sum / 5)).toBeLessThanOrEqual(1.5); // rounding to whole HU
    }
  });

  test('a moving heart is smeared, a step shifts every second group, both keep the spine still', () => {
    const still = drawPhantom(shape, quiet).volume;
    const moved = drawPhantom(shape, { ...quiet, artefacts: { motionMm: [4, 0, 0] } }).volume;
    const stepped = drawPhantom(shape, { ...quiet, artefacts: { step: { slicesPerGroup: 10, shiftMm: [3, 0, 0] } } }).volume;
    expect(moved.samplesHu).not.toEqual(still.samplesHu);
    const plane = 2500;
    const isSame = (k: number): boolean => stepped.samplesHu.subarray(k * plane, (k + 1) * plane).every((v, i) => v === still.samplesHu[k * plane + i]);
    // away from the border of a group, by more than the reach of the blur
    expect([isSame(4), isSame(14), isSame(24)]).toEqual([true, false, true]);
  });

  test('streaks appear only where a lead lies in the field', () => {
    const wide = { ...quiet, spacingMm: [2, 2, 2] as const, dims: [60, 60, 20] as const };
    const withLead = { ...shape, hasLead: true };
    const plain = drawPhantom(withLead, wide).volume;
    const streaky = drawPhantom(withLead, { ...wide, artefacts: { streakHu: 150 } }).volume;
    expect(streaky.samplesHu).not.toEqual(plain.samplesHu);
    expect(drawPhantom(shape, { ...wide, artefacts: { streakHu: 150 } }).volume.samplesHu).toEqual(drawPhantom(shape, wide).volume.samplesHu);
  });

  test('a cut field ends where it is told to', () => {
    const cut = truncateAbove(shape, scan, 12);
    expect(cut.centreLps[2] + ((cut.dims[2] - 1) * cut.spacingMm[2]) / 2).toBeCloseTo(shape.pose.positionLps[2] + 12, 9);
  });

  test('diastole closes the leaflets and narrows the ring', () => {
    const rest = moveToPhase(shape, scan, 75);
    expect(rest.scan.phasePercent).toBe(75);
    const [a, b] = [measureTruth(arrangeHeart(shape)), measureTruth(arrangeHeart(rest.shape))];
    expect(b.basalRing.areaMm2).toBeLessThan(a.basalRing.areaMm2);
    expect(moveToPhase(shape, scan, 30).shape.leaflets).toEqual(shape.leaflets);
  });

  test('other valves keep sound truth and say what they are', () => {
    for (const [variant, kind] of [[fuseRightAndLeft(shape), 'fused-R-L'], [makeTwoSinuses(shape), 'two-sinus'], [openLeaflets(shape), 'three-leaflet']] as const) {
      const t = measureTruth(arrangeHeart(variant));
      expect(checkTruth(t)).toEqual([]);
      expect(t.valve).toBe(kind);
    }
  });

  test('every training root is sound', () => {
    for (const { name } of TRAINING_SCENARIOS) {
      const made = makeTrainingShape(name)!;
      expect(checkTruth(measureTruth(arrangeHeart(made.shape))), name).toEqual([]);
    }
    expect(makeTrainingShape('no such root')).toBeNull();
  });
});
