import { describe, expect, test } from 'vitest';
import { seed } from '../../../test/support/seed.ts';
import { expectWithin } from '../../../test/support/tolerance.ts';
import { normalAt } from '../math/random.ts';
import { assessPixels } from './assess-scan-pixels.ts';
import { measureCtStatistics } from './ct-statistics.ts';
import type { CtVolume } from './volume-types.ts';

const NX = 100, NY = 100, NZ = 60;
type Paint = (x: number, y: number, z: number) => number;

/** A box of 100 x 100 x 60 mm around 0 with white noise; the same noise for the same seed. */
function drawBox(paint: Paint, noiseSdHu: number, shiftMm: (k: number) => number = () => 0, noiseSeed: number = seed): CtVolume {
  const samplesHu = new Int16Array(NX * NY * NZ);
  let at = 0;
  for (let k = 0; k < NZ; k++) for (let j = 0; j < NY; j++) for (let i = 0; i < NX; i++) {
    samplesHu[at] = Math.round(paint(i - NX / 2 - shiftMm(k), j - NY / 2, k - NZ / 2) + noiseSdHu * normalAt(noiseSeed, at, 0));
    at++;
  }
  return { samplesHu, dims: [NX, NY, NZ], spacingMm: [1, 1, 1], paddingHu: null, lpsFromVoxel: { to: 'lps', from: 'voxel', rows: [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0] } };
}
/** Soft body of 45 mm radius in air with a straight tube of 14 mm radius. */
const tubeOf = (hu: number): Paint => (x, y) => (x * x + y * y < 14 * 14 ? hu : x * x + y * y < 45 * 45 ? 50 : -1000);
/** Marrow of 14 mm radius behind a cortex of 2.5 mm. */
const bone: Paint = (x, y, z) => {
  const r = Math.hypot(x, y);
  return r < 14 ? 230 : r < 16.5 ? 1100 : tubeOf(50)(x, y, z);
};
const codesOf = (volume: CtVolume): string[] => assessPixels(volume, measureCtStatistics(volume)).map((f) => f.code);

describe(`measureCtStatistics (seed ${seed})`, () => {
  test('finds attenuation and noise of a tube of blood', () => {
    for (const noiseSdHu of [10, 20, 40]) {
      const statistics = measureCtStatistics(drawBox(tubeOf(380), noiseSdHu));
      expectWithin(statistics.contrastHu!.valueHu, 380, { relative: 0, absolute: 3, from: 'median of some thousand block means' });
      expectWithin(statistics.noiseHu!.valueHu, noiseSdHu, { relative: 0.08, absolute: 0.3, from: 'spread of the SD of 81 samples, lower 70 % taken; whole HU' });
    }
  });
  test('answers the same for the same picture turned or mirrored', () => {
    const paint: Paint = (x, y, z) => tubeOf(350)(x - 6, y, z);
    const a = measureCtStatistics(drawBox(paint, 15));
    const b = measureCtStatistics(drawBox((x, y, z) => paint(-x, y, z), 15));
    const c = measureCtStatistics(drawBox((x, y, z) => paint(y, x, z), 15));
    for (const other of [b, c]) {
      expectWithin(other.contrastHu!.valueHu, a.contrastHu!.valueHu, { relative: 0, absolute: 2, from: 'other noise under each block' });
      expectWithin(other.noiseHu!.valueHu, a.noiseHu!.valueHu, { relative: 0.05, absolute: 0, from: 'other noise under each patch' });
    }
  });
  test('finds no pool without contrast, and does not take marrow for blood', () => {
    expect(codesOf(drawBox(tubeOf(45), 15))).toEqual(['contrast-none']);
    expect(codesOf(drawBox(bone, 15))).toEqual(['contrast-none']);
  });
  test('grades contrast just under, at and over its limits', () => {
    expect(codesOf(drawBox(tubeOf(120), 10))).toEqual(['contrast-none']);
    expect(codesOf(drawBox(tubeOf(185), 10))).toEqual(['contrast-low']);
    expect(codesOf(drawBox(tubeOf(225), 10))).toEqual(['contrast-modest']);
    expect(codesOf(drawBox(tubeOf(260), 10))).toEqual([]);
  });
  test('doubts high noise, and stops where blood drowns in it', () => {
    const findings = (hu: number, sd: number) => { const v = drawBox(tubeOf(hu), sd); return assessPixels(v, measureCtStatistics(v)).find((f) => f.code === 'noise-high')?.severity; };
    expect(findings(400, 40)).toBeUndefined();
    expect(findings(400, 65)).toBe('doubt');
    expect(findings(300, 100)).toBe('stop');
  });
  test('notices a sideways step between two slices and where it is', () => {
    // Edges as a scanner draws them: blurred over about 2 mm.
    const step = (from: number, to: number, at: number) => from + (to - from) / (1 + Math.exp(-at / 0.7));
    const slanted: Paint = (x, y, z) => {
      const r = Math.hypot(x - 0.1 * z, y);
      return r < 30 ? step(380, 50, r - 14) : step(50, -1000, r - 45);
    };
    const stepped = drawBox(slanted, 15, (k) => (k > 31 ? 2 : 0));
    const [worst] = measureCtStatistics(stepped).steps;
    expect(worst!.slice).toBe(31);
    expectWithin(worst!.shiftMm, 2, { relative: 0.3, absolute: 0, from: 'one Gauss-Newton step: enough to notice' });
    expect(codesOf(stepped)).toEqual(['motion-step']);
    expect(codesOf(drawBox(slanted, 15))).toEqual([]); // the same slant without a step
  });
  test('counts metal, and not a little calcium', () => {
    const withBall = (radiusMm: number): Paint => (x, y, z) => (Math.hypot(x - 30, y, z) < radiusMm ? 3000 : tubeOf(380)(x, y, z));
    expect(codesOf(drawBox(withBall(10), 10))).toContain('metal-heavy'); // 4.2 mL
    expect(codesOf(drawBox(withBall(5), 10))).toEqual([]); // 0.5 mL
  });
  test('says nothing of an empty picture instead of failing', () => {
    const statistics = measureCtStatistics(drawBox(() => -1000, 0));
    expect([statistics.contrastHu, statistics.noiseHu, statistics.brightestHu]).toEqual([null, null, null]);
  });
});
